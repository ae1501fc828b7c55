"""Reading a file from its medium and not from memory: what the system keeps of it is dropped first.

posix_fadvise(DONTNEED) drops what was written already, so a barrier must have passed; mincore then
tells whether anything stayed. A file system in a process of its own (exfat-fuse) reads its device
through the system's memory too: there the device's pages are dropped as well, which needs the right
to open the device. File systems that live in memory or on another computer cannot be got past, nor
can a cache in the medium itself: nobody can tell that a read really came from its cells.
"""

import contextlib
import ctypes
import fcntl
import functools
import mmap
import os
import re
import stat
import sys
from pathlib import Path

_IN_MEMORY_OR_AFAR = frozenset(
    # linux/magic.h: tmpfs, ramfs, overlayfs, 9p, NFS, CIFS, SMB2
    {0x01021994, 0x858458F6, 0x794C7630, 0x01021997, 0x6969, 0xFF534D42, 0xFE534D42}
)
_FUSE = 0x65735546


def forget(fd: int) -> bool:
    """Have the system forget what it holds of the file *fd*.

    False where a read may still be answered from memory, or where that cannot be known. On a file
    system in a process of its own only if its device forgets as well: ``device_forgets``.
    """
    if not sys.platform.startswith("linux"):
        return _uncached_here(fd)
    with contextlib.suppress(OSError):
        os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)
    facts = os.fstat(fd)
    kind = _kind(fd)
    return kind not in _IN_MEMORY_OR_AFAR and not _resident(fd, facts.st_size)


def read_past(fd: int) -> None:
    """Read *fd* past the system's memory, where that is a matter of the descriptor (macOS)."""
    if not sys.platform.startswith("linux"):
        _uncached_here(fd)


def device_forgets(fd: int) -> bool:
    """Have the system forget what it holds of the device under *fd*, where that has to be.

    False where it has to be and is not allowed.
    """
    if not sys.platform.startswith("linux") or _kind(fd) != _FUSE:
        return True
    return _drop_device(os.fstat(fd).st_dev)


def _uncached_here(fd: int) -> bool:
    """macOS reads past its cache when told so; whether it did cannot be asked."""
    command = getattr(fcntl, "F_NOCACHE", 48 if sys.platform == "darwin" else None)
    if command is None:
        return False
    try:
        fcntl.fcntl(fd, command, 1)
    except OSError:
        return False
    return True


@functools.cache
def _libc() -> ctypes.CDLL:
    libc = ctypes.CDLL(None, use_errno=True)
    libc.mmap.restype = ctypes.c_void_p
    libc.mmap.argtypes = [
        *(ctypes.c_void_p, ctypes.c_size_t, ctypes.c_int, ctypes.c_int),
        *(ctypes.c_int, ctypes.c_long),
    ]
    libc.munmap.argtypes = [ctypes.c_void_p, ctypes.c_size_t]
    libc.mincore.argtypes = [ctypes.c_void_p, ctypes.c_size_t, ctypes.c_void_p]
    return libc


def _kind(fd: int) -> int:
    facts = (ctypes.c_long * 64)()  # struct statfs begins with the type, a long
    with contextlib.suppress(OSError, AttributeError):
        if _libc().fstatfs(fd, ctypes.byref(facts)) == 0:
            return int(facts[0]) & 0xFFFFFFFF
    return 0


def _resident(fd: int, size: int) -> bool:
    """Whether a page of the file is in memory; True where the system does not say (mincore(2))."""
    if size == 0:
        return False
    try:
        libc = _libc()
        address = libc.mmap(None, size, mmap.PROT_READ, mmap.MAP_SHARED, fd, 0)
        if address in (None, ctypes.c_void_p(-1).value):
            return True
        try:
            pages = ctypes.create_string_buffer(-(-size // mmap.PAGESIZE))
            if libc.mincore(address, size, pages) != 0:
                return True
            return any(byte & 1 for byte in pages.raw) if any(pages.raw) else False
        finally:
            libc.munmap(address, size)
    except (OSError, AttributeError):
        return True


def _drop_device(device: int) -> bool:
    """Drop what the system holds of block device *device*; False if it may not be opened."""
    place = _device_file(device)
    if place is None:
        return False
    try:
        fd = os.open(place, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    except OSError:
        return False
    try:
        if not stat.S_ISBLK(os.fstat(fd).st_mode):
            return False
        os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)
    except OSError:
        return False
    finally:
        os.close(fd)
    return True


@functools.cache
def _device_file(device: int) -> str | None:
    """Where block device *device*, mounted here, is in the file tree."""
    number = f"{os.major(device)}:{os.minor(device)}"
    with contextlib.suppress(OSError):
        for line in Path("/proc/self/mountinfo").read_text("utf-8", "replace").splitlines():
            before, _, after = line.partition(" - ")
            if before.split()[2] == number and (source := after.split()[1]).startswith("/"):
                return re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal.group(1), 8)), source)
    return None
