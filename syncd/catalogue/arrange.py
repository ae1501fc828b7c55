"""From catalogued tracks to the rows of the catalogue, in display order. Pure.

What belongs together: works by composer and catalogue number, else by composer and title;
recordings by the id that the works engine gave; popular albums by artist and title. What could not
be identified is filed with the popular music, by artist and album, so that nothing is out of
reach. Names that are missing are supplied in square brackets, as library cataloguing does.

Ids are places in display order (see ``schema.sql`` and ``order``), so equal input in any order
gives equal rows. Writing them into a file is ``build``'s.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from syncd.catalogue.labels import Charset, Text
from syncd.catalogue.order import letter, sort_key
from syncd.model import CardPath, Credit, Identity, Kind, Track

NO_COMPOSER = "[Composer unknown]"
NO_WORK = "[Work unknown]"
NO_PERFORMER = "[Performers unknown]"
NO_ARTIST = "[Artist unknown]"
NO_ALBUM = "[Album unknown]"
NO_TITLE = "[Untitled]"

PERFORMER_LISTS = ("performers", "conductors", "ensembles", "choirs", "soloists", "instruments")
HOME = (
    ("composers", "Composers"),
    ("works", "Works"),
    ("recordings", "Recordings"),
    ("performers", "Performers"),
    ("conductors", "Conductors"),
    ("ensembles", "Ensembles"),
    ("choirs", "Choirs"),
    ("soloists", "Soloists"),
    ("instruments", "Instruments and voices"),
    ("artists", "Popular artists"),
    ("albums", "Popular albums"),
    ("tracks", "Tracks"),
)
_LIST_OF_ROLE = {
    "conductor": "conductors",
    "ensemble": "ensembles",
    "choir": "choirs",
    "soloist": "soloists",
}
_NOT_PERFORMING = frozenset(
    {"arranger", "librettist", "lyricist", "editor", "author", "producer", "engineer", "translator"}
)
_PRINCIPALS = ("soloist", "ensemble", "choir", "conductor")
_MOST_PER_ROLE = 2

Row = tuple[str | int | None, ...]
Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class CatalogueEntry:
    """One file that is on the card: where, how large, and what it is."""

    path: CardPath
    track: Track
    identity: Identity
    size: int


@dataclass(slots=True)
class Rows:
    """The rows of every table, each table's in the order of its ids from 1 on (ids left out)."""

    home: list[Row] = field(default_factory=list)
    letters: list[Row] = field(default_factory=list)
    composers: list[Row] = field(default_factory=list)
    works: list[Row] = field(default_factory=list)
    recordings: list[Row] = field(default_factory=list)
    artists: list[Row] = field(default_factory=list)
    albums: list[Row] = field(default_factory=list)
    tracks: list[Row] = field(default_factory=list)
    credits: list[Row] = field(default_factory=list)
    headings: list[Row] = field(default_factory=list)
    entries: list[Row] = field(default_factory=list)


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
        headings = _Headings(self.text, composers)
        self._add_works(composers, headings)
        self._add_popular(popular)
        headings.add_to(self.out)
        self._add_home(headings.spans)
        return self.out

    # Composers, works, recordings

    def _composers(self, entries: Sequence[CatalogueEntry]) -> list[_Composer]:
        performances: defaultdict[tuple[str, ...], list[CatalogueEntry]] = defaultdict(list)
        for entry in entries:
            performances[_performance(entry)].append(entry)
        by_work: defaultdict[tuple[str, str], list[tuple[str, list[CatalogueEntry]]]]
        by_work = defaultdict(list)
        for performance, movements in performances.items():
            sort = self.text.clean(
                _most_common(
                    [e.identity.composer.sort for e in movements if e.identity.composer is not None]
                )
            )
            by_work[sort, _most_common([_work_key(e) for e in movements])].append(
                ("\0".join(performance), movements)
            )
        by_composer: defaultdict[str, list[_Work]] = defaultdict(list)
        names: defaultdict[str, list[str]] = defaultdict(list)
        for (sort, work_key), found in by_work.items():
            by_composer[sort].append(self._work(work_key, found))
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
                _most_common(names[sort]) or sort or NO_COMPOSER,
            )
            for sort, works in by_composer.items()
        ]
        return sorted(composers, key=lambda composer: (sort_key(composer.sort), composer.sort))

    def _work(self, work_key: str, found: list[tuple[str, list[CatalogueEntry]]]) -> _Work:
        works = [
            e.identity.work
            for _, movements in found
            for e in movements
            if e.identity.work is not None
        ]
        clean = self.text.clean
        title = clean(_most_common([work.title for work in works if work.title.strip()])) or NO_WORK
        key = clean(_most_common([work.key for work in works if work.key])) or None
        numbers: tuple[str, ...] = max((work.catalogue for work in works), key=_fullest, default=())
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
            (sort_key(title), sort_key(catalogue), label, work_key),
        )

    def _recording(self, ident: str, movements: list[CatalogueEntry]) -> _Recording:
        ordered = _in_order(movements)
        credits = tuple(dict.fromkeys(c for e in ordered for c in e.identity.credits if c.name))
        label = (
            self.text.clean(_principals(credits))
            or self.text.clean(_most_common([e.track.artist for e in ordered if e.track.artist]))
            or NO_PERFORMER
        )
        year = _year(ordered)
        return _Recording(
            ordered, credits, label, year, (sort_key(label), label, year or 9999, ident)
        )

    def _add_works(self, composers: list[_Composer], headings: "_Headings") -> None:
        out, text = self.out, self.text
        for composer in composers:
            out.composers.append(
                (
                    *text.label(composer.sort),
                    text.clean(composer.name),
                    *_span(out.works, composer.works),
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
                        *_span(out.recordings, work.recordings),
                    )
                )
                for recording in work.recordings:
                    self._add_recording(recording, work, headings)

    def _add_recording(self, recording: _Recording, work: _Work, headings: "_Headings") -> None:
        out, text = self.out, self.text
        number = len(out.recordings) + 1
        spans: dict[tuple[Credit, ...], Span] = {}
        whole = self._credits(number, recording.credits, headings, spans)
        out.recordings.append(
            (
                len(out.works),
                *text.label(recording.label),
                recording.year,
                text.clean(_most_common([e.track.album for e in recording.entries])),
                *_span(out.tracks, recording.entries),
                *whole,
                sum(_milliseconds(e) for e in recording.entries),
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
                    _milliseconds(entry),
                    entry.size,
                    entry.path,
                )
            )

    def _credits(
        self,
        recording: int,
        credits: tuple[Credit, ...],
        headings: "_Headings",
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
            artists[_same(_artist(entry))][_same(_album(entry))].append(entry)
        named = [
            (
                text.clean(_most_common([_artist(e) for a in albums.values() for e in a]))
                or NO_ARTIST,
                albums,
            )
            for albums in artists.values()
        ]
        for name, albums in sorted(named, key=lambda one: (sort_key(one[0]), one[0])):
            out.artists.append((*text.label(name), *_span(out.albums, albums)))
            titled = [
                (text.clean(_most_common([_album(e) for e in album])) or NO_ALBUM, album)
                for album in albums.values()
            ]
            for title, album in sorted(titled, key=lambda one: (sort_key(one[0]), one[0])):
                ordered = sorted(album, key=_album_place)
                out.albums.append(
                    (
                        len(out.artists),
                        *text.label(title),
                        _year(ordered),
                        *_span(out.tracks, ordered),
                        sum(_milliseconds(e) for e in ordered),
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
                            text.clean(other) if other and _same(other) != _same(name) else None,
                            0,
                            0,
                            _milliseconds(entry),
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
        for number, (name, label) in enumerate(HOME, start=1):
            if name in tables:
                span = _span([], tables[name])
                labels = [str(row[0]) for row in tables[name]] if name in _JUMPED else []
            else:
                span = spans[name]
                first, count = span
                labels = [str(row[1]) for row in out.headings[first - 1 : first - 1 + count]]
            out.home.append((name, label, *span))
            for position, capital in enumerate(map(letter, labels), start=span[0]):
                last = out.letters[-1] if out.letters else None
                if last is not None and last[0] == number and last[1] == capital:
                    out.letters[-1] = (number, capital, last[2], int(last[3] or 0) + 1)
                else:
                    out.letters.append((number, capital, position, 1))


_JUMPED = frozenset({"composers", "artists"})


class _Headings:
    """Performers, by the lists that they stand in, with the recordings of each."""

    def __init__(self, text: Text, composers: Sequence[_Composer]) -> None:
        self._text = text
        self.spans: dict[str, Span] = {}
        self._labels: list[str] = []
        # list -> heading's key -> recording ids, in the order of composers and works
        found: dict[str, dict[str, list[int]]] = {name: {} for name in PERFORMER_LISTS}
        spelled: dict[str, dict[str, Counter[str]]] = {name: {} for name in PERFORMER_LISTS}
        for composer in composers:
            family = composer.sort.split(",")[0]
            for work in composer.works:
                for recording in work.recordings:
                    self._labels.append(f"{family}: {work.label}")
                    for name, heading in _headings_of(recording.credits):
                        key = _same(heading)
                        ids = found[name].setdefault(key, [])
                        if not ids or ids[-1] != len(self._labels):
                            ids.append(len(self._labels))
                        spelled[name].setdefault(key, Counter())[heading] += 1
        self._performers: dict[str, int] = {}
        self._rows: list[tuple[int, str, list[int]]] = []
        homes = {name: number for number, (name, _) in enumerate(HOME, start=1)}
        for name in PERFORMER_LISTS:
            titled = [
                (text.clean(_best(spelled[name][key])) or NO_PERFORMER, key, recordings)
                for key, recordings in found[name].items()
            ]
            self.spans[name] = _span(self._rows, titled)
            for label, key, recordings in sorted(titled, key=lambda t: (sort_key(t[0]), t[0])):
                self._rows.append((homes[name], label, recordings))
                if name == "performers":
                    self._performers[key] = len(self._rows)

    def performer(self, credit: Credit) -> int:
        """The id of the performer's heading, 0 for who did not perform."""
        return self._performers.get(_same(credit.name), 0) if _performs(credit) else 0

    def add_to(self, out: Rows) -> None:
        # A conductor who does nothing else has the same recordings in both lists: one range.
        known: dict[tuple[int, ...], Span] = {}
        for home, label, recordings in self._rows:
            ids = tuple(recordings)
            if ids not in known:
                known[ids] = _span(out.entries, ids)
                out.entries.extend(
                    (number, *self._text.label(self._labels[number - 1])) for number in ids
                )
            out.headings.append((home, *self._text.label(label), *known[ids]))


def _headings_of(credits: Sequence[Credit]) -> Iterable[tuple[str, str]]:
    for credit in credits:
        if not _performs(credit):
            continue
        yield "performers", credit.name
        role = credit.role.casefold()
        if role in _LIST_OF_ROLE:
            yield _LIST_OF_ROLE[role], credit.name
        if credit.instrument and credit.instrument.strip():
            yield "instruments", credit.instrument[:1].upper() + credit.instrument[1:]


def _performs(credit: Credit) -> bool:
    return credit.role.casefold() not in _NOT_PERFORMING


def _principals(credits: Sequence[Credit]) -> str:
    """The principal performers in one line: soloists, ensembles, choirs, conductor."""
    shown: list[str] = []
    for role in _PRINCIPALS:
        names = list(dict.fromkeys(c.name.strip() for c in credits if c.role.casefold() == role))
        names = [name for name in names if name]
        shown += names[:_MOST_PER_ROLE]
        if len(names) > _MOST_PER_ROLE:
            shown[-1] += " et al."
    if not shown:
        shown = [c.name.strip() for c in credits if _performs(c)][:_MOST_PER_ROLE]
    return "; ".join(shown)


def _performance(entry: CatalogueEntry) -> tuple[str, ...]:
    """What the movements of one recording have in common."""
    if entry.identity.recording:
        return ("id", entry.identity.recording)
    composer = entry.identity.composer.sort if entry.identity.composer is not None else ""
    return ("folder", composer, _work_key(entry), str(PurePosixPath(entry.path).parent))


def _work_key(entry: CatalogueEntry) -> str:
    """What the recordings of one work have in common, besides the composer."""
    work = entry.identity.work
    if work is None:
        return "none"
    if work.catalogue:
        return "number " + _same(work.catalogue[0])
    return "title " + _same(work.title)


def _in_order(movements: list[CatalogueEntry]) -> list[CatalogueEntry]:
    """By movement number where each has one of its own, else by disc and track.

    Numbers that begin anew (with each act, with each part) say less than the track's place.
    """
    numbers = [e.identity.movement.number if e.identity.movement else None for e in movements]
    if None not in numbers and len(set(numbers)) == len(numbers):
        return sorted(movements, key=lambda e: (_movement_number(e), _album_place(e)))
    return sorted(movements, key=_album_place)


def _movement_number(entry: CatalogueEntry) -> int:
    movement = entry.identity.movement
    return movement.number or 0 if movement is not None else 0


def _album_place(entry: CatalogueEntry) -> tuple[int, int, int, str, str]:
    track = entry.track
    return (
        track.disc_number or 1,
        track.track_number if track.track_number is not None else 1 << 30,
        _movement_number(entry),
        sort_key(PurePosixPath(entry.path).name),
        entry.path,
    )


def _artist(entry: CatalogueEntry) -> str:
    names = (entry.identity.artist, entry.track.album_artist, entry.track.artist)
    return next((name.strip() for name in names if name and name.strip()), NO_ARTIST)


def _album(entry: CatalogueEntry) -> str:
    titles = (entry.identity.album, entry.track.album)
    return next((title.strip() for title in titles if title and title.strip()), NO_ALBUM)


def _year(entries: Sequence[CatalogueEntry]) -> int | None:
    years = [e.track.date[:4] for e in entries]
    found = _most_common([y for y in years if len(y) == 4 and y.isascii() and y.isdecimal()])
    return int(found) or None if found else None


def _milliseconds(entry: CatalogueEntry) -> int:
    seconds = entry.track.audio.duration_s
    return round(seconds * 1000) if math.isfinite(seconds) and seconds > 0 else 0


def _same(name: str) -> str:
    """What two spellings must share to be one name: letters, whatever their case and spacing."""
    return " ".join(name.split()).casefold()


def _fullest(catalogue: tuple[str, ...]) -> tuple[int, tuple[str, ...]]:
    return len(catalogue), catalogue


def _best(spellings: Counter[str]) -> str:
    return min(spellings, key=lambda text: (-spellings[text], text), default="")


def _most_common(texts: Sequence[str]) -> str:
    """The commonest of *texts*; of equals the first in order; empty if there is none."""
    if not texts:
        return ""
    first = texts[0]
    if all(text == first for text in texts):
        return first
    return _best(Counter(texts))


def _span(before: Sequence[object], children: Iterable[object]) -> Span:
    """First id and count of *children* that will be appended to *before*."""
    count = len(list(children))
    return (len(before) + 1, count) if count else (0, 0)
