"""What the system alone can do for a barrier: write out a whole volume, and tell what it is.

Without a C library's help no Python has these two.
"""

import contextlib
import ctypes
import os
import sys


def _load_syncfs() -> "ctypes._NamedFuncPointer | None":
    if not sys.platform.startswith("linux"):
        return None
    with contextlib.suppress(OSError, AttributeError):
        return ctypes.CDLL(None, use_errno=True).syncfs
    return None


_SYNCFS = _load_syncfs()
FAT, EXFAT, FUSE = 0x4D44, 0x2011BAB0, 0x65735546  # linux/magic.h


def magic(fd: int) -> int:
    """The number of the kernel's driver for the file system of *fd*; 0 where none is told."""
    if not sys.platform.startswith("linux"):
        return 0
    with contextlib.suppress(OSError, AttributeError):
        facts = (ctypes.c_long * 64)()  # struct statfs begins with the type, a long
        if ctypes.CDLL(None, use_errno=True).fstatfs(fd, ctypes.byref(facts)) == 0:
            return int(facts[0])
    return 0


def is_fat(fd: int) -> bool:
    """Whether *fd* is on a FAT or exFAT volume of a driver in the Linux kernel."""
    return magic(fd) in (FAT, EXFAT)


def is_exfat(fd: int) -> bool:
    """Whether *fd* is on an exFAT volume of the driver in the Linux kernel."""
    return magic(fd) == EXFAT


def syncfs(fd: int) -> None:
    """Write everything of *fd*'s volume to it; all volumes where the system has no syncfs.

    Raises OSError as syncfs(2) does: EIO also for what failed to be written earlier.
    """
    if _SYNCFS is None:
        os.sync()
        return
    if _SYNCFS(fd) != 0:
        code = ctypes.get_errno()
        raise OSError(code, os.strerror(code))
