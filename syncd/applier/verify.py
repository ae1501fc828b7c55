"""Reading a card again, byte by byte, against its manifest and its catalogue's record.

Everything is read past the system's memory where that can be done (``uncached``). What differs is
looked at closer, so that the listener is told what kind of damage it is: see ``ailing``.
"""

import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import xxhash

from syncd.applier import manifest
from syncd.applier.ailing import Heads, ailment
from syncd.applier.readback import in_groups
from syncd.applier.reading import CardReading
from syncd.applier.volume import Volume
from syncd.catalogue import slots
from syncd.catalogue.slots import SlotState
from syncd.errors import CardGone, CardProblem
from syncd.planner.card_state import ManifestEntry

Report = Callable[[str, int], None]
"""Told of each file that was read, and of its size."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One file that is not as it should be, and what is wrong with it, in words."""

    path: str
    reason: str


@dataclass(frozen=True, slots=True)
class Verified:
    """What a verification found.

    ``catalogue_damaged`` tells that the catalogue must be renewed. ``failing``: the card gave back
    other bytes than were written to it, or none, so it should be replaced; a file that is gone or
    was written over by something else does not say that. ``from_memory`` counts the files that
    the system may have read from its memory instead of the card.
    """

    files: int
    bytes: int
    faults: tuple[Fault, ...]
    catalogue_damaged: bool
    failing: bool = False
    from_memory: int = 0


def verify(volume: Volume, reading: CardReading, report: Report | None = None) -> Verified:
    """Read every file of the card and compare it with the manifest. Writes nothing.

    A file that cannot be read is a fault like one with other bytes. Raises CardGone when the card
    goes away meanwhile.
    """
    verifying = _Verifying(volume, reading, report or (lambda path, size: None))
    verifying.files()
    damaged = verifying.catalogue()
    return Verified(
        len(reading.state.entries),
        verifying.read,
        tuple(verifying.faults),
        damaged,
        verifying.failing,
        verifying.from_memory,
    )


def disbelieved(reading: CardReading, found: Verified) -> CardReading:
    """*reading* without the files, and the catalogue, that *found* calls damaged."""
    damaged = {fault.path for fault in found.faults}
    state = reading.state
    missing = tuple(entry for entry in state.entries if entry.path in damaged)
    state = replace(
        state,
        entries=tuple(entry for entry in state.entries if entry.path not in damaged),
        missing=(*state.missing, *missing),
        # A key that is no catalogue's: it is there, and must be replaced.
        catalogue_key="" if found.catalogue_damaged else state.catalogue_key,
    )
    both = reading.slots
    if found.catalogue_damaged:
        # Neither may be kept, and the next one's generation must be above theirs.
        both = (SlotState(both[0].record, None), SlotState(both[1].record, None))
    return replace(reading, state=state, slots=both)


_LOST = "It is damaged, or gone: which files are syncd's, and what they held, is not known."


class _Verifying:
    def __init__(self, volume: Volume, reading: CardReading, report: Report) -> None:
        self.volume = volume
        self.reading = reading
        self.report = report
        self.heads = Heads(volume.space().cluster)
        self.faults: list[Fault] = []
        self.read = 0
        self.failing = False
        self.from_memory = 0

    def files(self) -> None:
        """Every file that the manifest lists."""
        if self.reading.manifest_lost:
            self.faults.append(Fault(manifest.MANIFEST, _LOST))
        for entry in self.reading.state.missing:
            self.faults.append(Fault(entry.path, self._missing(entry)))
        bad = []
        for group in in_groups((entry, entry.size) for entry in self.reading.state.entries):
            self.from_memory += self.volume.forget([entry.path for entry in group])
            bad += [(entry, digest) for entry in group if (digest := self._unlike(entry))]
        # When all were read: what a file holds instead may belong to any other one.
        for entry, first in bad:
            self._fault(entry.path, ailment(self.volume, entry, first, self.heads))

    def _unlike(self, entry: ManifestEntry) -> str:
        """The hash of what is read of *entry*'s file, if that is another one."""
        digest = xxhash.xxh3_128()
        try:
            for chunk in self.heads.watched(entry.path, self.volume.chunks(entry.path)):
                digest.update(chunk)
        except CardGone:
            raise
        except CardProblem as problem:
            self._fault(entry.path, str(problem))
            return ""
        self.read += entry.size
        self.report(entry.path, entry.size)
        found = digest.hexdigest()
        return "" if found == entry.xxh3_128 else found

    def _missing(self, entry: ManifestEntry) -> str:
        size = self.reading.sizes.get(entry.path)
        if size is None:
            return "It is not on the card."
        return (
            f"It has {size} bytes instead of {entry.size}: cut, or written over by another program."
        )

    def _fault(self, path: str, reason: str) -> None:
        self.faults.append(Fault(path, reason))
        self.failing = True

    def catalogue(self) -> bool:
        """The catalogue that a player opens; whether it is damaged."""
        used = slots.newest(*self.reading.slots)
        if used is None:
            return False
        record = self.reading.slots[0 if used == "a" else 1].record
        path = slots.catalogue_path(used)
        crc32 = 0
        try:
            self.from_memory += self.volume.forget([path])
            for chunk in self._counted(path):
                crc32 = zlib.crc32(chunk, crc32)
        except CardGone:
            raise
        except CardProblem as problem:
            self._fault(path, str(problem))
            return True
        if record is None or crc32 != record.crc32:
            self._fault(path, "The catalogue is not what was written.")
            return True
        return False

    def _counted(self, path: str) -> Iterator[bytes]:
        for chunk in self.volume.chunks(path):
            self.read += len(chunk)
            yield chunk
