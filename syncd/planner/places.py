"""Final places on a card: no two names that are one to a case-blind system, nothing foreign hit.

Pure. Each group of tracks wishes for a folder and names in it (``layout.py``). Where wishes meet,
a number in brackets tells them apart; who already has a place on the card keeps it, so that a
newcomer never renames what was there.
"""

import re
from collections.abc import Iterable, Sequence

from syncd.model import CardPath
from syncd.planner.names import fold

OWN_FOLDER = "SYNCD"
"""The folder of syncd's own files on a card; no music goes there."""

_NUMBERED = re.compile(r"^(.*) \((\d+)\)$", re.DOTALL)


def _split(path: str) -> tuple[str, str]:
    folder, _, name = path.rpartition("/")
    return folder, name


def folders_of(paths: Iterable[str]) -> set[str]:
    """All folders in which *paths* lie."""
    folders: set[str] = set()
    for path in paths:
        above = path.rpartition("/")[0]
        while above and above not in folders:
            folders.add(above)
            above = above.rpartition("/")[0]
    return folders


def variant(name: str, number: int) -> str:
    """*name* with *number* behind it, from the second one on."""
    return name if number == 1 else f"{name} ({number})"


def is_variant(name: str, base: str) -> bool:
    """Whether *name* is *base*, be it with a number behind it."""
    if name == base:
        return True
    found = _NUMBERED.match(name)
    return found is not None and found.group(1) == base and int(found.group(2)) >= 2


class Places:
    """Gives out folders and file names on one card.

    *foreign* are the paths of files on the card that are not ours. When case is ignored, no place
    that is given out equals one of them or lies below one, no file is where a folder is or comes,
    and nothing is in syncd's own folder. All folders must be given out before the first file.
    """

    def __init__(self, foreign: Iterable[str], empty_folders: Iterable[str] = ()) -> None:
        self._foreign = {fold(path) for path in foreign}
        self._empty_folders = {fold(path) for path in empty_folders}
        self._folders = folders_of(self._foreign) | self._empty_folders
        self._own = fold(OWN_FOLDER)
        self._folder_owner: dict[str, str] = {}
        self._spelling: dict[str, str] = {}
        self._remembered: set[str] = set()
        self._taken: set[str] = set()
        self.in_the_way: set[str] = set()
        """Folded paths of foreign files because of which a track got another name than wished."""

    def remember(self, wished: str, current: str) -> None:
        """Keep the spelling of the folder *current*, as far as whoever lies there wishes for it.

        To be told of all who are on the card before folders are given out: where two wish for one
        folder in different spellings, the one that is there stays.
        """
        if current == wished:
            folder = current
            while folder and folder not in self._remembered:
                self._remembered.add(folder)
                self._spelling.setdefault("\0" + fold(folder), folder)
                folder = folder.rpartition("/")[0]
            return
        folder = ""
        for name, base in zip(current.split("/"), wished.split("/"), strict=False):
            if not is_variant(name, base):
                return
            folder = f"{folder}/{name}" if folder else name
            self._spelling.setdefault("\0" + fold(folder), folder)

    def stays(self, wished: str, current: str | None) -> bool:
        """Whether files in *current* lie where they wish to lie, or beside it under a number."""
        if current is None or current == wished:
            return current is not None
        head, name = _split(current)
        base_head, base = _split(wished)
        return is_variant(name, base) and (
            head == base_head or head == (self._spelled(base_head) if base_head else "")
        )

    def folder(self, wished: str, owner: str | None, current: str | None) -> str:
        """The folder for *owner*, near *wished*; *current* is where its files lie now, if anywhere.

        With *owner* None the folder is shared with whoever else wishes for it.
        """
        if not wished:
            return wished
        if (
            owner is not None
            and current is not None
            and current != wished
            and self.stays(wished, current)
            and self._is_free(current, owner)
        ):
            return self._claim(current, owner)
        number = 1
        while not self._is_free(variant(wished, number), owner):
            number += 1
        return self._claim(variant(wished, number), owner)

    def _is_free(self, folder: str, owner: str | None) -> bool:
        if owner is None:
            return True
        holder = self._folder_owner.get(fold(folder))
        return holder is None or holder == owner

    def _claim(self, folder: str, owner: str | None) -> str:
        spelled = self._spelled(folder)
        if owner is not None:
            self._folder_owner[fold(folder)] = owner
        return spelled

    def _spelled(self, folder: str) -> str:
        """*folder* with each component spelled as first given out, avoiding foreign files."""
        known = self._spelling.get(folder)
        if known is not None:
            return known
        head, name = _split(folder)
        above = self._spelled(head) if head else ""
        number = 1
        while True:
            tried = variant(name, number)
            path = f"{above}/{tried}" if above else tried
            folded = fold(path)
            if folded not in self._foreign and folded != self._own:
                break
            self.in_the_way.add(folded)
            number += 1
        self._folders.add(folded)
        spelled = self._spelling.setdefault("\0" + folded, path)
        self._spelling[folder] = spelled
        return spelled

    def files(
        self, folder: str, names: Sequence[str], current: Sequence[str | None]
    ) -> list[CardPath]:
        """Places in *folder* for files wishing for *names*; *current* are their paths now."""
        return self.fill(folder, names, self.keep(folder, names, current))

    def keep(
        self, folder: str, names: Sequence[str], current: Sequence[str | None]
    ) -> list[CardPath | None]:
        """The places of those that lie well where they are, None for the others."""
        given: list[CardPath | None] = [None] * len(names)
        taken, foreign, folders = self._taken, self._foreign, self._folders
        for index, (name, now) in enumerate(zip(names, current, strict=True)):
            if now is None:
                continue
            now_folder, _, now_name = now.rpartition("/")
            if now_folder != folder:
                continue
            if now_name == name or self._is_name_variant(now_name, name):
                folded = fold(now)
                if folded not in taken and folded not in foreign and folded not in folders:
                    self._taken.add(folded)
                    given[index] = CardPath(now)
        return given

    def fill(
        self, folder: str, names: Sequence[str], kept: Sequence[CardPath | None]
    ) -> list[CardPath]:
        """Places for those that ``keep`` gave none; after all that are kept are known."""
        return [
            self._next_free(folder, name) if path is None else path
            for name, path in zip(names, kept, strict=True)
        ]

    @staticmethod
    def _is_name_variant(name: str, base: str) -> bool:
        stem, dot, suffix = name.rpartition(".")
        base_stem, base_dot, base_suffix = base.rpartition(".")
        return dot == base_dot and suffix == base_suffix and is_variant(stem, base_stem)

    def _next_free(self, folder: str, name: str) -> CardPath:
        stem, dot, suffix = name.rpartition(".")
        number = 1
        while True:
            tried = f"{variant(stem, number)}{dot}{suffix}" if dot else variant(suffix, number)
            path = f"{folder}/{tried}" if folder else tried
            folded = fold(path)
            if self._is_empty(folded):
                self._taken.add(folded)
                return CardPath(path)
            if folded in self._foreign or folded in self._empty_folders:
                self.in_the_way.add(folded)
            number += 1

    def _is_empty(self, folded: str) -> bool:
        return (
            folded not in self._taken
            and folded not in self._foreign
            and folded not in self._folders
        )


def current_folder(paths: Iterable[str | None]) -> str | None:
    """The folder in which most of *paths* lie, None when there is none."""
    count: dict[str, int] = {}
    for path in paths:
        if path is not None:
            folder = path.rpartition("/")[0]
            count[folder] = count.get(folder, 0) + 1
    if not count:
        return None
    return min(count, key=lambda folder: (-count[folder], folder))
