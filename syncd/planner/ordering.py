"""Directories whose entries are in playing order, for players that play in that order. Pure.

A new name comes into the first gap of its folder that is wide enough (``capacity.py``), so the
order of a folder's entries depends on its past. What lies out of order is taken aside with the
files that move, and takes its place again in playing order: two renames a file, and no byte of it
is copied. What is taken aside in each folder is what stands behind the first entry that is out of
order; where gaps before it would still come in between, all of it.

In order are the files of ours in each folder, and the folders that hold files of ours. Foreign
files stay where they are, and where gaps lie between them a folder may not come out in order: that
is told.
"""

from collections.abc import Iterable
from dataclasses import replace

from syncd.model import CardPath
from syncd.planner.capacity import FileSystem, Folder, FolderSeen, Geometry
from syncd.planner.card_state import CardState
from syncd.planner.names import fold
from syncd.planner.places import folders_of
from syncd.planner.plan import Action, Plan, Step
from syncd.planner.planning import publish_step

WHY = "The player plays in the order of the directory: it takes its turn anew."


def in_directory_order(
    plan: Plan, card: CardState, geometry: Geometry, debris: Iterable[str] = ()
) -> Plan:
    """*plan*, with what is out of playing order in its folders taken aside and placed again.

    *geometry* must have every folder in which files of ours lie or come; *debris* are files of ours
    that are not whole, and go first of all. What does not come in order is told in the plan's
    cautions.
    """
    if not geometry.system.known:
        return plan
    if plan.steps:
        plan = replace(plan, ordered=True)
    ordering = _Ordering(plan, card, geometry, debris)
    moved, left = ordering.moved()
    if left:
        several = f" (and {len(left) - 1} more)" if len(left) > 1 else ""
        caution = (
            f"The entries of the folder {left[0] or '/'}{several} do not come in playing order: "
            "files that are not syncd's lie between them. Move those to another folder."
        )
        plan = replace(plan, cautions=(*plan.cautions, caution))
    if moved or ordering.replaced:
        return _with_moves(plan, card, moved, ordering.replaced)
    return plan


class _Ordering:
    def __init__(
        self, plan: Plan, card: CardState, geometry: Geometry, debris: Iterable[str]
    ) -> None:
        self.system: FileSystem = geometry.system
        self.cluster_bytes = geometry.cluster_bytes
        self.order = [placement.path for placement in plan.end]
        self.staying = plan.staying
        steps = plan.steps
        actions = [step.action for step in steps]
        removed = {step.target for step in steps if step.action is Action.REMOVE}
        written = {step.target for step in steps if step.action is Action.WRITE}
        # What is replaced goes before anything takes its place, so that its entries are free.
        self.replaced = frozenset(entry.path for entry in card.entries if entry.path in written)
        self.removed = removed | self.replaced
        self.debris = frozenset(debris)
        self.entered: set[str] = set()
        """The folders to which a name comes in the last model that was made."""
        self.renamed = {step.origin for step in steps if step.origin is not None}
        # What is removed behind the last publishing leaves its gaps when all else is in place.
        self.late = bool(actions) and actions[-1] is Action.REMOVE and not self.replaced
        self.wished = _wished(self.order)
        self.below: dict[str, set[CardPath]] = {}
        for path in self.staying:
            for folder in ("", *folders_of([path])):
                self.below.setdefault(folder, set()).add(path)
        self.folders: dict[str, FolderSeen] = {}
        for at, seen in sorted(geometry.folders.items()):  # each after the one that it is in
            above, _, name = at.rpartition("/")
            if not at or (above in self.folders and name in self.folders[above].names):
                self.folders[at] = self._spelled(at, seen)

    def _spelled(self, path: str, seen: FolderSeen) -> FolderSeen:
        """*seen* with its names spelled as the plan does, which may differ in case."""
        ours = {fold(name): name for name in self.wished.get(path, ())}
        names = {ours.get(fold(name), name): at for name, at in seen.names.items()}
        return FolderSeen(seen.clusters, names)

    def moved(self) -> tuple[set[CardPath], list[str]]:
        """The files to be taken aside, and the folders that do not come in order even so."""
        hopeless: list[str] = []
        while True:
            moved, left = self._tried(frozenset(hopeless))
            if not left:
                return moved, sorted(hopeless)
            hopeless += left

    def _tried(self, hopeless: frozenset[str]) -> tuple[set[CardPath], list[str]]:
        moved: set[CardPath] = set()
        whole: set[str] = set()
        while True:
            left: list[str] = []
            news: set[CardPath] = set()
            for folder, behind in self._wrong(moved).items():
                if folder in hopeless:
                    continue
                if behind is None or not behind - moved:
                    if folder in whole:
                        left.append(folder)
                        continue
                    whole.add(folder)
                    behind = self.below.get(folder, set())
                news |= behind
            if left or not news:
                return moved, left
            moved |= news

    def _wrong(self, moved: set[CardPath]) -> dict[str, set[CardPath] | None]:
        """The folders out of order at the end, with what stands behind the first that is.

        None where that would not help, so that all of the folder has to go.
        """
        model = self._model(moved)
        wrong: dict[str, set[CardPath] | None] = {}
        for folder, wished in self.wished.items():
            found = [name for name in model[folder].names if name in wished]
            gains = folder in self.entered  # a name, be it one that was taken aside
            if gains and not model[folder].gaps_known and self.below.get(folder, set()) - moved:
                wrong[folder] = None  # a gap that was not seen may lie before them
                continue
            unseen = not self.system.lists_in_order and not gains  # believed to be as we left it
            if unseen or found == list(wished):
                continue
            same = 0
            for one, other in zip(found, wished, strict=False):
                if one != other:
                    break
                same += 1
            behind: set[CardPath] = set()
            for name in found[same:]:
                path = CardPath(f"{folder}/{name}" if folder else name)
                behind |= self.below.get(path, set())
                if path in self.staying:
                    behind.add(path)
            wrong[folder] = behind
        return wrong

    def _model(self, moved: set[CardPath]) -> dict[str, Folder]:
        """The folders at the end, with *moved* taken aside and placed again."""
        folders = {
            path: Folder.seen(self.system, self.cluster_bytes, seen, root=not path)
            for path, seen in self.folders.items()
        }
        self.entered = set()
        late = self.removed if self.late and not moved else frozenset()
        early: set[str] = (self.removed - late) | self.renamed | self.debris | moved
        for path in early:
            _leave(folders, path)
        for folder in sorted(folders_of(early), key=len, reverse=True):
            if folder in folders and not folders[folder].names:
                del folders[folder]
                _leave(folders, folder)
        for path in self.order:
            if path in self.staying and path not in moved:
                continue
            self._enter(folders, path)
        for path in late:
            _leave(folders, path)
        return folders

    def _enter(self, folders: dict[str, Folder], path: str) -> None:
        folder, _, name = path.rpartition("/")
        if folder not in folders:
            self._enter(folders, folder)
            folders[folder] = Folder(self.system, self.cluster_bytes)
        if name not in folders[folder]:
            folders[folder].add(name)
            self.entered.add(folder)


def _leave(folders: dict[str, Folder], path: str) -> None:
    folder, _, name = path.rpartition("/")
    if folder in folders and name in folders[folder]:
        folders[folder].remove(name)


def _wished(order: Iterable[str]) -> dict[str, dict[str, None]]:
    """The names of each folder in the order in which they are first played."""
    wished: dict[str, dict[str, None]] = {}
    for path in order:
        while True:
            folder, _, name = path.rpartition("/")
            names = wished.setdefault(folder, {})
            if name in names:
                break
            names[name] = None
            if not folder:
                break
            path = folder
    return wished


def _with_moves(
    plan: Plan, card: CardState, moved: set[CardPath], replaced: frozenset[CardPath]
) -> Plan:
    """*plan* with renames of *moved* to where they are, while no catalogue names them."""
    by_action: dict[Action, list[Step]] = {action: [] for action in Action}
    for step in plan.steps:
        by_action[step.action].append(step)
    places = {placement.path: placement for placement in plan.end}
    renames = [
        Step(Action.RENAME, path, places[path].size, WHY, origin=path)
        for path in places
        if path in moved
    ]
    staying = plan.staying - moved
    count = sum(path in staying for path in places)
    interim = []
    if card.catalogue_key is not None:
        why = "Before files that it names are moved or removed, it names only the others."
        interim = [publish_step(plan.catalogue_key, count, why)]
    final = by_action[Action.PUBLISH][-1:] or [
        publish_step(plan.catalogue_key, len(places), "What is on the card now.")
    ]
    actions = [step.action for step in plan.steps]
    writes = by_action[Action.WRITE]
    tight = writes and Action.REMOVE in actions[: actions.index(Action.WRITE)]
    removes = by_action[Action.REMOVE]
    gone = {step.target for step in removes}
    removes += [
        Step(Action.REMOVE, entry.path, entry.size, WHY)
        for entry in card.entries
        if entry.path in replaced and entry.path not in gone
    ]
    moves = [*interim, *removes, *by_action[Action.RENAME], *renames]
    at_home = [*by_action[Action.MEASURE], *by_action[Action.PRESS]]
    steps = [*at_home, *moves, *writes] if tight else [*at_home, *writes, *moves]
    return replace(plan, steps=(*steps, *final), staying=frozenset(staying), ordered=True)


def folders_played(plan: Plan, card: CardState) -> set[str]:
    """The folders whose order counts: those in which files of ours lie or come, and the root."""
    paths = [*(placement.path for placement in plan.end), *(entry.path for entry in card.entries)]
    return {"", *folders_of(paths)}
