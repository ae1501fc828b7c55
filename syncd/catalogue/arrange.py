"""From catalogued tracks to the rows of the catalogue, in display order. Pure.

What belongs together: works by composer and catalogue number, else by composer and title;
recordings by the id that the works engine gave; popular albums by artist and title. What could not
be identified is filed with the popular music, by artist and album, so that nothing is out of
reach. Names that are missing are supplied in square brackets, as library cataloguing does.

Ids are places in display order (see ``schema.sql`` and ``order``), so equal input in any order
gives equal rows. Writing them into a file is ``build``'s.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from syncd.catalogue.belonging import (
    NO_ALBUM,
    NO_ARTIST,
    CatalogueEntry,
    album_place,
    common_year,
    filed_album,
    filed_artist,
    fullest,
    in_order,
    milliseconds,
    most_common,
    performance_key,
    same,
    work_key,
)
from syncd.catalogue.headings import NO_PERFORMER, Headings, principals
from syncd.catalogue.labels import Charset, Text
from syncd.catalogue.order import display_key, letter, sort_key
from syncd.catalogue.rows import HOME, Row, Rows, Span, runs, span
from syncd.model import Credit, Kind

NO_COMPOSER = "[Composer unknown]"
NO_WORK = "[Work unknown]"
NO_TITLE = "[Untitled]"

_JUMPED = frozenset({"composers", "artists"})


@dataclass(slots=True)
class _Recording:
    entries: list[CatalogueEntry]
    credits: tuple[Credit, ...]
    label: str
    year: int | None
    order: tuple[str, str, int, str] = ("", "", 0, "")


@dataclass(slots=True)
class _Work:
    recordings: list[_Recording]
    label: str
    title: str
    catalogue: str
    key: str | None
    order: tuple[str, ...] = ()


@dataclass(slots=True)
class _Composer:
    works: list[_Work]
    sort: str
    name: str


def arrange(entries: Iterable[CatalogueEntry], charset: Charset = "unicode") -> Rows:
    """The rows of the catalogue of *entries*; equal for equal entries in any order."""
    return _Arrangement(charset).rows(entries)


class _Arrangement:
    """One catalogue on its way from entries to rows."""

    def __init__(self, charset: Charset) -> None:
        self.text = Text(charset)
        self.out = Rows()

    def rows(self, entries: Iterable[CatalogueEntry]) -> Rows:
        works: list[CatalogueEntry] = []
        popular: list[CatalogueEntry] = []
        for entry in sorted(entries, key=lambda entry: entry.path):
            (works if entry.identity.kind is Kind.WORK else popular).append(entry)
        composers = self._composers(works)
        headings = Headings(
            self.text,
            [
                (f"{composer.sort.split(',')[0]}: {work.label}", recording.credits)
                for composer in composers
                for work in composer.works
                for recording in work.recordings
            ],
        )
        self._add_works(composers, headings)
        self._add_popular(popular)
        headings.add_to(self.out)
        self._add_home(headings.spans)
        return self.out

    # Composers, works, recordings

    def _composers(self, entries: Sequence[CatalogueEntry]) -> list[_Composer]:
        performances: defaultdict[tuple[str, ...], list[CatalogueEntry]] = defaultdict(list)
        for entry in entries:
            performances[performance_key(entry)].append(entry)
        by_work: defaultdict[tuple[str, str], list[tuple[str, list[CatalogueEntry]]]]
        by_work = defaultdict(list)
        for performance, movements in performances.items():
            sort = self.text.clean(
                most_common(
                    [e.identity.composer.sort for e in movements if e.identity.composer is not None]
                )
            )
            by_work[sort, most_common([work_key(e) for e in movements])].append(
                ("\0".join(performance), movements)
            )
        by_composer: defaultdict[str, list[_Work]] = defaultdict(list)
        names: defaultdict[str, list[str]] = defaultdict(list)
        for (sort, number), found in by_work.items():
            by_composer[sort].append(self._work(number, found))
            names[sort] += [
                e.identity.composer.name
                for _, movements in found
                for e in movements
                if e.identity.composer is not None
            ]
        composers = [
            _Composer(
                sorted(works, key=lambda work: work.order),
                sort or NO_COMPOSER,
                most_common(names[sort]) or sort or NO_COMPOSER,
            )
            for sort, works in by_composer.items()
        ]
        return sorted(composers, key=lambda composer: display_key(composer.sort))

    def _work(self, number: str, found: list[tuple[str, list[CatalogueEntry]]]) -> _Work:
        works = [
            e.identity.work
            for _, movements in found
            for e in movements
            if e.identity.work is not None
        ]
        clean = self.text.clean
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
        return _Work(
            sorted(recordings, key=lambda recording: recording.order),
            label,
            title,
            catalogue,
            key,
            (sort_key(title), sort_key(catalogue), label, number),
        )

    def _recording(self, ident: str, movements: list[CatalogueEntry]) -> _Recording:
        ordered = in_order(movements)
        credits = tuple(dict.fromkeys(c for e in ordered for c in e.identity.credits if c.name))
        label = (
            self.text.clean(principals(credits))
            or self.text.clean(most_common([e.track.artist for e in ordered if e.track.artist]))
            or NO_PERFORMER
        )
        year = common_year(ordered)
        return _Recording(
            ordered, credits, label, year, (sort_key(label), label, year or 9999, ident)
        )

    def _add_works(self, composers: list[_Composer], headings: "Headings") -> None:
        out, text = self.out, self.text
        for composer in composers:
            out.composers.append(
                (
                    *text.label(composer.sort),
                    text.clean(composer.name),
                    *span(out.works, composer.works),
                )
            )
            for work in composer.works:
                out.works.append(
                    (
                        len(out.composers),
                        *text.label(work.label),
                        work.title,
                        work.catalogue,
                        work.key,
                        *span(out.recordings, work.recordings),
                    )
                )
                for recording in work.recordings:
                    self._add_recording(recording, work, headings)

    def _add_recording(self, recording: _Recording, work: _Work, headings: "Headings") -> None:
        out, text = self.out, self.text
        number = len(out.recordings) + 1
        spans: dict[tuple[Credit, ...], Span] = {}
        whole = self._credits(number, recording.credits, headings, spans)
        out.recordings.append(
            (
                len(out.works),
                *text.label(recording.label),
                recording.year,
                text.clean(most_common([e.track.album for e in recording.entries])),
                *span(out.tracks, recording.entries),
                *whole,
                sum(milliseconds(e) for e in recording.entries),
            )
        )
        single = len(recording.entries) == 1
        for entry in recording.entries:
            movement = entry.identity.movement
            title = text.clean(movement.title or "") if movement is not None else ""
            if not title:
                title = work.label if single else self._title(entry)
            own = tuple(dict.fromkeys(c for c in entry.identity.credits if c.name))
            out.tracks.append(
                (
                    number,
                    None,
                    movement.number if movement is not None else None,
                    entry.track.disc_number,
                    *text.label(title),
                    None,
                    *self._credits(number, own, headings, spans),
                    milliseconds(entry),
                    entry.size,
                    entry.path,
                )
            )

    def _credits(
        self,
        recording: int,
        credits: tuple[Credit, ...],
        headings: "Headings",
        spans: dict[tuple[Credit, ...], Span],
    ) -> Span:
        """The range of *credits* in the table, appended unless this recording has it already."""
        if not credits:
            return 0, 0
        if credits not in spans:
            spans[credits] = (len(self.out.credits) + 1, len(credits))
            for credit in credits:
                instrument = self.text.clean(credit.instrument) if credit.instrument else None
                self.out.credits.append(
                    (
                        recording,
                        headings.performer(credit),
                        self.text.clean(credit.name),
                        self.text.clean(credit.role),
                        instrument,
                    )
                )
        return spans[credits]

    # Popular, and what could not be identified

    def _add_popular(self, entries: Sequence[CatalogueEntry]) -> None:
        out, text = self.out, self.text
        artists: defaultdict[str, defaultdict[str, list[CatalogueEntry]]]
        artists = defaultdict(lambda: defaultdict(list))
        for entry in entries:
            artists[same(filed_artist(entry))][same(filed_album(entry))].append(entry)
        named = [
            (
                text.clean(most_common([filed_artist(e) for a in albums.values() for e in a]))
                or NO_ARTIST,
                albums,
            )
            for albums in artists.values()
        ]
        for name, albums in sorted(named, key=lambda one: display_key(one[0])):
            out.artists.append((*text.label(name), *span(out.albums, albums)))
            titled = [
                (text.clean(most_common([filed_album(e) for e in album])) or NO_ALBUM, album)
                for album in albums.values()
            ]
            for title, album in sorted(titled, key=lambda one: display_key(one[0])):
                ordered = sorted(album, key=album_place)
                out.albums.append(
                    (
                        len(out.artists),
                        *text.label(title),
                        common_year(ordered),
                        *span(out.tracks, ordered),
                        sum(milliseconds(e) for e in ordered),
                    )
                )
                for entry in ordered:
                    other = entry.track.artist
                    out.tracks.append(
                        (
                            None,
                            len(out.albums),
                            entry.track.track_number,
                            entry.track.disc_number,
                            *text.label(self._title(entry)),
                            text.clean(other) if other and same(other) != same(name) else None,
                            0,
                            0,
                            milliseconds(entry),
                            entry.size,
                            entry.path,
                        )
                    )

    def _title(self, entry: CatalogueEntry) -> str:
        clean = self.text.clean
        return clean(entry.track.title) or clean(PurePosixPath(entry.path).stem) or NO_TITLE

    # Home and letters

    def _add_home(self, spans: dict[str, Span]) -> None:
        out = self.out
        tables: dict[str, list[Row]] = {
            "composers": out.composers,
            "works": out.works,
            "recordings": out.recordings,
            "artists": out.artists,
            "albums": out.albums,
            "tracks": out.tracks,
        }
        for name, label in HOME:
            if name in tables:
                here = span([], tables[name])
                labels = [str(row[0]) for row in tables[name]] if name in _JUMPED else []
            else:
                here = spans[name]
                first, count = here
                labels = [str(row[1]) for row in out.headings[first - 1 : first - 1 + count]]
            jumps = [
                (capital, here[0] + rows[0], len(rows))
                for capital, rows in runs([letter(label) for label in labels])
            ]
            out.home.append((name, label, *here, *span(out.letters, jumps)))
            out.letters += jumps
