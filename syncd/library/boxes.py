"""Chunks of RIFF, AIFF and DSDIFF files, boxes of MP4 and objects of ASF: where they begin and end.

Only the outline is read, never the content. Sizes that reach past the end of the file are kept as
they are claimed, so that a caller can tell a truncated file. Sources: RIFF/WAVE and RF64 (EBU Tech
3306: 64-bit sizes in ds64), AIFF 1.3, ISO/IEC 14496-12 §4.2 (box sizes 0 and 1),
DSDIFF 1.5 (64-bit sizes, without the 12-byte head), ASF rev. 01.20 §2 (sizes with the head).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO, Literal

from syncd.library.tagblocks import read_at

_MOST_CHUNKS = 20_000
_STREAMED = 0xFFFF_FFFF


@dataclass(frozen=True, slots=True)
class Chunk:
    """A chunk's or box's kind and body. ``size`` is what the file claims, ``held`` what is there.

    ``open_ended`` marks a body that runs to the end of the file since its size was never filled in.
    """

    kind: bytes
    start: int
    size: int
    held: int
    open_ended: bool = False

    @property
    def truncated(self) -> bool:
        """Whether the file ends before the body does."""
        return self.held < self.size


def iff_chunks(file: BinaryIO, size: int) -> list[Chunk]:
    """The chunks of a RIFF, RF64 or FORM file after its 12-byte head."""
    head = read_at(file, 0, 12)
    order: Literal["big", "little"] = "big" if head[:4] == b"FORM" else "little"
    chunks: list[Chunk] = []
    wide_data: int | None = None
    position = 12
    while position + 8 <= size and len(chunks) < _MOST_CHUNKS:
        raw = read_at(file, position, 8)
        kind, length = raw[:4], int.from_bytes(raw[4:], order)
        start = position + 8
        open_ended = False
        if kind == b"ds64" and head[:4] in (b"RF64", b"BW64"):
            wide_data = int.from_bytes(read_at(file, start + 8, 8), "little")
        if kind == b"data" and length == _STREAMED:
            open_ended = wide_data is None
            length = size - start if wide_data is None else wide_data
        held = max(0, min(length, size - start))
        chunks.append(Chunk(kind, start, length, held, open_ended))
        position = start + length + (length & 1)
    return chunks


def wide_chunks(file: BinaryIO, start: int, end: int) -> list[Chunk]:
    """The chunks of a DSDIFF file between *start* and *end*: like AIFF's, with 64-bit sizes."""
    chunks: list[Chunk] = []
    position = start
    while position + 12 <= end and len(chunks) < _MOST_CHUNKS:
        raw = read_at(file, position, 12)
        length, body = int.from_bytes(raw[4:], "big"), position + 12
        chunks.append(Chunk(raw[:4], body, length, max(0, min(length, end - body))))
        position = body + length + (length & 1)
    return chunks


def asf_objects(file: BinaryIO, start: int, end: int) -> Iterator[Chunk]:
    """The ASF objects between *start* and *end*; a kind is a GUID as it stands in the file."""
    position = start
    for _ in range(_MOST_CHUNKS):
        head = read_at(file, position, 24) if position + 24 <= end else b""
        length = int.from_bytes(head[16:24], "little")
        if length < 24:
            return
        held = max(0, min(length, end - position) - 24)
        yield Chunk(head[:16], position + 24, length - 24, held)
        position += length


def boxes(file: BinaryIO, start: int, end: int) -> Iterator[Chunk]:
    """The MP4 boxes between *start* and *end* (the file's end, or the body of an outer box)."""
    position = start
    for _ in range(_MOST_CHUNKS):
        head = read_at(file, position, 16) if position + 8 <= end else b""
        if len(head) < 8:
            return
        length, kind, body = int.from_bytes(head[:4], "big"), head[4:8], 8
        open_ended = length == 0
        if length == 1:
            length, body = int.from_bytes(head[8:16], "big"), 16
        elif length == 0:
            length = end - position
        if length < body:
            return
        held = max(0, min(length, end - position) - body)
        yield Chunk(kind, position + body, length - body, held, open_ended)
        position += length


def box_at(file: BinaryIO, start: int, end: int, *path: bytes) -> Chunk | None:
    """The first box reached by *path* of kinds from *start*, None if there is none."""
    found: Chunk | None = None
    for kind in path:
        found = next((box for box in boxes(file, start, end) if box.kind == kind), None)
        if found is None:
            return None
        start, end = found.start, found.start + found.held
    return found
