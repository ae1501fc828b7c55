"""Pressings made while their cards are away, so that plugging one in means copying only.

For each known card the plan is made from what it held when it was last here; what that plan lacks
is checked, measured and pressed into the store. Runs in a working process, at low priority, and is
given up at any moment.
"""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from syncd import at_home, cards
from syncd.applier.folder_volume import FolderVolume
from syncd.daemon.household import JOBS_SCRATCH
from syncd.errors import SyncdError
from syncd.library.index import LibraryIndex
from syncd.planner.capacity import UNKNOWN, Geometry
from syncd.planner.card_state import CardState
from syncd.remembered import recall
from syncd.settings import Home
from syncd.updating.values import Progress, Target


class _AwayVolume(FolderVolume):
    """Stands for the volume of a card that is away: nothing of it can be asked or written."""

    def __init__(self, name: str, state: CardState) -> None:
        self.name = name
        self.root = Path("/nowhere")
        self._state = state

    def geometry(self, folders: Iterable[str]) -> Geometry:
        return Geometry(UNKNOWN, self._state.cluster_bytes)


def press_ahead(
    home: Home,
    plugged: frozenset[str],
    progress: Callable[..., None],
    begun: Callable[[], None],
) -> dict[str, Any]:
    """Press what the cards that are not *plugged* in will need; tell what was done.

    A card that was never here since it was enrolled waits for its first visit. What is wrong with
    one card's profile or programme keeps no other card waiting. *begun* is called once the library
    was read. Raises SetupProblem when index or store fail.
    """
    problems: dict[str, str] = {}
    pressed = 0
    away = [
        (record, state)
        for record in cards.records(home)
        if record.id not in plugged and (state := recall(home, record.id)) is not None
    ]
    if not away:
        begun()
        return {"pressed": 0, "problems": {}}
    with LibraryIndex(home.made().index_file) as index:
        library = index.snapshot()
    begun()
    with at_home.updater(home, library, scratch=JOBS_SCRATCH) as work:
        for record, state in away:

            def told(now: Progress, name: str = record.name) -> None:
                progress(
                    card=name,
                    stage=now.stage,
                    done=now.done,
                    total=now.total,
                    bytes_done=now.bytes_done,
                    bytes_total=now.bytes_total,
                    item=now.item,
                )

            work.shop.report = told
            try:
                target = Target(
                    _AwayVolume(record.name, state),
                    record.read_profile(),
                    record.read_programme(),
                    state.largest_file_bytes,
                )
                pressed += work.prepare(target, state)
            except SyncdError as problem:
                problems[record.name] = str(problem)
    return {"pressed": pressed, "problems": problems}
