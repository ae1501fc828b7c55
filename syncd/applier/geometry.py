"""How a mounted card takes room: which file system it is, and where in a folder its names stand.

Read through open descriptors only, never from the device's folders. The drivers in the Linux kernel
tell with each name where they go on (d_off of getdents64 is a place in the folder): on FAT where it
ends and so the next one begins, gaps included; on exFAT where it ends, but for the last name. A
folder's size is its clusters. exfat-fuse tells the size, but not the places.
"""

import contextlib
import ctypes
import os
import re
import struct
from pathlib import Path

from syncd.applier import flushing
from syncd.planner.capacity import (
    ENTRY_BYTES,
    EXFAT,
    EXFAT_FUSE,
    FAT32,
    UNKNOWN,
    FileSystem,
    FolderSeen,
)

_BUFFER = 1 << 16
_HEAD = struct.Struct("=QqHB")
"""struct linux_dirent64 up to the name: inode, offset of the next, length, kind."""
_DOTS = (".", "..")
_MOUNTS = Path("/proc/self/mountinfo")


def file_system(fd: int) -> FileSystem:
    """The rules of the file system that the folder *fd* is on."""
    magic = flushing.magic(fd)
    if magic == flushing.FAT:
        return FAT32
    if magic == flushing.EXFAT:
        return EXFAT
    if magic == flushing.FUSE and _on_exfat(os.fstat(fd).st_dev):
        return EXFAT_FUSE
    return UNKNOWN


def _on_exfat(device: int) -> bool:
    """Whether block device *device* holds exFAT: by what udev found, or by its first sector."""
    number = f"{os.major(device)}:{os.minor(device)}"
    with contextlib.suppress(OSError):
        if "E:ID_FS_TYPE=exfat\n" in Path(f"/run/udev/data/b{number}").read_text("utf-8"):
            return True
    with contextlib.suppress(OSError):
        mounts = os.fsdecode(_MOUNTS.read_bytes())  # a mount point may have any name
        for line in mounts.rstrip("\n").split("\n"):
            before, _, after = line.partition(" - ")
            if before.split()[2] == number:
                source = re.sub(r"\\([0-7]{3})", _unescaped, after.split()[1])
                with Path(source).open("rb") as file:
                    return file.read(11)[3:11] == b"EXFAT   "  # exFAT specification 3.1.2
    return False


def _unescaped(octal: re.Match[str]) -> str:
    return chr(int(octal.group(1), 8))


def folder_seen(fd: int, system: FileSystem, cluster_bytes: int) -> FolderSeen:
    """The folder *fd*: its clusters and its names, with their places where the driver tells."""
    size = os.fstat(fd).st_size
    clusters = max(1, -(-size // cluster_bytes))
    if system is FAT32 and (listed := _listed(fd)) is not None:
        return FolderSeen(clusters, _behind_another(listed))
    if system is EXFAT and (listed := _listed(fd)) is not None:
        return FolderSeen(clusters, _before_another(fd, listed))
    return FolderSeen(clusters, dict.fromkeys(os.listdir(fd)))


_Listed = list[tuple[str, int]]
"""Names as they are listed, and at which entry the driver goes on behind each."""


def _listed(fd: int, start: int = 0, most: int | None = None) -> _Listed | None:
    """The names of folder *fd* from entry *start* on; None where the system does not tell.

    About *most* of them are enough.
    """
    try:
        getdents = ctypes.CDLL(None, use_errno=True).getdents64  # glibc 2.30
    except (OSError, AttributeError):
        return None
    buffer = ctypes.create_string_buffer(_BUFFER)
    found: _Listed = []
    again = os.dup(fd)
    try:
        os.lseek(again, start * ENTRY_BYTES, os.SEEK_SET)
        while (got := getdents(again, buffer, _BUFFER)) > 0:
            data = buffer.raw[:got]
            at = 0
            while at < got:
                _, following, length, _ = _HEAD.unpack_from(data, at)
                name = os.fsdecode(data[at + _HEAD.size : at + length].split(b"\0", 1)[0])
                found.append((name, following // ENTRY_BYTES))
                at += length
            if most is not None and len(found) >= most:
                break
        os.lseek(again, 0, os.SEEK_SET)
    finally:
        os.close(again)
    return found if got >= 0 else None


def _behind_another(listed: _Listed) -> dict[str, int | None]:
    """Where each name begins on FAT: where the driver went on behind the one before it."""
    found: dict[str, int | None] = {}
    start = 0
    for name, following in listed:
        if name not in _DOTS:
            found[name] = start
        start = following
    return found


def _before_another(fd: int, listed: _Listed) -> dict[str, int | None]:
    """Where each name begins on exFAT, where the driver goes on right behind a name.

    Behind the last one it goes on to entries that were never used: there it is asked from which
    entry on that name is still found.
    """
    names = [(name, end) for name, end in listed if name not in _DOTS]
    found: dict[str, int | None] = {name: end - EXFAT.entries(name) for name, end in names}
    if names:
        name, most = names[-1][0], found[names[-1][0]] or 0
        least = names[-2][1] if len(names) > 1 else 0
        while least < most:
            middle = (least + most + 1) // 2
            if any(other == name for other, _ in _listed(fd, middle, 1) or ()):
                least = middle
            else:
                most = middle - 1
        found[name] = least
    return found
