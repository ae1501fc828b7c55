"""Reads a FAT32 image as a player's firmware does: the reading half of the Volume port.

From the Microsoft FAT specification (fatgen103): boot sector (page 9 ff.), FAT entries (page 16),
directory entries (page 22 ff.), long names and their checksum (page 27 ff.). The first FAT counts.
A chain that ends before the size in the directory entry, or that meets a free or bad cluster, makes
the file unreadable, as with the Linux driver.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass

from syncd.applier.volume import FileSeen, Listing, Space
from syncd.errors import CardProblem

_LONG, _FOLDER, _LABEL = 0x0F, 0x10, 0x08
_LAST = 0x0FFF_FFF8
_MASK = 0x0FFF_FFFF


class BrokenChain(CardProblem):
    """A file or folder whose clusters are not all there."""


@dataclass(frozen=True, slots=True)
class Found:
    """A directory entry: path, whether it is a folder, first cluster, size in bytes."""

    path: str
    folder: bool
    cluster: int
    size: int


class FatImage:
    """A FAT32 volume in *image*. Raises ValueError where it is none."""

    def __init__(self, image: bytes | bytearray | memoryview, name: str = "IMAGE") -> None:
        self.name = name
        self._image = memoryview(image)
        sector, per_cluster, reserved, fats = struct.unpack_from("<HBHB", self._image, 11)
        sectors, fat_sectors = struct.unpack_from("<I", self._image, 32) + struct.unpack_from(
            "<I", self._image, 36
        )
        (self._root,) = struct.unpack_from("<I", self._image, 44)
        if bytes(self._image[510:512]) != b"\x55\xaa" or sector != 512 or fats != 2:
            raise ValueError("This is no FAT32 volume as mkfs.vfat makes it.")
        self.cluster = sector * per_cluster
        self._data = (reserved + fats * fat_sectors) * sector
        self._clusters = (sectors - reserved - fats * fat_sectors) // per_cluster
        start = reserved * sector
        self._fat = self._image[start : start + fat_sectors * sector].cast("I")
        self.folders: list[str] = []
        self.broken: list[str] = []
        self._found: dict[str, Found] = {}
        self._walk(self._root, "", 0)

    # -- the port's reading half -------------------------------------------------------------

    def listing(self) -> Listing:
        return Listing(self.files(), self.empty_folders())

    def files(self) -> list[FileSeen]:
        seen = [FileSeen(entry.path, entry.size) for entry in self._found.values()]
        return sorted(seen, key=lambda file: file.path)

    def empty_folders(self) -> list[str]:
        taken = [*self._found, *self.folders]
        return sorted(
            folder
            for folder in self.folders
            if not any(path.startswith(folder + "/") for path in taken)
        )

    def size(self, path: str) -> int | None:
        found = self._found.get(path)
        return None if found is None else found.size

    def read(self, path: str) -> bytes | None:
        return b"".join(self.chunks(path)) if path in self._found else None

    def chunks(self, path: str) -> Iterator[bytes]:
        found = self._found.get(path)
        if found is None:
            raise CardProblem(f"Could not read card {self.name} ({path}): no such file.")
        left = found.size
        for cluster in self._chain(found.cluster, path) if left else ():
            if left <= 0:
                return
            yield self._bytes(cluster)[:left]
            left -= self.cluster
        if left > 0:
            raise BrokenChain(f"The clusters of {path} end before its size.")

    def space(self) -> Space:
        free = sum(not entry & _MASK for entry in self._fat[2 : self._clusters + 2])
        return Space(free * self.cluster, self._clusters * self.cluster, self.cluster)

    def in_order(self) -> list[str]:
        """The paths of all files, each folder's in the order of its entries."""
        return list(self._found)

    # -- inside ------------------------------------------------------------------------------

    def _bytes(self, cluster: int) -> bytes:
        start = self._data + (cluster - 2) * self.cluster
        return bytes(self._image[start : start + self.cluster])

    def _chain(self, cluster: int, path: str) -> Iterator[int]:
        for _ in range(self._clusters + 1):
            if cluster >= _LAST:
                return
            if not 2 <= cluster < self._clusters + 2:
                raise BrokenChain(f"The clusters of {path} lead to number {cluster}.")
            yield cluster
            cluster = self._fat[cluster] & _MASK
        raise BrokenChain(f"The clusters of {path} go round.")

    def _walk(self, cluster: int, prefix: str, depth: int) -> None:
        if depth > 40:
            raise BrokenChain(f"The folders in {prefix} go round.")
        try:
            data = b"".join(self._bytes(part) for part in self._chain(cluster, prefix or "/"))
        except BrokenChain:
            self.broken.append(prefix)
            return
        for entry in _entries(data, prefix):
            if entry.folder:
                self.folders.append(entry.path)
                self._walk(entry.cluster, entry.path + "/", depth + 1)
            else:
                self._found.setdefault(entry.path, entry)


def _entries(data: bytes, prefix: str) -> Iterator[Found]:
    """The files and folders in a folder's *data*, with their long names where there are any."""
    parts: dict[int, bytes] = {}
    check = -1
    for at in range(0, len(data), 32):
        raw = data[at : at + 32]
        if raw[0] == 0:
            return
        attributes = raw[11]
        if raw[0] == 0xE5:
            parts, check = {}, -1
        elif attributes & 0x3F == _LONG:
            if raw[0] & 0x40:
                parts, check = {}, raw[13]
            parts[raw[0] & 0x3F] = raw[1:11] + raw[14:26] + raw[28:32]
        elif attributes & _LABEL or raw[0] == ord("."):
            parts, check = {}, -1
        else:
            high, low, size = struct.unpack("<H4xHI", raw[20:32])
            name = _long_name(parts) if parts and check == _checksum(raw[:11]) else _short_name(raw)
            parts, check = {}, -1
            folder = bool(attributes & _FOLDER)
            yield Found(prefix + name, folder, high << 16 | low, 0 if folder else size)


def _long_name(parts: dict[int, bytes]) -> str:
    units = b"".join(parts[number] for number in sorted(parts)).decode("utf-16-le", "replace")
    return units.partition("\0")[0]


def _short_name(raw: bytes) -> str:
    first = b"\xe5" if raw[0] == 5 else raw[:1]
    stem = (first + raw[1:8]).decode("cp437").rstrip(" ")
    suffix = raw[8:11].decode("cp437").rstrip(" ")
    stem = stem.lower() if raw[12] & 8 else stem  # common practice since Windows NT
    suffix = suffix.lower() if raw[12] & 16 else suffix
    return f"{stem}.{suffix}" if suffix else stem


def _checksum(short: bytes) -> int:
    total = 0
    for byte in short:
        total = ((total >> 1 | (total & 1) << 7) + byte) & 0xFF
    return total
