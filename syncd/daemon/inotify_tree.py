"""Linux: folders watched by inotify, which watchdog opens, reads and takes apart.

Of watchdog only its reader of inotify (``InotifyFD``) is used, with callbacks of our own instead of
its emitter and observer. Those leave out what must be known here: a folder that could not be
watched for want of watches, an overflow, a reader that ended; they queue an event for each file
without bound, walk through moved trees in the thread that should read, and have two more threads.
"""

import contextlib
import errno
import logging
import os
import threading
from collections.abc import Callable
from pathlib import Path

from watchdog.observers.inotify_c import (
    CallbackId,
    InotifyConstants,
    InotifyEvent,
    InotifyFD,
    Mask,
    WatchCallback,
    WatchDescriptor,
)

from syncd.daemon.trees import CannotWatch, Ears, subfolders, tells
from syncd.library.masterfile import shown
from syncd.library.walk import is_rubbish

MASK = Mask(
    # No IN_MODIFY: a file that is being written would make thousands of events; that it grows is
    # seen when its folder is looked at, and that it is finished by IN_CLOSE_WRITE.
    InotifyConstants.IN_CREATE
    | InotifyConstants.IN_DELETE
    | InotifyConstants.IN_MOVED_FROM
    | InotifyConstants.IN_MOVED_TO
    | InotifyConstants.IN_CLOSE_WRITE
    | InotifyConstants.IN_ATTRIB
    | InotifyConstants.IN_DELETE_SELF
    | InotifyConstants.IN_MOVE_SELF
    | InotifyConstants.IN_ONLYDIR
    | InotifyConstants.IN_EXCL_UNLINK
)
_SELF = (
    InotifyConstants.IN_DELETE_SELF | InotifyConstants.IN_MOVE_SELF | InotifyConstants.IN_UNMOUNT
)
_CAME = InotifyConstants.IN_CREATE | InotifyConstants.IN_MOVED_TO
_GONE_MEANWHILE = frozenset({errno.ENOENT, errno.ENOTDIR, errno.ELOOP, errno.ENAMETOOLONG})
_MOST_WAITING = 1000
_LIMITS = Path("/proc/sys/fs/inotify")

_log = logging.getLogger(__name__)


class Reader(InotifyFD):
    """The one inotify instance of the daemon. Raises CannotWatch when it cannot be had.

    ``failed`` is set before *ended* is called, when reading ended by a fault.
    """

    def __init__(self, ended: Callable[[], None]) -> None:
        try:
            super().__init__()
        except OSError as error:
            raise CannotWatch(_no_instance(error)) from error
        os.set_inheritable(self._inotify_fd, False)  # watchdog does not ask for IN_CLOEXEC
        self.name = "inotify"
        self.failed = False
        self._ended = ended

    def run(self) -> None:
        """Read until it is stopped."""
        try:
            super().run()
        except Exception:
            _log.exception("Reading the changes in the library failed; it is begun anew.")
            self.failed = True
            self._ended()

    def add(self, folder: bytes, callback: WatchCallback) -> WatchDescriptor | None:
        """Watch *folder*; None where that is not allowed or it is gone. Raises CannotWatch."""
        try:
            with self._lock:
                if self._closed:
                    return None
                # Not add_callback: it warns when a folder is watched that was watched before.
                watch = self._get_or_create_watch(folder, MASK)
                watch.callbacks[_id_of(callback)] = callback
        except OSError as error:
            if error.errno in _GONE_MEANWHILE:
                return None
            raise CannotWatch(_no_watch(folder, error)) from error
        return watch.wd if watch.wd >= 0 else None  # -1: EACCES, which watchdog does not raise

    def drop(self, wds: list[WatchDescriptor], callback: WatchCallback) -> None:
        """Watch these no more for *callback*."""
        with contextlib.suppress(OSError):
            self.remove_callbacks([(wd, _id_of(callback)) for wd in wds])

    def end(self) -> None:
        """Stop reading, whether it goes on or failed, and let go of the descriptors."""
        if self.failed:
            self._is_reading = False  # else it would wait for the reader to close them
        self.stop()


def _id_of(callback: WatchCallback) -> CallbackId:
    return CallbackId(id(callback))


class InotifyTree:
    """The folders under *root*, each with a watch; links to folders are followed as the scan does.

    What is heard is only noted; new folders are entered by :meth:`work`, outside of the thread that
    reads. *recent* tells of a folder's time whether it changed just now.
    """

    def __init__(
        self, root: bytes, reader: Reader, ears: Ears, recent: Callable[[float], bool]
    ) -> None:
        self._root = root
        self.reader = reader
        self._ears = ears
        self._recent = recent
        self._paths: dict[WatchDescriptor, bytes] = {}
        self._lock = threading.Lock()
        self._came: set[bytes] = set()
        self._left: set[bytes] = set()
        self._closed = False

    @property
    def watched(self) -> int:
        """How many folders are watched."""
        return len(self._paths)

    @property
    def sound(self) -> bool:
        """Whether its reader still reads."""
        return not self.reader.failed

    def survey(self) -> None:
        """Watch every folder that is there now, and no other. Raises CannotWatch."""
        seen = self._enter([self._root], anew=True)
        with self._lock:
            stale = [wd for wd in self._paths if wd not in seen]
            for wd in stale:
                del self._paths[wd]
        self.reader.drop(stale, self)

    def work(self) -> None:
        """Watch what came, and let go of what left. Raises CannotWatch."""
        with self._lock:
            came, self._came = self._came, set()
            left, self._left = self._left, set()
        if len(came) + len(left) >= _MOST_WAITING:
            self._ears.lost()
            return
        if left:
            self._leave(left)
        if came:
            self._enter(sorted(came, reverse=True), anew=False)
        if left:
            self._drop_what_left(left)

    def close(self) -> None:
        """Watch nothing any more."""
        with self._lock:
            self._closed = True
            wds = list(self._paths)
            self._paths = {}
        self.reader.drop(wds, self)

    # -- what the reader calls, in its thread ---------------------------------------------------

    def on_event(self, event: InotifyEvent) -> None:
        """Note what happened."""
        folder = self._paths.get(event.wd)
        if folder is None or self._closed:
            return
        if event.mask & _SELF:
            if folder == self._root or event.mask & InotifyConstants.IN_UNMOUNT:
                self._ears.moved()
            return
        if not event.name:
            return  # attributes of the folder itself
        if event.mask & InotifyConstants.IN_ISDIR and not is_rubbish(event.name):
            if event.mask & InotifyConstants.IN_ATTRIB:
                return
            if event.mask & _CAME:
                self._note(self._came, folder + b"/" + event.name)
            elif event.mask & InotifyConstants.IN_MOVED_FROM:
                self._note(self._left, folder + b"/" + event.name)
            self._ears.stirred(folder)
        else:
            # A link may lead to a folder; it comes with IN_CREATE or IN_MOVED_TO.
            link = bool(event.mask & _CAME) and not tells(event.name)
            if link and Path(os.fsdecode(folder + b"/" + event.name)).is_symlink():
                self._note(self._came, folder + b"/" + event.name)
            self._ears.stirred(folder, telling=tells(event.name))

    def on_watch_deleted(self, wd: WatchDescriptor) -> None:
        """Forget a watch that the kernel took away: its folder is gone."""
        with self._lock:
            folder = self._paths.pop(wd, None)
        if folder == self._root and not self._closed:
            self._ears.moved()

    def on_queue_overflow(self) -> None:
        """The kernel's queue ran over (IN_Q_OVERFLOW, inotify(7))."""
        if not self._closed:
            self._ears.lost()

    # -- at work --------------------------------------------------------------------------------

    def _note(self, where: set[bytes], folder: bytes) -> None:
        with self._lock:
            if len(where) < _MOST_WAITING:
                where.add(folder)
        self._ears.work()

    def _enter(self, waiting: list[bytes], *, anew: bool) -> set[WatchDescriptor]:
        """Watch these and all folders in them; first watched, then listed: nothing comes between.

        Not *anew*: what is watched already is not listed again, and what is new has stirred.
        """
        entered: set[WatchDescriptor] = set()
        links: list[bytes] = []
        while (waiting or links) and not self._closed:
            folder = waiting.pop() if waiting else links.pop()
            wd = self.reader.add(folder, self)
            if wd is None:
                if folder == self._root:
                    self._ears.moved()
                continue
            if wd in entered:
                continue  # a link to what is watched already
            with self._lock:
                known = self._paths.get(wd)
                if known is None or anew:
                    self._paths[wd] = folder
            if not anew and known is not None:
                if known == folder or _same(known, folder):
                    continue
                with self._lock:
                    self._paths[wd] = folder  # it was moved
                self._ears.stirred(known)
            entered.add(wd)
            if not anew or self._changed_just_now(folder):
                self._ears.stirred(folder)
            waiting += subfolders(folder, links)
        return entered

    def _leave(self, left: set[bytes]) -> None:
        """What was under a folder that moved away has changed, too."""
        for _, folder in self._under(left):
            self._ears.stirred(folder)

    def _drop_what_left(self, left: set[bytes]) -> None:
        """Watch no more what moved away: at its place is nothing, or another folder, to enter."""
        others: list[bytes] = []
        for wd, folder in self._under(left):
            now = self.reader.add(folder, self)
            with self._lock:
                if now is not None and now not in self._paths:
                    others.append(folder)
                stale = now != wd and self._paths.get(wd) == folder
                if stale:
                    del self._paths[wd]
            if stale:
                self.reader.drop([wd], self)
        self._enter(sorted(others, reverse=True), anew=False)

    def _under(self, tops: set[bytes]) -> list[tuple[WatchDescriptor, bytes]]:
        with self._lock:
            paths = list(self._paths.items())
        return [(wd, folder) for wd, folder in paths if _is_under(folder, tops)]

    def _changed_just_now(self, folder: bytes) -> bool:
        with contextlib.suppress(OSError):
            return self._recent(os.stat(folder).st_mtime)  # noqa: PTH116
        return False


def _is_under(folder: bytes, tops: set[bytes]) -> bool:
    while folder:
        if folder in tops:
            return True
        folder = folder.rpartition(b"/")[0]
    return False


def _same(one: bytes, other: bytes) -> bool:
    try:
        return os.path.samefile(one, other)  # noqa: PTH121
    except OSError:
        return False


def _limit(name: str) -> int:
    try:
        return int((_LIMITS / name).read_text())
    except (OSError, ValueError):
        return 0


def _remedy(name: str, least: int) -> str:
    now = _limit(name)
    setting = f"fs.inotify.{name}={max(least, 2 * now)}"
    return (
        f"the system's limit fs.inotify.{name} ({now}) is reached. To raise it: "
        f"'sudo sysctl {setting}', and for good: "
        f"'echo {setting} | sudo tee /etc/sysctl.d/60-syncd.conf'"
    )


def _no_instance(error: OSError) -> str:
    if error.errno == errno.EMFILE:
        try:
            os.close(os.dup(0))
        except OSError as other:
            if other.errno == errno.EMFILE:
                return (
                    "syncd has too many files open (RLIMIT_NOFILE). Raise that limit for it "
                    "('ulimit -n', LimitNOFILE in a systemd unit) and start it again"
                )
        return _remedy("max_user_instances", 256)
    return f"inotify cannot be used ({error.strerror})"


def _no_watch(folder: bytes, error: OSError) -> str:
    if error.errno == errno.ENOSPC:
        return _remedy("max_user_watches", 131_072)
    return f"{shown(folder)} cannot be watched ({error.strerror})"
