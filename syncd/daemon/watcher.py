"""The real watch of the library: each root by what its file system allows; the scan is the truth.

A root on a local disk is watched by the system's own notices (``inotify_tree``, elsewhere
``observed_tree``); one on a network, one that the settings say, and one that cannot be watched is
polled (``trees``). ``stirring`` says when a folder has come to rest. What may wait for a disk is
done in a thread of its own for each root, which is there only while there is something to do.
"""

import logging
import os
import sys
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from syncd.daemon.mounts import MOUNT_TABLE, Mount, parse_mountinfo
from syncd.daemon.ports import Hints, WatchMaker
from syncd.daemon.stirring import Stirring
from syncd.daemon.trees import CannotWatch, Ears, PolledTree, Tree, look_of
from syncd.library.masterfile import shown
from syncd.settings_file import Settings

if TYPE_CHECKING:  # what is Linux's cannot be loaded elsewhere
    from syncd.daemon.inotify_tree import Reader

_NETWORK = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "smbfs2", "9p", "ceph", "afs", "coda", "ncpfs"}
    | {"glusterfs", "lustre", "ocfs2", "gfs2", "afpfs", "webdav", "davfs"}
    | {"virtiofs", "vboxsf", "vmhgfs", "prl_fs", "drvfs", "orangefs", "fuse"}
)
_LOCAL_FUSE = ("fuse.exfat", "fuse.ntfs", "fuse.lowntfs")

Spawn = Callable[[Callable[[], None], str], None]
Want = Literal["check", "anew", "poll", "work", "look"]
_MOST_FAILURES = 3
_ORDER: tuple[Want, ...] = ("check", "anew", "poll", "work", "look")

_log = logging.getLogger(__name__)


def is_remote(kind: str) -> bool:
    """Whether files on a file system of this *kind* can change without this kernel's doing.

    Then inotify does not tell of it (inotify(7), Limitations). Those by FUSE are taken for such,
    but for the ones of local disks.
    """
    if kind.startswith("fuse."):
        return not kind.startswith(_LOCAL_FUSE)
    return kind in _NETWORK


def mounts_of(root: bytes, mounts: Iterable[Mount]) -> tuple[Mount, ...]:
    """The mount that *root* (without links) is on, and those under it."""
    place = os.fsdecode(root)
    on: Mount | None = None
    under = []
    for mount in mounts:
        stem = mount.place.rstrip("/") + "/"
        if place == mount.place or place.startswith(stem):
            # of two at one place the later one is seen
            if on is None or len(mount.place) >= len(on.place):
                on = mount
        elif mount.place.startswith(place.rstrip("/") + "/"):
            under.append(mount)
    return (*(() if on is None else (on,)), *under)


def mounted_now() -> list[Mount]:
    """The mount table of this process; empty where there is none."""
    try:
        return parse_mountinfo(MOUNT_TABLE.read_bytes().decode("latin-1"))
    except OSError:
        return []


def _start(reader: "Reader") -> None:
    reader.start()


def _spawn(task: Callable[[], None], name: str) -> None:
    threading.Thread(target=task, name=name, daemon=True).start()


@dataclass(frozen=True, slots=True)
class Watching:
    """How the library is to be watched. ``polled`` are roots that are polled in any case.

    ``settle_s``: a folder in which nothing happened for so long has come to rest. ``poll_s``: how
    often the folders of a polled root are looked at; ``rescan_s``: how often it is scanned.
    """

    settle_s: float = 60.0
    poll_s: float = 300.0
    rescan_s: float = 3600.0
    polled: frozenset[Path] = frozenset()


@dataclass(frozen=True, slots=True)
class World:
    """What the watch asks of the world: clocks, threads, the mount table."""

    clock: Callable[[], float] = time.monotonic
    wall: Callable[[], float] = time.time
    spawn: Spawn = _spawn
    mounts: Callable[[], list[Mount]] = mounted_now
    read: Callable[["Reader"], None] = _start
    inotify: bool = field(default_factory=lambda: sys.platform.startswith("linux"))


class LibraryWatcher:
    """The keeper's port ``LibraryWatch``."""

    def __init__(
        self, wake: Callable[[], None], how: Watching | None = None, world: World | None = None
    ) -> None:
        self.wake = wake
        self.how = how or Watching()
        self.world = world or World()
        self._roots: dict[bytes, _Root] = {}
        self._reader: Reader | None = None
        self._reader_lock = threading.Lock()
        self._failures = 0
        self._closed = False

    def watch(self, roots: Sequence[Path]) -> None:
        """Watch these roots from now on, and no others."""
        wanted = [os.fsencode(root) for root in roots]
        for path in [path for path in self._roots if path not in wanted]:
            self._roots.pop(path).close()
        for path in wanted:
            if path not in self._roots:
                self._roots[path] = _Root(path, self)
                self._roots[path].want("check")

    def settled(self) -> Hints | None:
        """What has come to rest; begins what is due meanwhile."""
        taken: set[bytes] = set()
        for root in self._roots.values():
            root.begin_due()
            taken |= root.stirring.take()
        return Hints(tuple(sorted(map(os.fsdecode, taken)))) if taken else None

    def next_s(self) -> float | None:
        """Seconds until the next thing is due; None when an event will tell."""
        times = [at for root in self._roots.values() if (at := root.next_at()) is not None]
        return max(0.0, min(times) - self.world.clock()) if times else None

    def restless(self) -> tuple[bytes, ...]:
        """Folders that a scan should leave as they are known; with a slash: all under it."""
        return tuple(folder for root in self._roots.values() for folder in root.stirring.restless())

    def look_round(self) -> None:
        """See whether roots came, went or are others: when a mount changes, and now and then."""
        for root in self._roots.values():
            root.want("check")

    def problems(self) -> tuple[str, ...]:
        """Why it sees less than it should."""
        return tuple(root.problem for root in self._roots.values() if root.problem)

    def close(self) -> None:
        """Stop watching. What hangs is left behind."""
        self._closed = True
        for root in self._roots.values():
            root.close()
        with self._reader_lock:
            reader, self._reader = self._reader, None
        if reader is not None:
            self.world.spawn(reader.end, "end inotify")

    def reader(self) -> "Reader":
        """The inotify instance that all roots share. Raises CannotWatch."""
        from syncd.daemon.inotify_tree import Reader

        with self._reader_lock:
            if self._closed:
                raise CannotWatch("the daemon is stopping")
            if self._reader is not None and self._reader.failed:
                self._reader.end()
                self._reader = None
                self._failures += 1
            if self._failures >= _MOST_FAILURES:
                self._failures = 0  # it is tried again with the next scan
                raise CannotWatch("reading the system's notices failed; the log says how")
            if self._reader is None:
                self._reader = Reader(self._reader_ended)
                self.world.read(self._reader)
            return self._reader

    def _reader_ended(self) -> None:
        for root in list(self._roots.values()):
            root.lost()


def made_watch(settings: Settings) -> WatchMaker:
    """The watch that *settings* say."""
    how = Watching(
        settings.settle_seconds,
        settings.poll_minutes * 60,
        settings.rescan_minutes * 60,
        frozenset(Path(root).expanduser() for root in settings.polled_roots),
    )
    return lambda wake: LibraryWatcher(wake, how)


class _Root(Ears):
    """One root: what watches it, what is wanted done for it, what is wrong with it."""

    def __init__(self, path: bytes, watcher: LibraryWatcher) -> None:
        self.path = path
        self.problem = ""
        self._watcher = watcher
        self._how, self._world = watcher.how, watcher.world
        self.stirring = Stirring(path, self._how.settle_s, self._world.clock)
        self._tree: Tree | None = None
        self._facts: tuple[object, ...] | None = None
        self._away = False
        self._refused = False
        self._polls = False
        self._poll_at = self._rescan_at = 0.0
        self._wanted: set[Want] = set()
        self._busy = False
        self._closed = False
        self._suspect = False
        self._lock = threading.Lock()

    # -- from the keeper's thread ---------------------------------------------------------------

    def begin_due(self) -> None:
        """Begin what is due by now."""
        now = self._world.clock()
        if self._polls and now >= self._rescan_at:
            self._rescan_at = now + self._how.rescan_s
            self.stirring.announce()
            if self._refused:
                self.want("anew")  # perhaps the limit was raised
        if self._polls and now >= self._poll_at:
            self._poll_at = now + self._how.poll_s
            self.want("poll")
        if self.stirring.due():
            self.want("look")

    def next_at(self) -> float | None:
        """When something is due, on the clock."""
        at = self.stirring.next_at(looking=self._busy)
        times = [] if at is None else [at]
        if self._polls and not self._busy:
            times += [self._poll_at, self._rescan_at]
        return min(times) if times else None

    def close(self) -> None:
        """Do nothing more."""
        self._closed = True
        tree, self._tree = self._tree, None
        if tree is not None:
            self._world.spawn(tree.close, "end of watching")

    # -- from any thread ------------------------------------------------------------------------

    def want(self, what: Want) -> None:
        """Have it done, in a thread of this root's."""
        with self._lock:
            self._wanted.add(what)
            if self._busy or self._closed:
                return
            self._busy = True
        self._world.spawn(self._run, f"watch {shown(self.path)}")

    def stirred(self, folder: bytes, *, telling: bool = True) -> None:
        if not telling:
            self.stirring.keep_stirring(folder)
        elif self.stirring.stir(folder) and not self._closed:
            self._watcher.wake()

    def lost(self) -> None:
        _log.warning(
            "Some changes under %s were missed, since they came too fast or reading them failed; "
            "all of it is looked through.",
            shown(self.path),
        )
        self.stirring.stir_all()
        self.want("anew")
        self._watcher.wake()

    def moved(self) -> None:
        self._suspect = True
        self.want("check")

    def work(self) -> None:
        self.want("work")

    # -- in the root's thread -------------------------------------------------------------------

    def _run(self) -> None:
        news = False
        while True:
            with self._lock:
                if self._closed or not self._wanted:
                    self._busy = False
                    break
                what = next(each for each in _ORDER if each in self._wanted)
                self._wanted.discard(what)
            try:
                news = self._do(what) or news
            except Exception:
                _log.exception("A fault in syncd itself; watching goes on. Please report it.")
        if news and not self._closed:
            self._watcher.wake()

    def _do(self, what: Want) -> bool:
        """Do it; tells whether there may be something new to ask for."""
        if what == "check":
            return self._check()
        if what == "anew":
            if not self._away:
                self._begin(again=True)
        elif what == "look":
            self._look()
        elif self._tree is not None and (what == "work" or self._polls):
            try:
                self._tree.work()
            except CannotWatch as problem:
                self._poll_instead(problem)
        return True

    def _look(self) -> None:
        whole = self.path.rstrip(b"/") + b"/"
        for folder in self.stirring.due():
            if self._closed:
                return
            seen = 0 if folder == whole else look_of(folder)
            self.stirring.looked({folder: seen})

    def _check(self) -> bool:
        """See whether the root is there, and still the same; begin to watch it where it is not."""
        suspect, self._suspect = self._suspect, False  # first: it may become so meanwhile
        try:
            facts = os.stat(self.path)  # noqa: PTH116
            os.scandir(self.path).close()
        except OSError as error:
            return self._is_away(error.strerror or type(error).__name__)
        now = (facts.st_dev, facts.st_ino, self._mounts())
        if now != self._facts or suspect:
            self._facts = now
            self._begin(again=False)
            return True
        if self._tree is not None and not self._polls and not self._world.inotify:
            self.want("work")  # that tells whether its threads are alive
        return False

    def _mounts(self) -> tuple[Mount, ...]:
        return mounts_of(os.path.realpath(self.path), self._world.mounts())

    def _is_away(self, cause: str) -> bool:
        if self._away:
            return False
        self._away, self._polls, self._refused, self._facts = True, False, False, None
        self._let_go()
        self.stirring.forget()
        self.stirring.announce()  # the scan notes that it is away, and forgets nothing
        self.problem = (
            f"The library's root {shown(self.path)} is away ({cause}). Nothing under it is "
            "forgotten; mount its disk, and it is watched again."
        )
        _log.warning("%s", self.problem)
        return True

    def _begin(self, *, again: bool) -> None:
        """Watch the root by what its file system allows; have it scanned once that is so."""
        if self._away:
            _log.info("The library's root %s is back.", shown(self.path))
        self._away = False
        remote = next((m for m in self._mounts() if is_remote(m.kind)), None)
        forced = Path(os.fsdecode(self.path)) in self._how.polled
        if remote is not None or forced:
            self._poll("")
            return
        if self._tree is None or self._polls or not again or not self._tree.sound:
            self._let_go()
        try:
            if self._tree is None:
                self._tree = self._fitting_tree()
            self._tree.survey()
        except CannotWatch as problem:
            self._poll_instead(problem)
            return
        self.problem, self._polls, self._refused = "", False, False
        self.stirring.announce()

    def _fitting_tree(self) -> Tree:
        if self._world.inotify:
            from syncd.daemon.inotify_tree import InotifyTree

            return InotifyTree(self.path, self._watcher.reader(), self, self._recent)
        from syncd.daemon.observed_tree import ObservedTree

        return ObservedTree(self.path, self)

    def _recent(self, changed: float) -> bool:
        return abs(self._world.wall() - changed) < self._how.settle_s

    def _poll_instead(self, problem: CannotWatch) -> None:
        self._refused = True
        self._poll(
            f"The system cannot tell of changes under the library's root {shown(self.path)}: "
            f"{problem}. Meanwhile its folders are looked at every {self._how.poll_s / 60:g} "
            f"minutes, and its files every {self._how.rescan_s / 60:g}."
        )

    def _poll(self, problem: str) -> None:
        self._let_go()
        if problem and problem != self.problem:
            _log.warning("%s", problem)
        self.problem = problem
        now = self._world.clock()
        self._poll_at, self._rescan_at = now + self._how.poll_s, now + self._how.rescan_s
        self._tree = PolledTree(self.path, self)
        self._tree.survey()
        self._polls = True
        self.stirring.announce()

    def _let_go(self) -> None:
        tree, self._tree = self._tree, None
        if tree is not None:
            tree.close()
