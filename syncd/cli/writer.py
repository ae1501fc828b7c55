"""Being the only writer at home, also while the daemon is at work: it is asked to give way.

It stops at a safe point, a command does its work, and the daemon goes on when the lock is free
again. So there are never two writers, and a command does the same whether a daemon runs or not.
"""

import contextlib
import os
from collections.abc import Iterator

from syncd.cli.output import notice
from syncd.errors import SetupProblem
from syncd.settings import Home

WAY_PATIENCE_S = 15.0
"""A job of the daemon that finds no safe point is killed well before that."""

_NOT_SCANNED = (
    "Another syncd is at work, so the library was not scanned: this is how the last scan found it."
)


@contextlib.contextmanager
def only_writer(home: Home) -> Iterator[None]:
    """Be the only syncd that changes anything at home. Raises SetupProblem if a command is."""
    fd = _lock(home)
    if fd is None:
        raise SetupProblem(
            f"Another syncd is at work with {home.state}. Wait until it has finished, "
            "then try again."
        )
    with _held(home, fd):
        yield


@contextlib.contextmanager
def writer_if_free(home: Home, otherwise: str = _NOT_SCANNED) -> Iterator[bool]:
    """The same for what only reads, and need not scan first: whether we are the writer.

    Where another command is, *otherwise* is told.
    """
    fd = _lock(home)
    if fd is None:
        if otherwise:
            notice(otherwise)
        yield False
        return
    with _held(home, fd):
        yield True


def _lock(home: Home) -> int | None:
    """The lock of the only writer, as a descriptor; None if another command holds it."""
    fd = home.try_lock()
    if fd is None:
        from syncd.daemon.asking import NoDaemon, ask

        with contextlib.suppress(NoDaemon):
            ask(home, "give way", patience_s=WAY_PATIENCE_S)
            notice("The daemon has stopped what it was doing; it goes on after this.")
        fd = home.try_lock()
    return fd


@contextlib.contextmanager
def _held(home: Home, fd: int) -> Iterator[None]:
    """Hold the lock *fd*; when it is free again, the daemon looks what has changed."""
    try:
        yield
    finally:
        os.close(fd)
        if (home.state / "run" / "control").exists():
            from syncd.daemon.asking import ask

            with contextlib.suppress(SetupProblem):
                ask(home, "look", patience_s=2.0)  # else it looks by itself, once a minute
