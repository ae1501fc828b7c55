"""Folders in which something is still going on: a scan takes them as they were known before.

So an album that is being ripped does not come into the index half done. Who knows that is the
daemon's watch; before it watches, the files' own times tell. What was left alone, the next scan
sees.
"""

import time
from collections.abc import Iterable

from syncd.library.walk import Looked


class Unsettled:
    """The folders that are to be left alone; a name with a slash at its end stands for a tree.

    Besides them, folders with a new or changed file that was written to within the last *young_s*
    seconds. ``waits_s`` tells after how many seconds the last of those will be old enough.
    """

    def __init__(
        self, folders: Iterable[bytes] = (), young_s: float = 0.0, now_ns: int | None = None
    ) -> None:
        named = tuple(folders)
        self.waits_s = 0.0
        self._young_s = young_s
        self._now_ns = time.time_ns() if now_ns is None else now_ns
        self._folders = {name for name in named if not name.endswith(b"/")}
        self._trees = tuple(name for name in named if name.endswith(b"/"))

    def has(self, folder: bytes) -> bool:
        """Whether *folder* is to be left alone."""
        return folder in self._folders or (folder + b"/").startswith(self._trees)

    def taken_out(self, found: Looked) -> Looked:
        """*found* without what was found in such folders."""
        for each in found.unknown if self._young_s else ():
            age_s = (self._now_ns - each.stat.mtime_ns) / 1e9
            if 0 <= age_s < self._young_s:  # what is to come is another clock's
                self._folders.add(each.path.rpartition(b"/")[0])
                self.waits_s = max(self.waits_s, self._young_s - age_s)
        if self._folders or self._trees:
            found.unknown = [each for each in found.unknown if not self._holds(each.path)]
            found.gone = {path: s for path, s in found.gone.items() if not self._holds(path)}
            found.covers = {path: c for path, c in found.covers.items() if not self.has(path)}
            found.sheets = {path: s for path, s in found.sheets.items() if not self.has(path)}
        return found

    def _holds(self, path: bytes) -> bool:
        return self.has(path.rpartition(b"/")[0])
