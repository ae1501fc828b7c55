"""Composers, works, recordings; artists, albums: what belongs where, in display order. Pure.

Names that are missing are supplied in square brackets, as library cataloguing does. What could not
be identified is filed with the popular music, by artist and album, so that nothing is out of reach.
Ids and rows are ``arrange``'s.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import attrgetter

from syncd.catalogue.belonging import (
    NO_ALBUM,
    NO_ARTIST,
    CatalogueEntry,
    album_order,
    common_year,
    filed_album,
    filed_artist,
    fullest,
    in_order,
    most_common,
    performance_key,
    same,
    work_key,
)
from syncd.catalogue.labels import Text
from syncd.catalogue.order import DisplayKey, display_key
from syncd.catalogue.performing import NO_PERFORMER, principals
from syncd.model import Credit, Kind

NO_COMPOSER = "[Composer unknown]"
NO_WORK = "[Work unknown]"

WorkKey = tuple[str, str]


@dataclass(slots=True)
class RecordingShelf:
    """One recording: its entries in order, who is credited in any of them, how it is called."""

    entries: list[CatalogueEntry]
    credits: tuple[Credit, ...]
    label: str
    year: int | None
    order: tuple[DisplayKey, int, str]


@dataclass(slots=True)
class WorkShelf:
    """One work with its recordings."""

    recordings: list[RecordingShelf]
    label: str
    title: str
    catalogue: str
    numbers: tuple[str, ...]
    key: str | None
    order: tuple[DisplayKey, DisplayKey, str, str]


@dataclass(slots=True)
class ComposerShelf:
    """One composer with their works: ``sort`` is shown in lists, ``heading`` is as identified."""

    works: list[WorkShelf]
    sort: str
    name: str
    heading: str


@dataclass(slots=True)
class AlbumShelf:
    """One album of popular music, its entries in order."""

    entries: list[CatalogueEntry]
    title: str
    year: int | None


@dataclass(slots=True)
class ArtistShelf:
    """One artist of popular music."""

    albums: list[AlbumShelf]
    name: str


class Shelves:
    """All that there is, in display order; equal for equal entries in any order."""

    def __init__(self, entries: Iterable[CatalogueEntry], text: Text) -> None:
        self._text = text
        works: list[CatalogueEntry] = []
        popular: list[CatalogueEntry] = []
        for entry in sorted(entries, key=attrgetter("path")):
            (works if entry.identity.kind is Kind.WORK else popular).append(entry)
        self.composers = self._composers(works)
        self.artists = self._artists(popular)
        self.tracks = len(works) + len(popular)

    # By composer and work

    def _composers(self, entries: Sequence[CatalogueEntry]) -> list[ComposerShelf]:
        performances: defaultdict[tuple[str, ...], list[CatalogueEntry]] = defaultdict(list)
        for entry in entries:
            performances[performance_key(entry)].append(entry)
        by_work: defaultdict[WorkKey, list[tuple[str, list[CatalogueEntry]]]] = defaultdict(list)
        headings: dict[str, str] = {}
        for performance, movements in performances.items():
            heading, key = self._work_key(movements)
            sort = self._text.clean(heading)
            headings.setdefault(sort, heading)
            by_work[sort, key].append(("\0".join(performance), movements))
        by_composer: defaultdict[str, list[WorkShelf]] = defaultdict(list)
        names: defaultdict[str, list[str]] = defaultdict(list)
        for (sort, number), found in by_work.items():
            by_composer[sort].append(self._work(number, found))
            names[sort] += [
                movements[0].identity.composer.name
                for _, movements in found
                if movements[0].identity.composer is not None
            ]
        composers = [
            ComposerShelf(
                sorted(works, key=lambda work: work.order),
                sort or NO_COMPOSER,
                self._text.clean(most_common(names[sort])) or sort or NO_COMPOSER,
                headings[sort],
            )
            for sort, works in by_composer.items()
        ]
        return sorted(composers, key=lambda composer: display_key(composer.sort))

    def _work_key(self, movements: Sequence[CatalogueEntry]) -> WorkKey:
        """Composer and sign that most movements have."""
        first = movements[0].identity
        for entry in movements:
            identity = entry.identity
            if identity.work is not first.work or identity.composer is not first.composer:
                break
        else:
            movements = movements[:1]  # which is so nearly always: equal values are one object
        sorts = [e.identity.composer.sort for e in movements if e.identity.composer is not None]
        return most_common(sorts), most_common([work_key(entry) for entry in movements])

    def _work(self, number: str, found: list[tuple[str, list[CatalogueEntry]]]) -> WorkShelf:
        works = [
            e.identity.work
            for _, movements in found
            for e in movements
            if e.identity.work is not None
        ]
        clean = self._text.clean
        title = clean(most_common([work.title for work in works if work.title.strip()])) or NO_WORK
        key = clean(most_common([work.key for work in works if work.key])) or None
        numbers: tuple[str, ...] = max((work.catalogue for work in works), key=fullest, default=())
        catalogue = clean("; ".join(numbers))
        label = title
        if key:
            label += f" in {key}"
        if catalogue:
            label += f", {catalogue}"
        recordings = [self._recording(ident, movements) for ident, movements in found]
        return WorkShelf(
            sorted(recordings, key=lambda recording: recording.order),
            label,
            title,
            catalogue,
            numbers,
            key,
            (display_key(title), display_key(catalogue), label, number),
        )

    def _recording(self, ident: str, movements: list[CatalogueEntry]) -> RecordingShelf:
        ordered = in_order(movements)
        credits: tuple[Credit, ...] = ()
        for entry in ordered:
            own = entry.identity.credits
            if own is not credits and own != credits:
                credits = tuple(dict.fromkeys((*credits, *own))) if credits else own
        if not all(credit.name for credit in credits) or len(set(credits)) != len(credits):
            credits = tuple(dict.fromkeys(credit for credit in credits if credit.name))
        label = (
            self._text.clean(principals(credits))
            or self._text.clean(most_common([e.track.artist for e in ordered if e.track.artist]))
            or NO_PERFORMER
        )
        year = common_year(ordered)
        return RecordingShelf(
            ordered, credits, label, year, (display_key(label), year or 9999, ident)
        )

    # Popular, and what could not be identified

    def _artists(self, entries: Sequence[CatalogueEntry]) -> list[ArtistShelf]:
        clean = self._text.clean
        found: defaultdict[str, defaultdict[str, list[CatalogueEntry]]]
        found = defaultdict(lambda: defaultdict(list))
        names: defaultdict[str, list[str]] = defaultdict(list)
        titles: dict[int, str] = {}
        for entry in entries:
            name, title = filed_artist(entry), filed_album(entry)
            artist = same(name)
            found[artist][same(title)].append(entry)
            names[artist].append(name)
            titles[id(entry)] = title
        artists = []
        for artist, albums in found.items():
            name = clean(most_common(names[artist]))
            shelves = []
            for album in albums.values():
                title = clean(most_common([titles[id(e)] for e in album])) or NO_ALBUM
                ordered = album_order(album)
                shelves.append(AlbumShelf(ordered, title, common_year(ordered)))
            shelves.sort(key=lambda shelf: display_key(shelf.title))
            artists.append(ArtistShelf(shelves, name or NO_ARTIST))
        return sorted(artists, key=lambda artist: display_key(artist.name))
