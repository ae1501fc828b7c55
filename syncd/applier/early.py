"""Having the system begin to write out a file's bytes before a barrier asks for it.

Else a slow medium has nothing to do while files are made, and all to do at the barrier. Nothing
relies on it: of a file that is written aside the medium may have any part until a barrier. Names
and tables stay where the barrier's order has them. A file system in a process of its own (FUSE) has
no bytes in the system's memory to begin with, and is not helped.
"""

import contextlib
import ctypes
import functools
from collections.abc import Callable

PIECE_BYTES = 8 << 20
_LEAST_BYTES = 1 << 20
"""What is smaller goes with others, in one command to the medium."""
_SYNC_FILE_RANGE_WRITE = 2  # sync_file_range(2)


class Early:
    """Begins to write out the file *fd* as it is given its bytes."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self._given = 0

    def given(self, size: int) -> None:
        """Heed that the file was given *size* bytes more."""
        self._given += size
        if self._given >= PIECE_BYTES:
            self._given = 0
            _begin()(self._fd)

    def complete(self) -> None:
        """Heed that it has all of its bytes."""
        if self._given >= _LEAST_BYTES:
            _begin()(self._fd)


@functools.cache
def _begin() -> Callable[[int], None]:
    """What has the system begin with a file's bytes; nothing where it has no such call."""
    with contextlib.suppress(OSError, AttributeError):
        call = ctypes.CDLL(None, use_errno=True).sync_file_range
        call.argtypes = [ctypes.c_int, ctypes.c_int64, ctypes.c_int64, ctypes.c_uint]
        # A file system that refuses is asked in vain; a fault of the medium is told by the barrier.
        return lambda fd: call(fd, 0, 0, _SYNC_FILE_RANGE_WRITE) and None
    return lambda fd: None
