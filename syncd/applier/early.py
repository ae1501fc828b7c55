"""Having the system begin to write out what a card was given, before a barrier asks for it.

Else a slow medium has nothing to do while files are made, and all to do at the barrier. Nothing
relies on it: of a file that is written aside the medium may have any part until a barrier. Only
bytes of files are begun with; names and tables stay where the barrier's order has them. Where the
file system is a process of its own (FUSE), the system knows no bytes of files, only the device's:
there the volume as a whole is written out beside us.
"""

import contextlib
import ctypes
import functools
import threading
from collections.abc import Callable

from syncd.applier import flushing

PIECE_BYTES = 8 << 20
_LEAST_BYTES = 1 << 20
"""What is smaller goes with others, in one command to the medium."""
_SYNC_FILE_RANGE_WRITE = 2  # sync_file_range(2)


class Early:
    """Begins to write out what is given to the volume of the descriptor *volume*."""

    def __init__(self, volume: int) -> None:
        self._volume = volume
        self._beside_us = flushing.magic(volume) == flushing.FUSE
        self._given = 0
        self._thread: threading.Thread | None = None
        self._fault: OSError | None = None

    def given(self, fd: int, size: int, *, complete: bool = False) -> None:
        """Heed that the file *fd* was given *size* bytes more, and whether it is *complete* now."""
        self._given += size
        if self._beside_us:
            if self._given >= PIECE_BYTES and not self._at_work():
                self._given = 0
                self._thread = threading.Thread(target=self._write_out, daemon=True)
                self._thread.start()
        elif self._given >= PIECE_BYTES or (complete and self._given >= _LEAST_BYTES):
            self._given = 0
            _begin()(fd)
        elif complete:
            self._given = 0

    def _at_work(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def _write_out(self) -> None:
        try:
            flushing.syncfs(self._volume)
        except OSError as fault:
            self._fault = fault

    def wait(self) -> None:
        """Wait for what was begun beside us. Raises its OSError: the system tells a fault once."""
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        fault, self._fault = self._fault, None
        if fault is not None:
            raise fault


@functools.cache
def _begin() -> Callable[[int], None]:
    """What has the system begin with a file's bytes; nothing where it has no such call."""
    with contextlib.suppress(OSError, AttributeError):
        call = ctypes.CDLL(None, use_errno=True).sync_file_range
        call.argtypes = [ctypes.c_int, ctypes.c_int64, ctypes.c_int64, ctypes.c_uint]
        # A file system that refuses is asked in vain, and a fault is told by the barrier.
        return lambda fd: call(fd, 0, 0, _SYNC_FILE_RANGE_WRITE) and None
    return lambda fd: None
