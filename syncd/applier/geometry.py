"""How a mounted card takes room: which file system it is, and where in a folder its names stand.

Read through open descriptors only, never from the device's folders. On FAT the Linux driver tells
with each name where the next one begins (d_off of getdents64 is a place in the folder), and a
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
        for line in Path("/proc/self/mountinfo").read_text("utf-8").splitlines():
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
    if system is FAT32 and (places := _places(fd)) is not None:
        return FolderSeen(clusters, places)
    return FolderSeen(clusters, dict.fromkeys(os.listdir(fd)))


def _places(fd: int) -> dict[str, int | None] | None:
    """Each name with the entry at which it begins; None where the system does not tell."""
    try:
        getdents = ctypes.CDLL(None, use_errno=True).getdents64  # glibc 2.30
    except (OSError, AttributeError):
        return None
    buffer = ctypes.create_string_buffer(_BUFFER)
    found: dict[str, int | None] = {}
    start = 0
    again = os.dup(fd)
    try:
        os.lseek(again, 0, os.SEEK_SET)
        while (got := getdents(again, buffer, _BUFFER)) > 0:
            data = buffer.raw[:got]
            at = 0
            while at < got:
                _, following, length, _ = _HEAD.unpack_from(data, at)
                name = os.fsdecode(data[at + _HEAD.size : at + length].split(b"\0", 1)[0])
                if name not in (".", ".."):
                    found[name] = start
                start = following // ENTRY_BYTES
                at += length
        os.lseek(again, 0, os.SEEK_SET)
    finally:
        os.close(again)
    return found if got == 0 else None
