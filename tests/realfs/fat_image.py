"""Reads a FAT32 image as a player's firmware does.

From the Microsoft FAT specification (fatgen103): boot sector (page 9 ff.), FAT entries (page 16),
directory entries (page 22 ff.), long names and their checksum (page 27 ff.). The first FAT counts.
A chain that ends before the size in the directory entry, or that meets a free or bad cluster, makes
the file unreadable, as with the Linux driver.
"""

import struct
from collections.abc import Iterator

from card_image import BrokenChain, CardImage, Found

from syncd.applier.volume import Space

_LONG, _FOLDER, _LABEL = 0x0F, 0x10, 0x08
_LAST = 0x0FFF_FFF8
_MASK = 0x0FFF_FFFF


class FatImage(CardImage):
    """A FAT32 volume in *image*. Raises ValueError where it is none."""

    def __init__(self, image: bytes | bytearray | memoryview, name: str = "IMAGE") -> None:
        self._image = memoryview(image)
        sector, per_cluster, reserved, fats = struct.unpack_from("<HBHB", self._image, 11)
        sectors, fat_sectors = struct.unpack_from("<I", self._image, 32) + struct.unpack_from(
            "<I", self._image, 36
        )
        (root,) = struct.unpack_from("<I", self._image, 44)
        if bytes(self._image[510:512]) != b"\x55\xaa" or sector != 512 or fats != 2:
            raise ValueError("This is no FAT32 volume as mkfs.vfat makes it.")
        super().__init__(name, sector * per_cluster)
        self._data = (reserved + fats * fat_sectors) * sector
        self._clusters = (sectors - reserved - fats * fat_sectors) // per_cluster
        start = reserved * sector
        self._fat = self._image[start : start + fat_sectors * sector].cast("I")
        self._take(Found("", True, root, 0), 0)

    def space(self) -> Space:
        free = sum(not entry & _MASK for entry in self._fat[2 : self._clusters + 2])
        return Space(free * self.cluster, self._clusters * self.cluster, self.cluster)

    def _bytes(self, cluster: int) -> bytes:
        start = self._data + (cluster - 2) * self.cluster
        return bytes(self._image[start : start + self.cluster])

    def _chain(self, found: Found) -> Iterator[int]:
        cluster = found.cluster
        for _ in range(self._clusters + 1):
            if cluster >= _LAST:
                return
            if not 2 <= cluster < self._clusters + 2:
                raise BrokenChain(f"The clusters of {found.path} lead to number {cluster}.")
            yield cluster
            cluster = self._fat[cluster] & _MASK
        raise BrokenChain(f"The clusters of {found.path} go round.")

    def _entries(self, data: bytes, prefix: str) -> Iterator[Found]:
        return _entries(data, prefix)


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
