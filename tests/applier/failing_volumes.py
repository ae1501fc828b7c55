"""Cards that do not keep what is written to them: a bit that flips, and a size that is a lie."""

import errno
from collections.abc import Callable, Iterable, Iterator

from counting_volume import CountingVolume, Inode

from syncd.applier.manifest import INCOMING
from syncd.errors import CardProblem
from syncd.model import ContentHash


class FlippingVolume(CountingVolume):
    """Flips a bit in the middle of the first *times* files written to paths that *hits* names."""

    def __init__(self, hits: Callable[[str], bool], times: int) -> None:
        super().__init__()
        self.hits = hits
        self.times = times

    def write(self, path: str, chunks: Iterable[bytes]) -> tuple[int, ContentHash]:
        written = super().write(path, chunks)
        if self.times and self.hits(path):
            self.times -= 1
            inode = self._now.files[self._key(path)][1]
            middle = len(inode.data) // 2
            flipped = bytes([inode.data[middle] ^ 8])
            inode.data = inode.data[:middle] + flipped + inode.data[middle + 1 :]
        return written


class BadSectorVolume(CountingVolume):
    """Cannot read the first *times* files aside that are asked for."""

    def __init__(self, times: int) -> None:
        super().__init__()
        self.times = times

    def chunks(self, path: str) -> Iterator[bytes]:
        if self.times and path.startswith(INCOMING):
            self.times -= 1
            raise CardProblem(f"{path} gives an input/output error.") from OSError(errno.EIO, "")
        return super().chunks(path)


class LyingVolume(CountingVolume):
    """Has *real* clusters for music and says that it has more: addresses wrap around.

    Clusters are given out in order and never twice. What syncd keeps of its own is taken to lie
    where the card is real.
    """

    def __init__(self, real: int) -> None:
        super().__init__()
        self.real = real
        self._medium: dict[int, bytes] = {}
        self._next = 0
        self._begins: dict[int, int] = {}
        self._alive: list[Inode] = []  # so that no id is used again

    def write(self, path: str, chunks: Iterable[bytes]) -> tuple[int, ContentHash]:
        written = super().write(path, chunks)
        if path.startswith(INCOMING):
            inode = self._now.files[self._key(path)][1]
            self._alive.append(inode)
            self._begins[id(inode)] = self._next
            for at in range(0, len(inode.data), self.cluster):
                self._medium[self._next % self.real] = inode.data[at : at + self.cluster]
                self._next += 1
        return written

    def chunks(self, path: str) -> Iterator[bytes]:
        inode = self._now.files[self._key(path)][1]
        begin = self._begins.get(id(inode))
        if begin is None:
            yield from super().chunks(path)
            return
        left = len(inode.data)
        while left > 0:
            cluster = self._medium[begin % self.real].ljust(self.cluster, b"\0")
            yield cluster[:left]
            left -= self.cluster
            begin += 1
