"""A catalogue compared with what it was built of, row by row, by the ways a player goes.

Nothing of the builder is used but how names are cut and where something is filed: the ways from
each entry are worked out anew and compared with those that the catalogue leads. Every track must be
reached by each way that should lead to it, and by no other.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from syncd.catalogue.belonging import (
    NO_ALBUM,
    NO_ARTIST,
    CatalogueEntry,
    filed_album,
    filed_artist,
    milliseconds,
    same,
)
from syncd.catalogue.contract import FIRST_PREFIX, ROWS
from syncd.catalogue.labels import Charset, Text
from syncd.catalogue.order import display_key, fold, letter
from syncd.catalogue.performing import NO_PERFORMER, headings_of
from syncd.catalogue.reader import Catalogue, EntryRow, HomeList, TrackRow, faults, pages
from syncd.catalogue.rows import LETTERED, LETTERED_FROM, PERFORMER_LISTS
from syncd.catalogue.shelves import Shelves
from syncd.errors import CardProblem
from syncd.model import Kind
from syncd.works.topics import forms_of, period_of

_MOST = 100
Look = Callable[[Catalogue], Iterator["Difference"]]
Ways = dict[str, dict[str, Counter[str]]]
"""List of home -> name there, folded -> paths of the tracks that it leads to."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Something in a catalogue that is not as it should be, in a sentence."""

    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


def check_itself(path: Path, on_card: Iterable[str] | None = None) -> list[Difference]:
    """What is wrong within the catalogue at *path*, whatever it was built of; at most a hundred.

    *on_card* are the paths of files that are on the card: each track must be one of them.
    """
    return _gathered(path, lambda catalogue: _within(catalogue, on_card))


def compare(
    path: Path, entries: Sequence[CatalogueEntry], charset: Charset = "unicode"
) -> list[Difference]:
    """Where the catalogue at *path* differs from what *entries* should give; at most a hundred."""
    return _gathered(path, lambda catalogue: _against(catalogue, entries, Text(charset)))


def _gathered(path: Path, look: Look) -> list[Difference]:
    found: list[Difference] = []
    try:
        broken = faults(path)
        found += [Difference("SQLite's own check", fault) for fault in broken]
        with Catalogue(path) as catalogue:
            for difference in look(catalogue):
                found.append(difference)
                if len(found) >= _MOST:
                    break
    except CardProblem as problem:
        found.append(Difference(path.name, str(problem)))
    return found[:_MOST]


# Within the catalogue


def _within(catalogue: Catalogue, on_card: Iterable[str] | None) -> Iterator[Difference]:
    yield from _parents(catalogue)
    yield from _orders(catalogue)
    yield from _links(catalogue)
    yield from _prefixes(catalogue)
    if on_card is None:
        return
    there = set(on_card)
    tracks = catalogue.list_named("tracks")
    for track in pages(catalogue.tracks, tracks.first, tracks.count):
        if track.path not in there:
            yield Difference(f"track {track.id}", f"{track.path} is not on the card")


def _parents(catalogue: Catalogue) -> Iterator[Difference]:
    """Children follow one another without gaps and overlaps, and name their parents."""
    for above, below in (
        ("composers", "works"),
        ("works", "recordings"),
        ("artists", "artist_albums"),
    ):
        expected = catalogue.list_named(below).first
        for row in catalogue.children(catalogue.list_named(above)):
            if row.first != expected:
                yield Difference(
                    f"{above} {row.id}", f"its first row is {row.first}, not {expected}"
                )
            if row.count < 1:
                yield Difference(f"{above} {row.id}", "there is nothing under it")
            expected = row.first + row.count
        after = catalogue.list_named(below)
        if expected != after.first + after.count:
            yield Difference(above, f"their rows of {below} do not end where those end")
    expected = 1
    for name, parents in (("recordings", "works"), ("artist_albums", "artists")):
        parent_of = {
            child: row.id
            for row in catalogue.children(catalogue.list_named(parents))
            for child in range(row.first, row.first + row.count)
        }
        for row in catalogue.children(catalogue.list_named(name)):
            yield from _group(catalogue, name, row, parent_of.get(row.id), expected)
            expected = row.first + row.count
    if expected != 1 + catalogue.list_named("tracks").count:
        yield Difference("tracks", "some belong to no recording and no album")


def _group(
    catalogue: Catalogue, name: str, row: EntryRow, parent: int | None, expected: int
) -> Iterator[Difference]:
    group = catalogue.group(row.id)
    here = f"{name} {row.id}"
    if group.parent != parent:
        yield Difference(here, f"its parent is {group.parent}, not {parent}")
    if (row.first, row.count) != (group.first_track, group.track_count) or row.first != expected:
        yield Difference(here, "its tracks are not those that follow")
    if row.number != (group.year or 0):
        yield Difference(here, f"its list shows the year {row.number}, not {group.year}")
    length = 0
    for track in pages(catalogue.tracks, row.first, row.count):
        length += track.milliseconds
        if track.parent != row.id:
            yield Difference(f"track {track.id}", f"its parent is {track.parent}, not {row.id}")
        for credit in catalogue.credits(track.first_credit, track.credit_count):
            if credit.performer and catalogue.kind_of(credit.performer) != "performers":
                yield Difference(f"credit {credit.id}", f"{credit.performer} is no performer")
    if row.seconds != (length + 500) // 1000:
        yield Difference(here, f"its length is {row.seconds} s, of its tracks {length} ms")


def _orders(catalogue: Catalogue) -> Iterator[Difference]:
    """Lists stand in display order, and letters lead where their first names are."""
    for name in LETTERED | {"forms"}:
        home = catalogue.list_named(name)
        rows = list(catalogue.children(home))
        if len(rows) != home.count:
            yield Difference(name, f"{home.count} rows are told, {len(rows)} are there")
        for one, other in pairwise(rows):
            if display_key(one.label)[:3] > display_key(other.label)[:3] and "…" not in one.label:
                yield Difference(name, f"{one.label!r} stands before {other.label!r}")
        if name in LETTERED:
            yield from _letters(catalogue, home, rows)


def _letters(
    catalogue: Catalogue, home: HomeList, rows: Sequence[EntryRow]
) -> Iterator[Difference]:
    wanted: dict[str, int] = {}
    for row in rows:
        wanted.setdefault(letter(row.label), row.id)
    found = {jump.letter: jump.first for jump in catalogue.letters(home)}
    if found != (wanted if home.count >= LETTERED_FROM else {}):
        yield Difference(home.list, "its letters do not lead to the first row under each")


def _links(catalogue: Catalogue) -> Iterator[Difference]:
    """Whatever stands for an item leads where that leads."""
    for name in ("periods", "forms", *PERFORMER_LISTS):
        for heading in catalogue.children(catalogue.list_named(name)):
            yield from _same_ways(catalogue, f"{name} {heading.id}", catalogue.children(heading))
    for name in ("albums", "recent"):
        yield from _same_ways(catalogue, name, catalogue.children(catalogue.list_named(name)))


def _same_ways(catalogue: Catalogue, where: str, rows: Iterable[EntryRow]) -> Iterator[Difference]:
    for row in rows:
        item = catalogue.entry(row.item)
        if (row.first, row.count, row.number, row.seconds) != (
            item.first,
            item.count,
            item.number,
            item.seconds,
        ):
            yield Difference(f"{where}, row {row.id}", f"it does not lead where {item.id} leads")


def _prefixes(catalogue: Catalogue) -> Iterator[Difference]:
    """The hits of a prefix are those of the ones that go on, and of words that end there."""
    waiting = [FIRST_PREFIX]
    known: set[int] = set()
    while waiting:
        prefix = catalogue.prefix(waiting.pop())
        here = f"prefix {prefix.id}"
        end = prefix.first + prefix.count
        at = end
        for place in range(len(prefix.letters)):
            child = catalogue.prefix(prefix.child + place)
            waiting.append(child.id)
            if place == 0:
                at = child.first
            if child.first != at:
                yield Difference(here, f"the hits of {prefix.letters[place]!r} do not follow")
            at = child.first + child.count
        if at != end:
            yield Difference(here, "its hits are not those of its letters")
        if prefix.count > ROWS and not prefix.best_count:
            yield Difference(here, "it has hits, and none is the best")
        if prefix.best not in known:
            known.add(prefix.best)
            yield from _same_ways(catalogue, here, catalogue.found(prefix).best)
    root = catalogue.prefix()
    yield from _same_ways(catalogue, "hits", pages(catalogue.entries, root.first, root.count))


# Against what it was built of


def _against(
    catalogue: Catalogue, entries: Sequence[CatalogueEntry], text: Text
) -> Iterator[Difference]:
    yield from _within(catalogue, [entry.path for entry in entries])
    yield from _tracks(catalogue, entries, text)
    wanted = _wanted(entries, text)
    found = _found(catalogue)
    for name in sorted(wanted.keys() | found.keys()):
        yield from _ways(name, wanted.get(name, {}), found.get(name, {}))
    yield from _searches(catalogue)


def _ways(
    name: str, wanted: dict[str, Counter[str]], found: dict[str, Counter[str]]
) -> Iterator[Difference]:
    for key in sorted(wanted.keys() | found.keys()):
        missing = wanted.get(key, Counter()) - found.get(key, Counter())
        other = found.get(key, Counter()) - wanted.get(key, Counter())
        for path in sorted(missing):
            yield Difference(f"{name}, {key!r}", f"it does not lead to {path}")
        for path in sorted(other):
            yield Difference(f"{name}, {key!r}", f"it leads to {path}, which does not belong there")


def _tracks(
    catalogue: Catalogue, entries: Sequence[CatalogueEntry], text: Text
) -> Iterator[Difference]:
    """Each entry is one track, with its length, size, gain, credits and place."""
    by_path = {entry.path: entry for entry in entries}
    tracks = catalogue.list_named("tracks")
    seen: set[str] = set()
    before: tuple[int, tuple[int, int]] = (0, (0, 0))
    for track in pages(catalogue.tracks, tracks.first, tracks.count):
        entry = by_path.get(track.path)
        if entry is None or track.path in seen:
            yield Difference(f"track {track.id}", f"{track.path} is not one of those to be there")
            continue
        seen.add(track.path)
        yield from _track(catalogue, track, entry, text)
        if entry.identity.kind is not Kind.WORK:
            place = (entry.track.disc_number or 1, entry.track.track_number or 1 << 30)
            if before[0] == track.parent and place < before[1]:
                yield Difference(f"track {track.id}", "it does not stand in the album's order")
            before = (track.parent, place)
    for path in sorted(by_path.keys() - seen):
        yield Difference("tracks", f"{path} is missing")


def _track(
    catalogue: Catalogue, track: TrackRow, entry: CatalogueEntry, text: Text
) -> Iterator[Difference]:
    told = (track.milliseconds, track.size, track.gain, track.disc)
    wanted = (milliseconds(entry), entry.size, entry.gain, entry.track.disc_number or 0)
    if told != wanted:
        yield Difference(f"track {track.id}", f"it tells {told} where {wanted} is right")
    if entry.identity.kind is not Kind.WORK:
        return
    movement = entry.identity.movement
    if track.number != ((movement.number if movement else None) or 0):
        yield Difference(f"track {track.id}", "its number is not that of the movement")
    credits = [
        (c.name, c.role, c.instrument or None)
        for c in catalogue.credits(track.first_credit, track.credit_count)
    ]
    right = [
        (text.clean(c.name), text.clean(c.role), text.clean(c.instrument or "") or None)
        for c in dict.fromkeys(entry.identity.credits)
        if c.name
    ]
    if credits != right:
        yield Difference(f"track {track.id}", "its credits are not those of the movement")


def _wanted(entries: Sequence[CatalogueEntry], text: Text) -> Ways:
    """The ways that should lead to each entry."""
    ways: Ways = defaultdict(lambda: defaultdict(Counter))

    def lead(name: str, label: str, path: str) -> None:
        ways[name][_key(text.cut(label))][path] += 1

    shelves = Shelves(entries, text)
    for composer in shelves.composers:
        period = period_of(composer.heading)
        for work in composer.works:
            for recording in work.recordings:
                under: dict[str, set[str]] = defaultdict(set)
                for name, heading in headings_of(recording.credits):
                    under[name].add(same(heading))
                for entry in recording.entries:
                    lead("composers", composer.sort, entry.path)
                    if period is not None:
                        lead("periods", period.capitalize(), entry.path)
                    for form in forms_of(work.title):
                        lead("forms", form, entry.path)
                    for name, headings in under.items():
                        for heading in headings:
                            lead(name, text.clean(heading) or NO_PERFORMER, entry.path)
    for entry in entries:
        if entry.identity.kind is not Kind.WORK:
            lead("artists", text.clean(filed_artist(entry)) or NO_ARTIST, entry.path)
            lead("albums", text.clean(filed_album(entry)) or NO_ALBUM, entry.path)
    return ways


def _key(label: str) -> str:
    return same(label)


def _found(catalogue: Catalogue) -> Ways:
    """The ways that the catalogue leads."""
    paths: dict[int, list[str]] = {}
    for name in ("recordings", "artist_albums"):
        for row in catalogue.children(catalogue.list_named(name)):
            paths[row.first] = [t.path for t in pages(catalogue.tracks, row.first, row.count)]
    ways: Ways = defaultdict(lambda: defaultdict(Counter))
    depth = {"composers": 2, "periods": 3, "forms": 2, "artists": 1, "albums": 0}
    depth |= dict.fromkeys(PERFORMER_LISTS, 1)
    for name, levels in depth.items():
        for row in catalogue.children(catalogue.list_named(name)):
            for group in _down(catalogue, row, levels):
                ways[name][_key(row.label)].update(paths.get(group.first, ()))
    return ways


def _down(catalogue: Catalogue, row: EntryRow, levels: int) -> Iterator[EntryRow]:
    """The recordings or albums that *row* leads to, so many levels below."""
    if levels == 0:
        yield row
        return
    for below in catalogue.children(row):
        yield from _down(catalogue, below, levels - 1)


def _searches(catalogue: Catalogue) -> Iterator[Difference]:
    """Whatever has a name with letters is found by a search."""
    root = catalogue.prefix()
    found = {row.item for row in pages(catalogue.entries, root.first, root.count)}
    for name in ("composers", "works", "artists", "performers", "artist_albums"):
        for row in catalogue.children(catalogue.list_named(name)):
            name_alone = row.label.partition(" in ")[0].partition(",")[0]
            if row.id not in found and fold(name_alone):
                yield Difference(f"{name}, {row.label!r}", "no search finds it")
