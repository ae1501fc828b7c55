"""The lock at home, as the daemon holds it: while any of its jobs runs, and no longer.

The jobs inherit the descriptor, and with it the lock: should the daemon be killed, it stays locked
until the last of them has ended. So there are never two writers. Between jobs commands find it
free.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterator

from syncd.errors import SetupProblem
from syncd.settings import Home


class HomeLock:
    """The lock of the only writer, shared by the daemon's own jobs."""

    def __init__(self, home: Home) -> None:
        self._home = home
        self._fd: int | None = None

    @property
    def fd(self) -> int:
        """The descriptor for a job to inherit. To be asked only while :attr:`held`."""
        assert self._fd is not None
        return self._fd

    @property
    def held(self) -> bool:
        """Whether the daemon has it."""
        return self._fd is not None

    def take(self) -> bool:
        """Have the lock; False if a command has it. Raises SetupProblem."""
        if self._fd is None:
            self._fd = self._home.try_lock()
        return self._fd is not None

    def release(self) -> None:
        """Let it go: to be called when no job runs."""
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None


@contextlib.contextmanager
def only_daemon(home: Home) -> Iterator[None]:
    """Be this home's only daemon. Raises SetupProblem if there is one already."""
    fd = home.lock_file("daemon.lock")
    try:
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise SetupProblem(
                f"The daemon runs already for {home.state}. 'syncd status' shows what it does."
            ) from error
        yield
    finally:
        os.close(fd)
