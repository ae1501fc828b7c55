"""The limit of the store: what still goes into it, and what goes out at an update's end."""

from collections.abc import Callable, Collection
from dataclasses import dataclass

from syncd.errors import CardProblem
from syncd.planner.plan import Placement, Plan, pressing_id
from syncd.transcoder.store import PressingKey, Store


@dataclass
class StoreLimit:
    """*most* bytes in *store*, None for no limit.

    *needed_elsewhere* tells which pressings other cards hold that are plugged in; it raises
    CardProblem where that cannot be known.
    """

    store: Store
    most: int | None
    needed_elsewhere: Callable[[], Collection[PressingKey]]

    def fitting(self, plan: Plan) -> tuple[Placement, ...]:
        """Those that *plan* presses, as far as the limit allows."""
        if self.most is None or not plan.presses:
            return plan.presses
        room = self.most - sum(self.store.sizes().values())
        fitting = []
        for placement in plan.presses:
            room -= placement.size
            if room < 0:
                break
            fitting.append(placement)
        return tuple(fitting)

    def keep(self, plan: Plan) -> str | None:
        """Trim the store, but for what cards need that are plugged in; what there is to tell."""
        if self.most is None:
            return None
        size = self.store.size()
        if size.pressing_bytes + size.picture_bytes <= self.most:
            return None
        needed = {
            pressing_id(placement)
            for placement in plan.end
            if placement.recipe is not None and placement.recipe.action != "carry"
        }
        try:
            needed.update(self.needed_elsewhere())
        except CardProblem as problem:
            return f"Nothing was removed from the store. {problem}"
        self.store.trim(self.most, needed)
        return None
