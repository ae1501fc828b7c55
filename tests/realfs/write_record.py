"""The record of dm-log-writes: every write to a card in the order of its completion, with flushes.

Form of the record: the kernel's Documentation/admin-guide/device-mapper/log-writes.rst and
drivers/md/dm-log-writes.c. A superblock (magic, version, number of entries, sector size), then
entries (sector, number of sectors, flags, length of data), each in a sector of its own with what
was written behind it. All numbers are little-endian.

A power cut leaves everything before the last flush, and of what came after it a prefix (a medium
that keeps the order) or any subset (one with a cache of its own).
"""

import random
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

MAGIC = 0x6A736677736872
_SUPER = struct.Struct("<QQQI")
_ENTRY = struct.Struct("<QQQQ")
FLUSH, FUA, DISCARD, MARK = 1, 2, 4, 8


@dataclass(frozen=True, slots=True)
class Write:
    """Bytes that reached the medium at a place; a flush has none, a mark a text.

    ``barrier``: all that comes before this write was on the medium before it was begun.
    """

    place: int
    data: bytes
    barrier: bool = False
    mark: str = ""


def read_record(path: Path) -> list[Write]:
    """All writes in *path*, in order. Raises ValueError for what is no record."""
    found: list[Write] = []
    with path.open("rb") as file:
        magic, version, count, sector = _SUPER.unpack(file.read(_SUPER.size))
        if magic != MAGIC or version != 1:
            raise ValueError(f"{path} is no record of dm-log-writes (version 1).")
        file.seek(sector)
        for _ in range(count):
            head = file.read(sector)
            place, sectors, flags, length = _ENTRY.unpack_from(head)
            if flags & MARK:
                found.append(Write(0, b"", mark=head[_ENTRY.size :][:length].decode()))
                continue
            if flags & DISCARD:
                raise ValueError(
                    "A card was told to discard: the record does not say what it left."
                )
            data = file.read(sectors * sector)
            found.append(Write(place * sector, data, bool(flags & FLUSH)))
            if flags & FUA:
                found.append(Write(0, b"", barrier=True))
    return found


def between(writes: Sequence[Write], start: str, end: str) -> tuple[list[Write], list[Write]]:
    """The writes before mark *start*, and those from it to mark *end*."""
    marks = {write.mark: at for at, write in enumerate(writes) if write.mark}
    first, last = marks[start], marks[end]
    return (
        [write for write in writes[:first] if not write.mark],
        [write for write in writes[first:last] if not write.mark],
    )


@dataclass(frozen=True, slots=True)
class State:
    """The first *prefix* writes are on the medium, and of those after them *others*, by number."""

    prefix: int
    others: tuple[int, ...] = ()


def states(writes: Sequence[Write], subsets: int, seed: int) -> Iterator[State]:
    """Every prefix, and behind each flush *subsets* random subsets of what came until the next."""
    draw = random.Random(seed)
    for prefix in range(len(writes) + 1):
        yield State(prefix)
    starts = [0, *(at for at, write in enumerate(writes) if write.barrier)]
    for start, end in zip(starts, [*starts[1:], len(writes)], strict=True):
        loose = [at for at in range(start, end) if writes[at].data]
        if len(loose) < 2:
            continue
        for _ in range(subsets):
            share = draw.choice((0.1, 0.3, 0.5, 0.7, 0.9))
            taken = tuple(at for at in loose if draw.random() < share)
            yield State(start, taken)


class Medium:
    """An image in memory that goes from one state of a record to another."""

    def __init__(self, image: bytes, writes: Sequence[Write]) -> None:
        self.image = bytearray(image)
        self._writes = writes
        self._prefix = 0
        self._undo: list[tuple[int, bytes]] = []

    def go_to(self, state: State) -> None:
        """Make ``image`` that of *state*; prefixes never shrink from one call to the next."""
        for place, old in reversed(self._undo):
            self.image[place : place + len(old)] = old
        self._undo.clear()
        if state.prefix < self._prefix:
            raise ValueError("The prefixes must come in order.")
        while self._prefix < state.prefix:
            write = self._writes[self._prefix]
            self.image[write.place : write.place + len(write.data)] = write.data
            self._prefix += 1
        for at in state.others:
            write = self._writes[at]
            end = write.place + len(write.data)
            self._undo.append((write.place, bytes(self.image[write.place : end])))
            self.image[write.place : end] = write.data
