"""What was removed from a FAT or exFAT card, held open until a barrier has passed.

The Linux drivers write FAT's table and exFAT's bitmap before the folders. So held, clusters are
given back after their name is gone from the medium: a cut in between leaves clusters that nothing
names, and no name without clusters. At such a name the FAT driver makes the whole card read-only;
the exFAT driver says nothing, and gives its clusters to a file that is written later.
"""

import contextlib
import os

from syncd.applier import flushing

MOST_HELD = 256
"""Removed files and folders that are held open at most: a process may have 1024 open files."""


class Held:
    """The removed files and folders of the volume of the descriptor *volume*."""

    def __init__(self, volume: int) -> None:
        self._volume = volume
        self._open: list[int] = []

    def add(self, folder: int, name: str) -> None:
        """Keep the file or folder *name*, which is about to be removed, until the next barrier."""
        if len(self._open) >= MOST_HELD:
            self.make_room()
        how = os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK
        with contextlib.suppress(FileNotFoundError):
            self._open.append(os.open(name, how, dir_fd=folder))

    def make_room(self) -> bool:
        """Give back the clusters of what was removed before the next barrier; whether some were."""
        if not self._open:
            return False
        flushing.syncfs(self._volume)  # so that no name is left without its clusters
        self.let_go()
        return True

    def let_go(self) -> None:
        """Close what was removed: only now its clusters are given back."""
        while self._open:
            with contextlib.suppress(OSError):
                os.close(self._open.pop())
