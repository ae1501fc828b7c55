"""What the tests of the library's watch share: a watch with a clock that is put forward by hand.

What the kernel queued is read by the test itself (:meth:`Scene.pump`): inotify queues an event
before the system call that caused it returns, so nothing has to be waited for.
"""

import os
import select
from collections.abc import Callable, Iterable
from pathlib import Path

from daemon_kit import Clock

from syncd.daemon.inotify_tree import Reader
from syncd.daemon.mounts import Mount
from syncd.daemon.watcher import LibraryWatcher, Watching, World

SETTLE_S = 60.0


def has_events(reader: Reader) -> bool:
    return bool(select.select([reader._inotify_fd], [], [], 0)[0])


class Scene:
    """A watch, its clock, its wakes, its readers, and a mount table of its own."""

    def __init__(
        self,
        *,
        inotify: bool = True,
        polled: Iterable[Path] = (),
        mounts: Callable[[], list[Mount]] | None = None,
    ) -> None:
        self.clock = Clock()
        self.wall = Clock()
        self.wakes = 0
        self.readers: list[Reader] = []
        self.mounted: list[Mount] = [Mount("/", "ext4", "8:1 /", "1")]
        self.waiting: list[Callable[[], None]] | None = None
        how = Watching(SETTLE_S, 300.0, 3600.0, frozenset(polled))
        table = mounts or (lambda: self.mounted)
        world = World(self.clock, self.wall, self._spawn, table, self.readers.append, inotify)
        self.watch = LibraryWatcher(self._wake, how, world)

    def _wake(self) -> None:
        self.wakes += 1

    def _spawn(self, task: Callable[[], None], name: str) -> None:
        if self.waiting is None:
            task()
        else:
            self.waiting.append(task)

    def pump(self) -> None:
        """Take all that the kernel has queued."""
        for reader in self.readers:
            while not reader._closed and has_events(reader):
                for event in reader.read_events():
                    reader.handle_event(event)

    def passes(self, seconds: float) -> None:
        """So much time goes by, and the keeper asks whenever the watch said so; takes nothing."""
        self.settled_in(seconds, stop=False)

    def settled_in(self, seconds: float, *, stop: bool = True) -> dict[str, float]:
        """Let time go by as the keeper would; each place that was handed out, and after how long.

        *stop*: end with the first that is handed out.
        """
        began = self.clock.now
        found: dict[str, float] = {}
        while True:
            self.pump()
            hints = self.watch.settled()
            if hints is not None:
                found |= dict.fromkeys(hints.paths, self.clock.now - began)
                if stop:
                    return found
            next_s = self.watch.next_s()
            left = began + seconds - self.clock.now
            if next_s is None or next_s > left:
                self.clock.now += left
                return found
            self.clock.now += max(next_s, 0.001)

    def watching(self, *roots: Path) -> "Scene":
        """Begin to watch; the scan that follows is taken for done."""
        self.watch.watch(roots)
        self.watch.settled()
        return self

    def close(self) -> None:
        self.watch.close()
        for reader in self.readers:
            if not reader._closed:
                reader.end()
            for fd in (reader._inotify_fd, reader._kill_r, reader._kill_w):
                if reader._is_reading:  # it was never started: nobody else closes them
                    os.close(fd)


def folders(*paths: Path) -> set[str]:
    return set(map(str, paths))
