"""Reading a card again, byte by byte, against its manifest and its catalogue's record."""

import zlib
from collections.abc import Callable
from dataclasses import dataclass

from syncd.applier.reading import CardReading
from syncd.applier.volume import Volume, content_hash
from syncd.catalogue import slots
from syncd.errors import CardGone, CardProblem

Report = Callable[[str, int], None]
"""Told of each file that was read, and of its size."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One file that is not as it should be, and what is wrong with it, in words."""

    path: str
    reason: str


@dataclass(frozen=True, slots=True)
class Verified:
    """What a verification found. ``catalogue_damaged`` tells that the catalogue must be renewed."""

    files: int
    bytes: int
    faults: tuple[Fault, ...]
    catalogue_damaged: bool


def verify(volume: Volume, reading: CardReading, report: Report | None = None) -> Verified:
    """Read every file of the card and compare it with the manifest. Writes nothing.

    A file that cannot be read is a fault like one with other bytes. Raises CardGone when the card
    goes away meanwhile.
    """
    faults = [
        Fault(entry.path, "It is not on the card, or has another size than the manifest says.")
        for entry in reading.state.missing
    ]
    read = 0
    for entry in reading.state.entries:
        try:
            digest = content_hash(volume.chunks(entry.path))
        except CardGone:
            raise
        except CardProblem as problem:
            faults.append(Fault(entry.path, str(problem)))
            continue
        read += entry.size
        if digest != entry.xxh3_128:
            faults.append(Fault(entry.path, "Its content is not what was written."))
        if report is not None:
            report(entry.path, entry.size)
    used = slots.newest(*reading.slots)
    damaged = False
    if used is not None:
        record = reading.slots[0 if used == "a" else 1].record
        path = slots.catalogue_path(used)
        crc32 = 0
        try:
            for chunk in volume.chunks(path):
                crc32 = zlib.crc32(chunk, crc32)
                read += len(chunk)
        except CardGone:
            raise
        except CardProblem as problem:
            faults.append(Fault(path, str(problem)))
            damaged = True
        if not damaged and (record is None or crc32 != record.crc32):
            faults.append(Fault(path, "The catalogue is not what was written."))
            damaged = True
    return Verified(len(reading.state.entries), read, tuple(faults), damaged)
