"""What the system alone can do for a barrier: write out a whole volume, and tell whether it is FAT.

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
_MSDOS_SUPER_MAGIC = 0x4D44  # linux/magic.h


def is_fat(fd: int) -> bool:
    """Whether *fd* is on a FAT volume of the Linux driver."""
    if not sys.platform.startswith("linux"):
        return False
    with contextlib.suppress(OSError, AttributeError):
        facts = (ctypes.c_long * 64)()  # struct statfs begins with the type, a long
        if ctypes.CDLL(None, use_errno=True).fstatfs(fd, ctypes.byref(facts)) == 0:
            return facts[0] == _MSDOS_SUPER_MAGIC
    return False


def syncfs(fd: int) -> None:
    """Write everything of *fd*'s volume to it; all volumes where the system has no syncfs."""
    if _SYNCFS is None:
        os.sync()
        return
    if _SYNCFS(fd) != 0:
        code = ctypes.get_errno()
        raise OSError(code, os.strerror(code))
