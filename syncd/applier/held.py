"""What was removed from a FAT or exFAT card, held open until a barrier has passed.

The Linux drivers write FAT's table and exFAT's bitmap before the folders. So held, clusters are
given back after their name is gone from the medium: a cut in between leaves clusters that nothing
names, and no name without clusters. At such a name the FAT driver makes the whole card read-only;
the exFAT driver says nothing, and gives its clusters to a file that is written later.
"""

import contextlib
import errno
import os
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")

MOST_HELD = 256
"""Removed files and folders that are held open at most: a process may have 1024 open files."""


class Held:
    """The removed files and folders of a volume, which *write_out* writes out as a barrier does."""

    def __init__(self, write_out: Callable[[], None]) -> None:
        self._write_out = write_out
        self._open: list[int] = []

    def add(self, folder: int, name: str) -> None:
        """Keep the file or folder *name*, which is about to be removed, until the next barrier."""
        if len(self._open) >= MOST_HELD:
            self.make_room()
        how = os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK
        with contextlib.suppress(FileNotFoundError):
            self._open.append(os.open(name, how, dir_fd=folder))

    def with_room(self, deed: Callable[[], T]) -> T:
        """Do *deed*; once more when what is held was given back, if there is no room for it."""
        try:
            return deed()
        except OSError as error:
            if error.errno != errno.ENOSPC or not self.make_room():
                raise
        return deed()

    def make_room(self) -> bool:
        """Give back the clusters of what was removed before the next barrier; whether some were."""
        if not self._open:
            return False
        self._write_out()  # so that no name is left without its clusters
        self.let_go()
        return True

    def let_go(self) -> None:
        """Close what was removed: only now its clusters are given back."""
        while self._open:
            with contextlib.suppress(OSError):
                os.close(self._open.pop())
