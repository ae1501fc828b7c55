"""What docs/firmware/browse.c prints of a card, said by syncd's own reader instead."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from syncd.catalogue import contract
from syncd.catalogue.contract import QUEUE_ROWS, ROWS, Statement
from syncd.catalogue.reader import Catalogue, HomeList, find_catalogue

SHOWN = 15
"""Rows of home that are lists of entries; behind them stand the ranges of entries and tracks."""


def walked(card: Path) -> list[str]:
    """All lines for the catalogue on the card at *card*."""
    found = find_catalogue(card)
    with Catalogue(found.path) as catalogue:
        first = f"slot {found.slot}, generation {found.record.generation}"
        return [first, *_Walk(catalogue).lines()]


class _Walk:
    def __init__(self, catalogue: Catalogue) -> None:
        self.c = catalogue
        self.homes = catalogue.home()
        self.names = {row.list: row for row in self.homes}

    def lines(self) -> Iterator[str]:
        yield "home"
        yield from rows(contract.HOME, self.homes)
        for home in self.homes[:SHOWN]:
            yield from self.listed(home)
        for home in self.homes[:SHOWN]:
            yield from self.jumps(home)
        yield from self.search()
        for name in ("recordings", "artist_albums"):
            yield from self.queue(self.names[name])
        tracks = self.names["tracks"]
        for ident in range(tracks.first, tracks.first + tracks.count):
            yield from self.playing(ident)
        yield from self.random(1)

    def screen(self, first: int, count: int, place: int) -> Iterator[str]:
        number = min(ROWS, count - place)
        tracks = self.names["tracks"]
        if tracks.first <= first < tracks.first + tracks.count:
            yield from rows(contract.TRACKS, self.c.tracks(first + place, number))
        else:
            yield from rows(contract.ENTRIES, self.c.entries(first + place, number))

    def listed(self, home: HomeList) -> Iterator[str]:
        for place in range(0, home.count, ROWS):
            yield f"list {home.id}, place {place}"
            yield from self.screen(home.first, home.count, place)
            for entry in self.c.entries(home.first + place, min(ROWS, home.count - place)):
                for below in range(0, entry.count, ROWS):
                    yield f"open {entry.id}, place {below}"
                    yield from self.screen(entry.first, entry.count, below)
                if entry.item:
                    yield from self.follow(entry.item)

    def follow(self, ident: int) -> Iterator[str]:
        yield f"follow {ident}"
        entry = self.c.entry(ident)
        yield from rows(contract.ENTRIES, [entry])
        yield from self.screen(entry.first, entry.count, 0)

    def jumps(self, home: HomeList) -> Iterator[str]:
        yield f"jumps of {home.id}"
        yield from rows(contract.HOME, [home])
        jumps = self.c.letters(home)
        letters = "".join(jump.letter for jump in jumps)
        starts = "".join(jump.first.to_bytes(3, "little").hex() for jump in jumps)
        for place, jump in enumerate(jumps):
            yield f"letter {place} of {home.id}"
            yield f"\t{home.id}\t{letters}\t{starts}"
            yield from self.screen(home.first, home.count, jump.first - home.first)

    def search(self) -> Iterator[str]:
        ident = last = contract.FIRST_PREFIX
        while ident <= last:
            yield f"search {ident}"
            prefix = self.c.prefix(ident)
            yield from rows(contract.PREFIX, [prefix])
            best = self.c.found(prefix).best
            yield from rows(contract.LINKS, best)
            if prefix.letters:
                last = max(last, prefix.child + len(prefix.letters) - 1)
            for hit in best:
                yield from self.follow(hit.item)
            ident += 1

    def queue(self, home: HomeList) -> Iterator[str]:
        for entry in self.c.children(home):
            yield f"to play {entry.id}"
            yield from rows(contract.ENTRIES, [entry])
            for at in range(entry.first, entry.first + entry.count, QUEUE_ROWS):
                yield f"queue {at}"
                left = entry.first + entry.count - at
                yield from rows(contract.TRACKS, self.c.tracks(at, min(QUEUE_ROWS, left)))

    def playing(self, ident: int) -> Iterator[str]:
        yield f"playing {ident}"
        playing = self.c.playing(ident)
        yield from rows(contract.TRACKS, [playing.track])
        yield from rows(contract.GROUP, [playing.group])
        yield from rows(contract.CREDITS, playing.credits)

    def random(self, state: int) -> Iterator[str]:
        for number in range(100):
            name = "recordings" if number % 2 else "tracks"
            home = self.names[name]
            if not home.count:
                continue
            state = (state * 1664525 + 1013904223) % 2**32
            ident = home.first + (state >> 8) % home.count
            yield f"random {ident}"
            if name == "tracks":
                yield from rows(contract.TRACKS, [self.c.track(ident)])
            else:
                yield from rows(contract.ENTRIES, [self.c.entry(ident)])


def rows(statement: Statement, found: Sequence[object]) -> Iterator[str]:
    """A line for each row: its columns, a tab before each."""
    for row in found:
        values = [getattr(row, column) for column in statement.columns]
        yield "".join(f"\t{'NULL' if value is None else value}" for value in values)
