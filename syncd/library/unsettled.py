"""Folders in which something is still going on: a scan takes them as they were known before.

So an album that is being ripped does not come into the index half done. Who knows that is the
daemon's watch; what was left alone, the next scan sees.
"""

from collections.abc import Iterable

from syncd.library.walk import Looked


class Unsettled:
    """The folders that are to be left alone; a name with a slash at its end stands for a tree."""

    def __init__(self, folders: Iterable[bytes] = ()) -> None:
        named = tuple(folders)
        self._folders = frozenset(name for name in named if not name.endswith(b"/"))
        self._trees = tuple(name for name in named if name.endswith(b"/"))

    def has(self, folder: bytes) -> bool:
        """Whether *folder* is to be left alone."""
        return folder in self._folders or (folder + b"/").startswith(self._trees)

    def taken_out(self, found: Looked) -> Looked:
        """*found* without what was found in such folders."""
        if self._folders or self._trees:
            found.unknown = [each for each in found.unknown if not self._holds(each.path)]
            found.gone = {path: s for path, s in found.gone.items() if not self._holds(path)}
            found.covers = {path: c for path, c in found.covers.items() if not self.has(path)}
            found.sheets = {path: s for path, s in found.sheets.items() if not self.has(path)}
        return found

    def _holds(self, path: bytes) -> bool:
        return self.has(path.rpartition(b"/")[0])
