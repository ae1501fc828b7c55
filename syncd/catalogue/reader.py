"""Reading a catalogue as a player does: by ranges of ids, without a sort or an offset.

The file is opened read-only and as immutable, so nothing is ever written beside it on the card.
Whatever is wrong with a file becomes a CardProblem that says so. Choosing between the two slots
of a card is ``find_catalogue``; how things look is ``browse``'s.
"""

import os
import sqlite3
import struct
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple, Self, TypeVar
from urllib.parse import quote

from syncd.catalogue import slots
from syncd.catalogue.build import APPLICATION_ID, FORM
from syncd.catalogue.slots import RECORD_BYTES, Slot, SlotState
from syncd.errors import CardProblem
from syncd.model import CardPath

_HEADER = struct.Struct(">16sH")
_MAGIC = b"SQLite format 3\0"
_REMEDY = "Update the card, which puts a new catalogue there."


@dataclass(frozen=True, slots=True)
class HomeList:
    """One list of the home screen: ``first`` and ``count`` are its range of ids.

    ``first_letter`` and ``letter_count`` are the range of its jumps, if it has any.
    """

    id: int
    list: str
    label: str
    first: int
    count: int
    first_letter: int
    letter_count: int


@dataclass(frozen=True, slots=True)
class Jump:
    """A letter of a list, and the range of the list's ids under it."""

    id: int
    letter: str
    first: int
    count: int


class ComposerRow(NamedTuple):
    """A composer: ``label`` family name first, ``name`` in natural order."""

    id: int
    label: str
    name: str
    first_work: int
    work_count: int


class WorkRow(NamedTuple):
    """A work; ``catalogue`` numbers are separated by "; "."""

    id: int
    composer: int
    label: str
    title: str
    catalogue: str
    key: str | None
    first_recording: int
    recording_count: int


class RecordingRow(NamedTuple):
    """A recording; the label names its principal performers."""

    id: int
    work: int
    label: str
    year: int | None
    album: str
    first_track: int
    track_count: int
    first_credit: int
    credit_count: int
    duration_ms: int


class CreditRow(NamedTuple):
    """A credit; ``heading`` is the performer's id in the list performers, 0 if there is none."""

    id: int
    recording: int
    heading: int
    name: str
    role: str
    instrument: str | None


class ArtistRow(NamedTuple):
    """An artist of popular music."""

    id: int
    label: str
    first_album: int
    album_count: int


class AlbumRow(NamedTuple):
    """A popular album."""

    id: int
    artist: int
    label: str
    year: int | None
    first_track: int
    track_count: int
    duration_ms: int


class TrackRow(NamedTuple):
    """A movement (``recording`` is set) or a popular track (``album`` is set)."""

    id: int
    recording: int | None
    album: int | None
    number: int | None
    disc: int | None
    label: str
    artist: str | None
    first_credit: int
    credit_count: int
    duration_ms: int
    size: int
    path: CardPath


class HeadingRow(NamedTuple):
    """A performer or an instrument, with the range of its entries."""

    id: int
    home: int
    label: str
    first_entry: int
    entry_count: int


class EntryRow(NamedTuple):
    """A recording under a heading, labelled with composer and work."""

    id: int
    recording: int
    label: str


_MOST_LISTS = 1000
_LABEL = "coalesce(whole, label)"
R = TypeVar("R")


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


class Catalogue:
    """A catalogue opened for reading; a context manager.

    Lists are read in pages: ``first`` is an id, ``limit`` the number of rows. Raises CardProblem
    when the file is damaged, no catalogue, or of a form newer than this program.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._connection = self._opened(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    # Home

    def home(self) -> list[HomeList]:
        """The lists that there are, with their counts, in the order of a home screen."""
        columns = "id, list, label, first, count, first_letter, letter_count"
        return self._page(HomeList, "home", columns, 1, _MOST_LISTS)

    def list_named(self, name: str) -> HomeList:
        """The list of that name ("composers", "performers", ...)."""
        for row in self.home():
            if row.list == name:
                return row
        raise self._damaged(f"it has no list of {name}")

    def counts(self) -> dict[str, int]:
        """How many there are, by the name of the list."""
        return {row.list: row.count for row in self.home()}

    def letters(self, home: HomeList) -> list[Jump]:
        """The jumps within that list of ``home``."""
        return self._page(
            Jump, "letters", "id, letter, first, count", home.first_letter, home.letter_count
        )

    # By composer and work

    def composers(self, first: int = 1, limit: int = 8) -> list[ComposerRow]:
        """Composers from id *first* on."""
        return self._page(
            ComposerRow, "composers", "id, $, name, first_work, work_count", first, limit
        )

    def works(self, first: int, limit: int = 8) -> list[WorkRow]:
        """Works from id *first* on; a composer's are ``first_work`` and ``work_count``."""
        return self._page(
            WorkRow,
            "works",
            "id, composer, $, title, catalogue, key, first_recording, recording_count",
            first,
            limit,
        )

    def recordings(self, first: int, limit: int = 8) -> list[RecordingRow]:
        """Recordings from id *first* on; a work's are ``first_recording``, ``recording_count``."""
        return self._page(
            RecordingRow,
            "recordings",
            "id, work, $, year, album, first_track, track_count, first_credit, credit_count, "
            "duration_ms",
            first,
            limit,
        )

    def tracks(self, first: int, limit: int = 8) -> list[TrackRow]:
        """Movements or popular tracks from id *first* on (``first_track`` and ``track_count``)."""
        return self._page(
            TrackRow,
            "tracks",
            "id, recording, album, number, disc, $, artist, first_credit, credit_count, "
            "duration_ms, size, path",
            first,
            limit,
        )

    def credits(self, first: int, count: int) -> list[CreditRow]:
        """Credits of a recording or a movement (``first_credit`` and ``credit_count``)."""
        return self._page(
            CreditRow,
            "credits",
            "id, recording, heading, name, role, instrument",
            first,
            count,
        )

    # By performer

    def headings(self, first: int, limit: int = 8) -> list[HeadingRow]:
        """Performers or instruments from id *first* on (the range of a list of ``home``)."""
        return self._page(
            HeadingRow, "headings", "id, home, $, first_entry, entry_count", first, limit
        )

    def entries(self, first: int, limit: int = 8) -> list[EntryRow]:
        """A heading's recordings from id *first* on (``first_entry`` and ``entry_count``)."""
        return self._page(EntryRow, "entries", "id, recording, $", first, limit)

    # Popular

    def artists(self, first: int = 1, limit: int = 8) -> list[ArtistRow]:
        """Artists of popular music from id *first* on."""
        return self._page(ArtistRow, "artists", "id, $, first_album, album_count", first, limit)

    def albums(self, first: int, limit: int = 8) -> list[AlbumRow]:
        """Albums from id *first* on; an artist's are ``first_album`` and ``album_count``."""
        return self._page(
            AlbumRow,
            "albums",
            "id, artist, $, year, first_track, track_count, duration_ms",
            first,
            limit,
        )

    # By id, from a link

    def composer(self, ident: int) -> ComposerRow:
        """The composer with that id."""
        return self._one(self.composers(ident, 1), "composer", ident)

    def work(self, ident: int) -> WorkRow:
        """The work with that id."""
        return self._one(self.works(ident, 1), "work", ident)

    def recording(self, ident: int) -> RecordingRow:
        """The recording with that id."""
        return self._one(self.recordings(ident, 1), "recording", ident)

    def track(self, ident: int) -> TrackRow:
        """The track with that id."""
        return self._one(self.tracks(ident, 1), "track", ident)

    # Checks

    def faults(self) -> list[str]:
        """What SQLite's own check of the whole file finds wrong, empty if nothing."""
        found = self._rows(lambda text: str(text), "PRAGMA integrity_check")
        return [fault for fault in found if fault != "ok"]

    # How

    def _page(
        self, kind: Callable[..., R], table: str, columns: str, first: int, limit: int
    ) -> list[R]:
        # Names of tables and columns are this module's own; values go in as parameters.
        return self._rows(
            kind,
            f"SELECT {columns.replace('$', _LABEL)} FROM {table} "
            "WHERE id >= ? AND id < ? ORDER BY id",
            first,
            first + max(limit, 0),
        )

    def _rows(self, kind: Callable[..., R], statement: str, *values: int) -> list[R]:
        try:
            return [kind(*row) for row in self._connection.execute(statement, values)]
        except sqlite3.Error as error:
            raise self._damaged(str(error)) from error
        except OverflowError:
            return []  # an id beyond 64 bits is nobody's

    def _one(self, rows: Sequence[R], what: str, ident: int) -> R:
        if not rows:
            raise self._damaged(f"there is no {what} {ident}")
        return rows[0]

    def _damaged(self, cause: str) -> CardProblem:
        return CardProblem(f"The catalogue {self.path} is damaged: {cause}. {_REMEDY}")

    def _opened(self, path: Path) -> sqlite3.Connection:
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
            raise self._damaged("it is not a SQLite database")
        form, application = struct.unpack_from(">I", header, 60)[0], header[68:72]
        if struct.unpack(">I", application)[0] != APPLICATION_ID:
            raise CardProblem(
                f"The file {path} is a database of another program, not a catalogue of syncd. "
                "Nothing in it was changed; give the card's own catalogue."
            )
        if form > FORM:
            raise CardProblem(
                f"The catalogue {path} has form {form}, and this syncd reads up to form {FORM}. "
                "Install a newer syncd, or update the card with this one."
            )
        _, page = _HEADER.unpack_from(header)
        pages = struct.unpack_from(">I", header, 28)[0]
        if size != pages * (65536 if page == 1 else page):
            raise self._damaged(
                f"it has {size} bytes where its header says {pages} pages of {page}"
            )
        try:
            return sqlite3.connect(
                f"file:{quote(os.fsencode(path.absolute()))}?mode=ro&immutable=1",
                uri=True,
                isolation_level=None,
            )
        except sqlite3.Error as error:
            raise self._damaged(str(error)) from error


def pages(read: Callable[[int, int], list[R]], first: int, count: int) -> Iterator[R]:
    """All rows of a range, read page by page with *read* (a method of Catalogue)."""
    step = 256
    for start in range(first, first + count, step):
        rows = read(start, min(step, first + count - start))
        if not rows:
            return  # a count that no rows stand behind, in a damaged file, must not go on for ever
        yield from rows
