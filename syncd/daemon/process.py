"""How a working process is made: by a fork where that is sound, by a new Python elsewhere.

A fork has all modules already: half a second less from a card's arrival to its first byte, and no
second copy of them in memory. The daemon has threads, of which a fork takes only the one that
forks; so the child uses nothing that another thread may have locked, takes the place of every
descriptor with /dev/null (not closed: an object that is cleaned up later must not close a new file
under the same number), and leaves by ``_exit``. Should one hang all the same, before its first
word, the keeper's side notices (``child``) and takes a new Python.
"""

import contextlib
import gc
import os
import signal
import subprocess
import sys
import time
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn, Protocol

import syncd
from syncd.daemon import logs

PROGRAM = (sys.executable, "-m", "syncd.daemon.work")

PLACE = Path(syncd.__file__).resolve().parent.parent
"""A new Python finds this syncd from here, be it installed or not."""


class Process(Protocol):
    """A process with a pipe to its standard input and one from its standard output."""

    pid: int
    to: int
    out: int

    def wait(self, patience_s: float) -> int | None:
        """Its status (negative: the signal that ended it); None if it has not ended in time."""
        ...


def can_fork() -> bool:
    """Whether forking is sound: not where the system's own libraries forbid it (macOS)."""
    return sys.platform.startswith("linux")


def preload() -> None:
    """Load now what updates need, so that each fork has it."""
    import syncd.applier.locked
    import syncd.library.snapshot
    import syncd.settings_file
    import syncd.transcoder.ffmpeg_port
    import syncd.transcoder.store
    import syncd.updating.updater  # noqa: F401

    gc.collect()
    gc.freeze()


class Spawned:
    """A new Python."""

    def __init__(self, order: str, keeps: Sequence[int]) -> None:
        self._process = subprocess.Popen(
            [*PROGRAM, order, *(["--json"] if logs.as_json() else [])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,
            pass_fds=tuple(keeps),
            cwd=PLACE,
        )
        assert self._process.stdin is not None and self._process.stdout is not None
        self.pid = self._process.pid
        self.to = os.dup(self._process.stdin.fileno())
        self.out = os.dup(self._process.stdout.fileno())
        self._process.stdin.close()
        self._process.stdout.close()

    def wait(self, patience_s: float) -> int | None:
        try:
            return self._process.wait(patience_s)
        except subprocess.TimeoutExpired:
            return None


class Forked:
    """A fork of this process."""

    def __init__(self, order: str, keeps: Sequence[int]) -> None:
        its_in, self.to = os.pipe()
        try:
            self.out, its_out = os.pipe()
        except OSError:
            os.close(its_in)
            os.close(self.to)
            raise
        # Held back until the child has no handler of ours any more: it must not be lost there.
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTERM})
        try:
            with warnings.catch_warnings():
                # Python 3.12 and later warn of threads; see the module's docstring.
                warnings.simplefilter("ignore", DeprecationWarning)
                self.pid = os.fork()
        except OSError:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
            for fd in (its_in, its_out, self.to, self.out):
                os.close(fd)
            raise
        if self.pid == 0:
            _be_the_child(order, its_in, its_out, keeps, before)
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        os.close(its_in)
        os.close(its_out)
        self._status: int | None = None

    def wait(self, patience_s: float) -> int | None:
        deadline = time.monotonic() + patience_s
        while self._status is None:
            try:
                pid, status = os.waitpid(self.pid, os.WNOHANG)
            except ChildProcessError:  # somebody else has waited for it
                pid, status = self.pid, 0
            if pid:
                self._status = os.waitstatus_to_exitcode(status)
                break
            if time.monotonic() > deadline:
                return None
            time.sleep(0.001)
        return self._status


def _be_the_child(
    order: str, its_in: int, its_out: int, keeps: Sequence[int], signals: set[int | signal.Signals]
) -> NoReturn:
    status = 70  # sysexits.h: EX_SOFTWARE
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        signal.set_wakeup_fd(-1)  # the daemon's loop has nothing to do with the child's signals
        signal.pthread_sigmask(signal.SIG_SETMASK, signals)
        os.setsid()
        for number in (signal.SIGHUP, signal.SIGINT):
            signal.signal(number, signal.SIG_IGN)
        os.dup2(its_in, 0)
        os.dup2(its_out, 1)
        _hide_descriptors({0, 1, 2, *keeps})
        from syncd.daemon import work

        work.main([order])
        status = 0
    finally:
        with contextlib.suppress(Exception):
            sys.stderr.flush()
        os._exit(status)


def _hide_descriptors(kept: set[int]) -> None:
    null = os.open(os.devnull, os.O_RDWR | os.O_CLOEXEC)
    for name in os.listdir("/proc/self/fd"):
        fd = int(name)
        if fd not in kept and fd != null:
            with contextlib.suppress(OSError):
                os.fstat(fd)  # the listing's own descriptor is gone by now
                os.dup2(null, fd, inheritable=False)
