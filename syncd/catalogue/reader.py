"""Reading a catalogue as a player does: by the statements of the contract, and no others.

The file is opened read-only and as immutable, so nothing is ever written beside it on the card.
Where statements run is behind a port: at home Python's own SQLite, for counting what they cost
``cost``. How things look is ``browse``'s.
"""

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple, Protocol, Self, TypeVar

from syncd.catalogue import contract
from syncd.catalogue.contract import FIRST_PREFIX, ROWS, Statement
from syncd.catalogue.opening import address, check_file, damaged, find_catalogue
from syncd.catalogue.rows import HOME
from syncd.model import CardPath

__all__ = ["Catalogue", "find_catalogue", "pages"]


@dataclass(frozen=True, slots=True)
class HomeList:
    """One list of the home screen, or a range: ``first`` and ``count`` are its ids.

    ``jumps`` is the number of letters to jump by, 0 where the list has none.
    """

    id: int
    list: str
    label: str
    first: int
    count: int
    jumps: int


@dataclass(frozen=True, slots=True)
class Jump:
    """A letter of a list, and the id of the first row under it."""

    letter: str
    first: int


@dataclass(frozen=True, slots=True)
class EntryRow:
    """A row of a list: what it shows, what it leads to, and for which entry it stands (or 0)."""

    id: int
    label: str
    number: int
    seconds: int
    first: int
    count: int
    item: int


@dataclass(frozen=True, slots=True)
class PrefixRow:
    """A prefix: the letters that can follow, its hits from ``first`` on, the best of them."""

    id: int
    letters: str
    child: int
    count: int
    first: int
    best: int
    best_count: int


class LettersRow(NamedTuple):
    """The letters of a list, and where each begins: three bytes a letter, the low one first."""

    id: int
    letters: str
    starts: bytes


class GroupRow(NamedTuple):
    """A recording (``parent`` is its work) or an album (its artist); see ``schema.sql``.

    What is said of composer and work is None for an album. ``catalogue`` numbers are separated by
    "; ".
    """

    id: int
    parent: int
    first_track: int
    track_count: int
    first_credit: int
    credit_count: int
    year: int | None
    added: int | None
    art: str | None
    album: str
    performers: str | None
    composer: int | None
    composer_name: str | None
    title: str | None
    key: str | None
    catalogue: str | None


class TrackRow(NamedTuple):
    """A movement or an album's track; ``gain`` in hundredths of a decibel."""

    id: int
    label: str
    number: int
    milliseconds: int
    path: CardPath
    gain: int | None
    size: int
    parent: int
    disc: int
    first_credit: int
    credit_count: int
    artist: str | None
    whole: str | None


class CreditRow(NamedTuple):
    """A credit; ``performer`` is their id in the list performers, 0 if there is none."""

    id: int
    performer: int
    name: str
    role: str
    instrument: str | None


class Playing(NamedTuple):
    """All about a track: its recording with composer and work, or its album; and the credits."""

    track: TrackRow
    group: GroupRow
    credits: tuple[CreditRow, ...]

    @property
    def place(self) -> int:
        """The track's place in its recording or album, from 1 on."""
        return self.track.id - self.group.first_track + 1


class Found(NamedTuple):
    """What a prefix finds: itself, and the best hits."""

    prefix: PrefixRow
    best: list[EntryRow]


class Runs(Protocol):
    """Where statements are run. Raises CardProblem for a damaged file."""

    def run(self, statement: Statement, first: int, rows: int) -> list[tuple[object, ...]]:
        """At most *rows* rows of *statement* from id *first* on."""

    def close(self) -> None:
        """Let go of the file."""


class PlainConnection:
    """The port of everyday: Python's own SQLite."""

    def __init__(self, path: Path) -> None:
        self._path = path
        try:
            self.connection = sqlite3.connect(address(path), uri=True, isolation_level=None)
        except sqlite3.Error as error:
            raise damaged(path, str(error)) from error

    def run(self, statement: Statement, first: int, rows: int) -> list[tuple[object, ...]]:
        """At most *rows* rows of *statement* from id *first* on."""
        return self.ask(statement.sql, first, rows)

    def ask(self, sql: str, *values: int) -> list[tuple[object, ...]]:
        """The rows of *sql*."""
        try:
            return self.connection.execute(sql, values).fetchall()
        except sqlite3.Error as error:
            raise damaged(self._path, str(error)) from error
        except OverflowError:
            return []  # an id beyond 64 bits is nobody's

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()


R = TypeVar("R")


class Catalogue:
    """A catalogue opened for reading; a context manager.

    Lists are read in pages: ``first`` is an id, ``limit`` the number of rows. Raises CardProblem
    when the file is damaged, no catalogue, or not of our form.
    """

    def __init__(self, path: Path, runs: Callable[[Path], Runs] = PlainConnection) -> None:
        self.path = path
        check_file(path)
        self._runs = runs(path)
        self._home: list[HomeList] | None = None
        self._ranges: dict[str, HomeList] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._runs.close()

    # Home and lists

    def home(self) -> list[HomeList]:
        """The lists and ranges, with their counts, in the order of a home screen."""
        return self._page(HomeList, contract.HOME, 1, len(HOME))

    def list_named(self, name: str) -> HomeList:
        """The list or range of that name ("composers", "works", ...)."""
        return self.range_of(name)

    def counts(self) -> dict[str, int]:
        """How many there are, by the name of the list."""
        return {row.list: row.count for row in self.home()}

    def letters(self, home: HomeList) -> list[Jump]:
        """The jumps within that list of ``home``."""
        if not home.jumps:
            return []
        row = self._one(self._page(LettersRow, contract.LETTERS, home.id, 1), "letters", home.id)
        starts = [
            int.from_bytes(row.starts[at : at + 3], "little") for at in range(0, len(row.starts), 3)
        ]
        return [Jump(*jump) for jump in zip(row.letters, starts, strict=False)]

    def entries(self, first: int, limit: int = ROWS) -> list[EntryRow]:
        """Rows of a list from any place on, be they in entries or in links."""
        here = self.range_of("entries")
        inside = here.first <= first < here.first + here.count
        return self._page(EntryRow, contract.ENTRIES if inside else contract.LINKS, first, limit)

    def entry(self, ident: int) -> EntryRow:
        """The entry with that id."""
        return self._one(self.entries(ident, 1), "entry", ident)

    def children(self, entry: EntryRow | HomeList) -> Iterator[EntryRow]:
        """All rows of the list that *entry* leads to, which are no tracks."""
        return pages(self.entries, entry.first, entry.count)

    def between(self, first: int, end: int) -> Iterator[EntryRow]:
        """The rows of a list from id *first* on, before id *end*."""
        return pages(self.entries, first, end - first)

    # Search

    def prefix(self, ident: int = FIRST_PREFIX) -> PrefixRow:
        """The prefix with that id."""
        return self._one(self._page(PrefixRow, contract.PREFIX, ident, 1), "prefix", ident)

    def turned(self, prefix: PrefixRow, letter: str) -> PrefixRow | None:
        """The prefix one *letter* longer, None if nothing goes on with it."""
        place = prefix.letters.find(letter)
        return self.prefix(prefix.child + place) if letter and place >= 0 else None

    def found(self, prefix: PrefixRow) -> Found:
        """The best hits of *prefix*."""
        return Found(prefix, self.entries(prefix.best, prefix.best_count))

    # Works, recordings, albums, tracks

    def group(self, ident: int) -> GroupRow:
        """The recording or album with that id."""
        return self._one(
            self._page(GroupRow, contract.GROUP, ident, 1), "recording or album", ident
        )

    def tracks(self, first: int, limit: int = ROWS) -> list[TrackRow]:
        """Tracks from id *first* on: to show, or to play one after the other."""
        return self._page(TrackRow, contract.TRACKS, first, limit)

    def track(self, ident: int) -> TrackRow:
        """The track with that id."""
        return self._one(self.tracks(ident, 1), "track", ident)

    def credits(self, first: int, count: int) -> list[CreditRow]:
        """Credits of a recording or a movement (``first_credit`` and ``credit_count``)."""
        return list(pages(self._credits, first, count))

    def _credits(self, first: int, limit: int) -> list[CreditRow]:
        return self._page(CreditRow, contract.CREDITS, first, limit)

    def playing(self, ident: int) -> Playing:
        """Everything about the track with that id, its first eight credits among it."""
        track = self.track(ident)
        group = self.group(track.parent)
        shown = self._credits(track.first_credit, min(track.credit_count, ROWS))
        return Playing(track, group, tuple(shown))

    # What an id stands for

    def kind_of(self, ident: int) -> str:
        """The list or range of home that *ident* belongs to; empty for a row that is a link.

        Home is read once and remembered, as a player does.
        """
        for row in self.remembered_home():
            if row.first <= ident < row.first + row.count:
                return row.list
        return ""

    def leads_to_tracks(self, entry: EntryRow) -> bool:
        """Whether what *entry* leads to are tracks; else they are entries."""
        tracks = self.range_of("tracks")
        return tracks.first <= entry.first < tracks.first + tracks.count

    def range_of(self, name: str) -> HomeList:
        """The list or range of that name, as remembered."""
        if self._ranges is None:
            self._ranges = {row.list: row for row in self.remembered_home()}
        if name not in self._ranges:
            raise damaged(self.path, f"it has no list of {name}")
        return self._ranges[name]

    def remembered_home(self) -> list[HomeList]:
        """The rows of home, read when they are first asked for."""
        if self._home is None:
            self._home = self.home()
        return self._home

    # How

    def _page(
        self, kind: Callable[..., R], statement: Statement, first: int, limit: int
    ) -> list[R]:
        if limit <= 0:
            return []
        try:
            return [kind(*row) for row in self._runs.run(statement, first, limit)]
        except TypeError as error:
            raise damaged(self.path, str(error)) from error

    def _one(self, rows: Sequence[R], what: str, ident: int) -> R:
        if not rows or rows[0].id != ident:  # type: ignore[attr-defined]
            raise damaged(self.path, f"there is no {what} {ident}")
        return rows[0]


def faults(path: Path) -> list[str]:
    """What SQLite's own check of the whole file finds wrong, empty if nothing."""
    connection = PlainConnection(path)
    try:
        found: Iterable[tuple[object, ...]] = connection.ask("PRAGMA integrity_check")
        return [str(row[0]) for row in found if row[0] != "ok"]
    finally:
        connection.close()


def pages(read: Callable[[int, int], list[R]], first: int, count: int) -> Iterator[R]:
    """All rows of a range, read page by page with *read* (a method of Catalogue)."""
    step = 256
    for start in range(first, first + count, step):
        rows = read(start, min(step, first + count - start))
        if not rows:
            return  # a count that no rows stand behind, in a damaged file, must not go on for ever
        yield from rows
