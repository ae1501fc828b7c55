"""The two catalogue slots on a card, and the record that says which one counts. Pure.

A card holds two whole catalogues at most, ``SYNCD/cat-a.db`` and ``SYNCD/cat-b.db``, and beside
each a record of 64 bytes (``.rec``). An update writes the catalogue of the slot that is *not* in
use, waits until it is on the medium, writes that slot's record, and waits again. Whatever happens
in between, the other slot is untouched, so a player always finds one whole catalogue.

The player's rule: of the slots whose record is valid and whose catalogue file has the size that
the record says, take the one with the higher generation. If none is left, there is no catalogue.

The record, little-endian, no padding:

======  =====  ==============================================================
offset  bytes  meaning
======  =====  ==============================================================
0       8      magic, the ASCII letters ``SYNCDCAT``
8       4      format of this record, 1
12      4      generation, counts up with each catalogue put on the card
16      8      size of the catalogue file in bytes
24      16     content key, a digest of what the catalogue says
40      4      CRC-32 of the catalogue file (as in zip and PNG, ISO 3309)
44      16     reserved, zero
60      4      CRC-32 of the 60 bytes before it
======  =====  ==============================================================

Reading and writing the files is the applier's (writing) and ``reader``'s (reading) affair.
"""

import struct
import zlib
from dataclasses import dataclass
from typing import Literal

from syncd.model import CardPath

Slot = Literal["a", "b"]

FOLDER = CardPath("SYNCD")
"""The folder on a card that holds syncd's own files."""

RECORD_BYTES = 64
RECORD_FORMAT = 1
MAGIC = b"SYNCDCAT"
HIGHEST_GENERATION = 0xFFFF_FFFF

_BODY = struct.Struct("<8sIIQ16sI16s")
_CHECK = struct.Struct("<I")
_RESERVED = bytes(16)


@dataclass(frozen=True, slots=True)
class Record:
    """What a slot's record says of its catalogue file.

    ``content_key`` is the hexadecimal digest (32 digits) by which the planner knows the content;
    ``crc32`` is of the catalogue file's bytes.
    """

    generation: int
    size_bytes: int
    content_key: str
    crc32: int


@dataclass(frozen=True, slots=True)
class SlotState:
    """One slot as found on a card: its valid record, its catalogue file's size; None if absent."""

    record: Record | None = None
    size_bytes: int | None = None

    @property
    def usable(self) -> bool:
        """Whether a player may open this slot: a valid record, and a file of the size it says."""
        return self.record is not None and self.record.size_bytes == self.size_bytes


def catalogue_path(slot: Slot) -> CardPath:
    """Where the catalogue of *slot* is on a card."""
    return CardPath(f"{FOLDER}/cat-{slot}.db")


def record_path(slot: Slot) -> CardPath:
    """Where the record of *slot* is on a card."""
    return CardPath(f"{FOLDER}/cat-{slot}.rec")


def encode(record: Record) -> bytes:
    """The 64 bytes of *record*. Raises ValueError when a field does not fit its place."""
    key = bytes.fromhex(record.content_key)
    if len(key) != 16:
        raise ValueError(f"A content key has 32 hexadecimal digits, not {len(record.content_key)}.")
    try:
        body = _BODY.pack(
            MAGIC,
            RECORD_FORMAT,
            record.generation,
            record.size_bytes,
            key,
            record.crc32,
            _RESERVED,
        )
    except struct.error as error:
        raise ValueError(f"A number of {record} does not fit its place ({error}).") from error
    return body + _CHECK.pack(zlib.crc32(body))


def decode(data: bytes) -> Record | None:
    """The record in *data*; None where it is torn, damaged, of another format or never written."""
    if len(data) != RECORD_BYTES or not data.startswith(MAGIC):
        return None
    body = data[: _BODY.size]
    (check,) = _CHECK.unpack_from(data, _BODY.size)
    if zlib.crc32(body) != check:
        return None
    _, form, generation, size, key, crc, _ = _BODY.unpack(body)
    if form != RECORD_FORMAT:
        return None
    return Record(generation=generation, size_bytes=size, content_key=key.hex(), crc32=crc)


def newest(a: SlotState, b: SlotState) -> Slot | None:
    """The slot that a player opens, None when there is no catalogue to open.

    Equal generations do not come from syncd; then slot a counts, so that all readers agree.
    """
    if a.record is not None and a.usable:
        if b.record is not None and b.usable and b.record.generation > a.record.generation:
            return "b"
        return "a"
    return "b" if b.usable else None


def idle(a: SlotState, b: SlotState) -> Slot:
    """The slot that the next catalogue is written into: never the one that a player opens."""
    return "b" if newest(a, b) == "a" else "a"


def next_generation(a: SlotState, b: SlotState) -> int:
    """The generation of the next catalogue: above that of every valid record on the card.

    Records whose catalogue file is missing or has another size count as well: else such a file,
    turning up again, could outrank a newer catalogue. Raises ValueError after the highest one
    (four thousand million updates), when the card's folder SYNCD has to be made anew.
    """
    known = [slot.record.generation for slot in (a, b) if slot.record is not None]
    following = max(known, default=0) + 1
    if following > HIGHEST_GENERATION:
        raise ValueError("There is no generation number above the one on this card.")
    return following
