"""Folders that would hold too much: what is more goes into numbered folders beside them. Pure.

A player may show so many entries of a folder and no more (profile, ``entries_a_folder``), and FAT
holds at most 65 536 directory entries in one, several of which a long name takes (FAT specification
1.03). Files and folders count, the listener's own among them. Who lies in a numbered folder already
stays there, so that a newcomer moves nothing.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate, count

from syncd.planner.capacity import FAT32
from syncd.planner.names import fold
from syncd.planner.places import is_variant, variant

MOST_ENTRIES = 65_536 - 2
"""Directory entries of a folder on FAT, beside "." and ".."."""
MOST_OF_A_NAME = FAT32.fixed_entries + 20
"""Directory entries that the longest name takes."""
_NUMBER_UNITS = " (99)"


@dataclass(frozen=True, slots=True)
class Wish:
    """Files that wish for *folder*: their names, and where they lie now, if anywhere."""

    folder: str
    names: Sequence[str]
    now: str | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """The first *count* names that no part before has, and the folder that they get."""

    folder: str
    count: int


def spread(
    wishes: Sequence[Wish], foreign: Iterable[str], entries_a_folder: int | None
) -> list[list[Part]]:
    """For each of *wishes* its folder, or several where one cannot hold it alone.

    *entries_a_folder* is the most entries that the player takes in one, None where it takes any.
    *foreign* are the paths of files that are not ours.
    """
    spreading = _Spreading(foreign, entries_a_folder)
    # Who lies well comes first.
    order = sorted(range(len(wishes)), key=lambda at: not _lies_well(wishes[at]))
    found = {at: spreading.parts(wishes[at]) for at in order}
    return [found[at] for at in range(len(wishes))]


def may_be_too_many(files: Counter[str]) -> bool:
    """Whether any folder could have more entries than FAT holds, with so many *files* in each.

    A quick look, for it seldom has: then there is nothing to spread without a player's limit.
    """
    most = MOST_ENTRIES // (MOST_OF_A_NAME + 1)
    if max(files.values(), default=0) > most:
        return True
    level = set(files)
    while len(level) > most:
        above = Counter(folder.rpartition("/")[0] for folder in level if folder)
        if max(above.values(), default=0) > most:
            return True
        level = set(above)
    return False


def _lies_well(wish: Wish) -> bool:
    if wish.now is None:
        return False
    now, wished = wish.now.split("/"), wish.folder.split("/")
    if len(now) == len(wished) + 1 and _is_more(now[0]):  # beside what is in the root itself
        now = now[1:]
    return len(now) == len(wished) and all(map(is_variant, now, wished))


def _is_more(name: str) -> bool:
    return is_variant(f"x {name}", "x") and name.startswith("(")


class _Spreading:
    def __init__(self, foreign: Iterable[str], limit: int | None) -> None:
        self._limit = limit
        self._inside: dict[str, set[str]] = {}
        self._entries: dict[str, int] = {}
        for path in foreign:
            self._register(path)

    def parts(self, wish: Wish) -> list[Part]:
        names = list(wish.names)
        if wish.now is not None and _lies_well(wish) and self._has_room(wish.now, names):
            self._fill(wish.now, names)
            return [Part(wish.now, len(names))]
        most = len(names)
        if self._limit is not None:
            most = min(most, self._limit)
        parts = []
        while names:
            taken = accumulate(map(_weight, names[:most]))
            some = names[: sum(entries <= MOST_ENTRIES for entries in taken)]
            folder = self._seat(tuple(wish.folder.split("/")) if wish.folder else (), some)
            self._fill(folder, some)
            parts.append(Part(folder, len(some)))
            del names[: len(some)]
        return parts

    def _seat(self, wished: tuple[str, ...], names: list[str]) -> str:
        """The first folder of that wish, by number, in which there is room for *names*."""
        for number in count(1):
            if wished:
                name = variant(wished[-1], number)
                above = self._seat(wished[:-1], [name])
                folder = f"{above}/{name}" if above else name
            else:
                folder = "" if number == 1 else f"({number})"
            if self._has_room(folder, names):
                self._register(folder)
                return folder
        raise AssertionError("the numbers do not end")

    def _has_room(self, folder: str, names: list[str]) -> bool:
        key = fold(folder)
        inside = self._inside.get(key, set())
        new = [name for name in names if fold(name) not in inside]
        if self._limit is not None and len(inside) + len(new) > self._limit:
            return False
        return self._entries.get(key, 0) + sum(map(_weight, new)) <= MOST_ENTRIES

    def _register(self, path: str) -> None:
        """Count *path*, and the folders that it is in, each in the folder above."""
        while path:
            above, _, name = path.rpartition("/")
            inside = self._inside.setdefault(fold(above), set())
            if fold(name) in inside:
                return
            inside.add(fold(name))
            self._entries[fold(above)] = self._entries.get(fold(above), 0) + _weight(name)
            path = above

    def _fill(self, folder: str, names: list[str]) -> None:
        """Count files in *folder*; each is one of its own, be its name there already or not."""
        self._register(folder)
        key = fold(folder)
        inside = self._inside.setdefault(key, set())
        for name in names:
            inside.add(f"{fold(name)}/{len(inside)}")
        self._entries[key] = self._entries.get(key, 0) + sum(map(_weight, names))


def _weight(name: str) -> int:
    """Directory entries of *name* on FAT, with a number behind it if need be."""
    return FAT32.entries(name + _NUMBER_UNITS)
