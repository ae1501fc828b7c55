"""Which catalogue a player opens on a card, and whether a file is one that we can read.

Whatever is wrong with a file becomes a CardProblem that says so. What is read from it then is
``reader``'s affair.
"""

import os
import struct
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from syncd.catalogue import slots
from syncd.catalogue.contract import APPLICATION_ID, FORM
from syncd.catalogue.slots import RECORD_BYTES, Slot, SlotState
from syncd.errors import CardProblem

REMEDY = "Update the card, which puts a new catalogue there."
_HEADER = struct.Struct(">16sH")
_MAGIC = b"SQLite format 3\0"


@dataclass(frozen=True, slots=True)
class Found:
    """The catalogue that a player would open on a card."""

    path: Path
    slot: Slot
    record: slots.Record


def slot_state(card: Path, slot: Slot) -> SlotState:
    """The state of *slot* on the card mounted at *card*. What cannot be read counts as absent."""
    record_file = card / slots.record_path(slot)
    catalogue = card / slots.catalogue_path(slot)
    record: slots.Record | None = None
    size: int | None = None
    try:
        with record_file.open("rb") as file:
            record = slots.decode(file.read(RECORD_BYTES + 1))
    except OSError:
        record = None
    try:
        size = catalogue.stat().st_size if catalogue.is_file() else None
    except OSError:
        size = None
    return SlotState(record, size)


def find_catalogue(card: Path) -> Found:
    """The catalogue that a player opens on the card mounted at *card*, by the rule of ``slots``.

    Raises CardProblem when there is none.
    """
    states = {"a": slot_state(card, "a"), "b": slot_state(card, "b")}
    slot = slots.newest(states["a"], states["b"])
    record = states[slot].record if slot is not None else None
    if slot is None or record is None:
        raise CardProblem(
            f"There is no catalogue on the card at {card}: neither slot in its folder "
            f"{slots.FOLDER} holds a valid one. Update the card; if its profile asks for no "
            "catalogue, there is nothing to browse."
        )
    return Found(card / slots.catalogue_path(slot), slot, record)


def damaged(path: Path, cause: str) -> CardProblem:
    """The sentence for a catalogue with a fault."""
    return CardProblem(f"The catalogue {path} is damaged: {cause}. {REMEDY}")


def check_file(path: Path) -> None:
    """Raise CardProblem unless *path* begins as a catalogue of our form and has its full size."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as error:
        raise CardProblem(
            f"The catalogue {path} cannot be read: {error.strerror}. "
            "Check that the card is plugged in, and plug it in again."
        ) from error
    if len(header) < 100 or not header.startswith(_MAGIC):
        raise damaged(path, "it is not a SQLite database")
    form, application = struct.unpack_from(">I", header, 60)[0], header[68:72]
    if struct.unpack(">I", application)[0] != APPLICATION_ID:
        raise CardProblem(
            f"The file {path} is a database of another program, not a catalogue of syncd. "
            "Nothing in it was changed; give the card's own catalogue."
        )
    if form > FORM:
        raise CardProblem(
            f"The catalogue {path} has form {form}, and this syncd reads form {FORM}. "
            "Install a newer syncd, or update the card with this one."
        )
    if form < FORM:
        raise CardProblem(
            f"The catalogue {path} has form {form}, and this syncd reads form {FORM}. "
            f"Update the card, which puts a catalogue of form {FORM} there."
        )
    _, page = _HEADER.unpack_from(header)
    pages = struct.unpack_from(">I", header, 28)[0]
    if size != pages * (65536 if page == 1 else page):
        raise damaged(path, f"it has {size} bytes where its header says {pages} pages of {page}")


def address(path: Path) -> str:
    """The URI by which SQLite opens *path* read-only, without locks and journals."""
    return f"file:{quote(os.fsencode(path.absolute()))}?mode=ro&immutable=1"
