"""Files of our own on a card, written well; catalogues go into the slot that no player opens."""

import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

from syncd.applier.applied import Applied
from syncd.applier.readback import failing
from syncd.applier.volume import CHUNK, Volume, holds
from syncd.catalogue import slots
from syncd.catalogue.slots import Record, SlotState


class OwnFiles:
    """Writes catalogue and manifest to *volume*, whose slots are *found*; counts bytes in *done*.

    With *read_back* each is read again after the barrier that it passes anyway.
    """

    def __init__(
        self,
        volume: Volume,
        found: tuple[SlotState, SlotState],
        done: Applied,
        *,
        read_back: bool,
    ) -> None:
        self.volume = volume
        self.slots = found
        self.done = done
        self.read_back = read_back

    def write(self, path: str, chunks: Callable[[], Iterator[bytes]]) -> int:
        """Write a file of our own, pass a barrier and read it back; once more if it differs.

        Returns its size in bytes. Raises CardFailing when it differs twice, other CardProblems.
        """
        for _ in range(2):
            size, digest = self.volume.write(path, chunks())
            self.done.bytes_written += size
            self.volume.barrier()
            if not self.read_back or holds(self.volume, path, size, digest):
                return size
            self.volume.remove(path)
        self.volume.barrier()
        raise failing(self.volume.name, [path])

    def publish(self, built: Path, key: str) -> None:
        """Put the catalogue *built* into the idle slot, and let players choose it."""
        slot = slots.idle(*self.slots)
        self._retire(slot)
        check = _Check(built)
        size = self.write(slots.catalogue_path(slot), check.chunks)
        record = Record(slots.next_generation(*self.slots), size, key, check.crc32)
        self.write(slots.record_path(slot), lambda: iter([slots.encode(record)]))
        state = SlotState(record, size)
        self.slots = (state, self.slots[1]) if slot == "a" else (self.slots[0], state)

    def retire_older(self) -> None:
        """Take the older catalogue away: it may name what is gone by now."""
        self._retire(slots.idle(*self.slots))

    def retire_both(self) -> None:
        """Take both catalogues away, each past a barrier."""
        # The older one first: should it stay alone, it may name what is gone by now.
        older = slots.idle(*self.slots)
        self._retire(older)
        self.volume.barrier()
        self._retire("a" if older == "b" else "b")
        self.volume.barrier()

    def _retire(self, slot: slots.Slot) -> None:
        """Take a slot's record away before its catalogue, so that nobody opens what is going."""
        self.volume.remove(slots.record_path(slot))
        self.volume.remove(slots.catalogue_path(slot))


class _Check:
    """Reads a file once for writing it, and keeps the CRC-32 of what went by."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.crc32 = 0

    def chunks(self) -> Iterator[bytes]:
        self.crc32 = 0
        with self._path.open("rb") as file:
            while chunk := file.read(CHUNK):
                self.crc32 = zlib.crc32(chunk, self.crc32)
                yield chunk
