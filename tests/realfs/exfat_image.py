"""Reads an exFAT image as a player's firmware does.

From Microsoft's exFAT specification: boot sector (3.1), FAT (4.1), directory entries (6), bitmap of
clusters (7.1), file entry and checksum of its set (7.4, 6.3.3), stream extension (7.6), names
(7.7). A set whose checksum is wrong is none (6.3.3). The FAT counts only for what does not lie in a
row (6.3.4.2). Section numbers from memory.
"""

import struct
from collections.abc import Iterator

from card_image import BrokenChain, CardImage, Found

from syncd.applier.volume import Space

_BITMAP, _FILE, _STREAM, _NAME = 0x81, 0x85, 0xC0, 0xC1
_FOLDER = 0x10
_IN_A_ROW = 0x02
_LAST = 0xFFFF_FFFF


class ExfatImage(CardImage):
    """An exFAT volume in *image*. Raises ValueError where it is none."""

    def __init__(self, image: bytes | bytearray | memoryview, name: str = "IMAGE") -> None:
        self._image = memoryview(image)
        if bytes(self._image[3:11]) != b"EXFAT   " or self._image[110] != 1:
            raise ValueError("This is no exFAT volume with one FAT.")
        at, length, heap, self._clusters, root = struct.unpack_from("<IIIII", self._image, 80)
        sector = 1 << self._image[108]
        super().__init__(name, sector << self._image[109])
        self._heap = heap * sector
        self._fat = self._image[at * sector : (at + length) * sector].cast("I")
        self._bitmap = Found("", False, 0, 0)
        self._all: list[Found] = []
        self.torn = 0
        """Sets of entries whose checksum is wrong."""
        self._take(Found("", True, root, self._length(root)), 0)

    def space(self) -> Space:
        free = self._clusters - self._taken().bit_count()
        return Space(free * self.cluster, self._clusters * self.cluster, self.cluster)

    def unmarked(self) -> list[str]:
        """Files and folders with clusters that the bitmap calls free."""
        taken = self._taken()
        return [
            found.path
            for found in self._all
            if any(not taken >> cluster - 2 & 1 for cluster in self._chain(found))
        ]

    def _taken(self) -> int:
        """The bitmap: a bit a cluster, the first one's the lowest."""
        data = b"".join(self._bytes(cluster) for cluster in self._chain(self._bitmap))
        return int.from_bytes(data, "little") & ((1 << self._clusters) - 1)

    def _length(self, root: int) -> int:
        """Bytes of the root, of which nothing but the FAT tells the size."""
        found = Found("", True, root, self._clusters * self.cluster)
        return sum(1 for _ in self._chain(found, whole=False)) * self.cluster

    def _bytes(self, cluster: int) -> bytes:
        start = self._heap + (cluster - 2) * self.cluster
        return bytes(self._image[start : start + self.cluster])

    def _chain(self, found: Found, *, whole: bool = True) -> Iterator[int]:
        cluster = found.cluster
        for _ in range(-(-found.size // self.cluster)):
            if not 2 <= cluster < self._clusters + 2:
                if cluster == _LAST and not whole:
                    return
                raise BrokenChain(f"The clusters of {found.path} lead to number {cluster}.")
            yield cluster
            cluster = cluster + 1 if found.in_a_row else self._fat[cluster]

    def _entries(self, data: bytes, prefix: str) -> Iterator[Found]:
        at = 0
        while at < len(data) and data[at]:
            entry = data[at : at + 32]
            at += 32
            if entry[0] == _BITMAP and not prefix:
                first, size = struct.unpack("<IQ", entry[20:32])
                self._bitmap = Found("", False, first, size)
            if entry[0] != _FILE:
                continue
            more = entry[1]
            whole = data[at - 32 : at + more * 32]
            if (
                not 2 <= more <= 18
                or len(whole) != (more + 1) * 32
                or checksum(whole) != struct.unpack("<H", whole[2:4])[0]
                or whole[32] != _STREAM
            ):
                self.torn += 1
                continue
            at += more * 32
            stream = whole[32:64]
            units = b"".join(
                whole[start + 2 : start + 32]
                for start in range(64, len(whole), 32)
                if whole[start] == _NAME
            )
            name = units[: stream[3] * 2].decode("utf-16-le", "replace")
            first, size = struct.unpack("<IQ", stream[20:32])
            folder = bool(entry[4] & _FOLDER)
            found = Found(prefix + name, folder, first, size, bool(stream[1] & _IN_A_ROW))
            self._all.append(found)
            yield found


def checksum(entries: bytes) -> int:
    """SetChecksum: all bytes of the set but those of the checksum itself (figure 2)."""
    total = 0
    for at, byte in enumerate(entries):
        if at not in (2, 3):
            total = ((total << 15 | total >> 1) + byte) & 0xFFFF
    return total
