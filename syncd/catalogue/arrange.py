"""From catalogued tracks to the rows of the catalogue, in display order. Pure.

What belongs together and in which order is decided in ``shelves``; here ids are given, labels are
put into rows. The lists that lead across (periods, performers, search and others) are ``across``'s.
Equal input in any order gives equal rows. Writing them is ``build``'s.
"""

from collections.abc import Iterable, Sequence
from posixpath import basename, splitext

from syncd.catalogue.across import Across
from syncd.catalogue.belonging import CatalogueEntry, milliseconds, most_common, same
from syncd.catalogue.labels import Charset, Text
from syncd.catalogue.order import letter
from syncd.catalogue.performing import Performing
from syncd.catalogue.rows import (
    HOME,
    LETTERED,
    LETTERED_FROM,
    NOTHING,
    Item,
    Row,
    Rows,
    Span,
    runs,
)
from syncd.catalogue.shelves import AlbumShelf, ArtistShelf, RecordingShelf, Shelves
from syncd.collector import collector_resting
from syncd.model import Credit

NO_TITLE = "[Untitled]"


def arrange(entries: Iterable[CatalogueEntry], charset: Charset = "unicode") -> Rows:
    """The rows of the catalogue of *entries*; equal for equal entries in any order."""
    text = Text(charset)
    with collector_resting():
        return _Arrangement(Shelves(entries, text), text).rows()


class _Arrangement:
    """One catalogue on its way from shelves to rows."""

    def __init__(self, shelves: Shelves, text: Text) -> None:
        self.text = text
        self.shelves = shelves
        self.out = Rows()
        self.composers = shelves.composers
        self.works = [work for composer in self.composers for work in composer.works]
        self.recordings = [recording for work in self.works for recording in work.recordings]
        self.artists = shelves.artists
        self.albums = [album for artist in self.artists for album in artist.albums]
        self.spans: dict[str, Span] = {}
        self.starts: dict[str, int] = {}
        self.performing = Performing(text, [recording.credits for recording in self.recordings])
        after = self._place("tracks", 1, shelves.tracks)
        self.out.starts["links"] = after
        after += len(self.performing.links)
        self.out.starts["entries"] = after
        for name, items in (
            ("composers", self.composers),
            ("works", self.works),
            ("recordings", self.recordings),
            ("artists", self.artists),
            ("artist_albums", self.albums),
        ):
            after = self._place(name, after, len(items))
        self.items: dict[str, list[Item]] = {}
        self._credit_rows: dict[Credit, Row] = {}

    def _place(self, name: str, start: int, count: int) -> int:
        """Give *count* ids from *start* on to the range *name*; returns the id after them."""
        self.starts[name] = start
        self.spans[name] = (start, count) if count else NOTHING
        return start + count

    def rows(self) -> Rows:
        out = self.out
        out.starts["recordings"] = self.starts["recordings"]
        out.starts["albums"] = self.starts["artist_albums"]
        after = self.starts["artist_albums"] + len(self.albums)
        across = Across(self.text, self.shelves, self.performing, after, out.starts["links"])
        self._add_composers()
        self._add_works()
        self._add_recordings(across.performers)
        self._add_artists()
        across.add_to(out, self.items)
        self.spans.update(across.spans)
        self._add_home()
        return out

    # What is shelved

    def _add_composers(self) -> None:
        cut = self.text.cut
        items = self.items["composers"] = []
        work = self.starts["works"]
        for number, composer in enumerate(self.composers, self.starts["composers"]):
            tracks = sum(len(r.entries) for w in composer.works for r in w.recordings)
            items.append(Item(cut(composer.sort), 0, 0, work, len(composer.works), number, tracks))
            work += len(composer.works)
        self._append(items)

    def _add_works(self) -> None:
        cut = self.text.cut
        items = self.items["works"] = []
        recording = self.starts["recordings"]
        number = self.starts["works"]
        for composer in self.composers:
            for work in composer.works:
                count = len(work.recordings)
                tracks = sum(len(one.entries) for one in work.recordings)
                items.append(Item(cut(work.label), 0, 0, recording, count, number, tracks))
                recording += count
                number += 1
        self._append(items)

    def _add_recordings(self, performers: dict[str, int]) -> None:
        items = self.items["recordings"] = []
        number = self.starts["recordings"]
        work_id = self.starts["works"]
        for composer_id, composer in enumerate(self.composers, self.starts["composers"]):
            for work in composer.works:
                about = (composer_id, composer.name, work.title, work.key, work.catalogue)
                for recording in work.recordings:
                    item = self._recording(number, work_id, work.label, recording, performers)
                    self.out.recordings[-1] += about
                    items.append(item)
                    number += 1
                work_id += 1
        self._append(items)

    def _recording(
        self,
        number: int,
        work_id: int,
        work: str,
        recording: RecordingShelf,
        performers: dict[str, int],
    ) -> Item:
        out, text = self.out, self.text
        entries = recording.entries
        first = len(out.tracks) + 1
        spans: dict[tuple[Credit, ...], Span] = {}
        whole = self._credits(recording.credits, performers, spans)
        label, uncut = text.label(recording.label)
        out.recordings.append(
            (
                work_id,
                first,
                len(entries),
                *whole,
                recording.year,
                _added(entries),
                entries[0].art,
                text.clean(most_common([e.track.album for e in entries])),
                uncut,
            )
        )
        length = 0
        for entry in entries:
            movement = entry.identity.movement
            title = text.clean(movement.title or "") if movement is not None else ""
            if not title:
                title = work if len(entries) == 1 else self._title(entry)
            own = entry.identity.credits
            if own is recording.credits or own == recording.credits:
                credits = whole
            else:
                own = tuple(dict.fromkeys(credit for credit in own if credit.name))
                credits = self._credits(own, performers, spans)
            place = (movement.number if movement is not None else None) or 0
            length += self._add_track(entry, title, place, number, credits, None)
        return Item(
            label,
            recording.year or 0,
            _seconds(length),
            first,
            len(entries),
            number,
            len(entries),
            _added(entries) or 0,
        )

    def _credits(
        self,
        credits: tuple[Credit, ...],
        performers: dict[str, int],
        spans: dict[tuple[Credit, ...], Span],
    ) -> Span:
        """The range of *credits* in the table, appended unless this recording has it already."""
        if not credits:
            return NOTHING
        if credits not in spans:
            spans[credits] = (len(self.out.credits) + 1, len(credits))
            for credit in credits:
                row = self._credit_rows.get(credit)
                if row is None:
                    row = self._credit_rows[credit] = self._credit(credit, performers)
                self.out.credits.append(row)
        return spans[credits]

    def _credit(self, credit: Credit, performers: dict[str, int]) -> Row:
        clean = self.text.clean
        return (
            performers.get(same(credit.name), 0),
            clean(credit.name),
            clean(credit.role),
            (clean(credit.instrument) or None) if credit.instrument else None,
        )

    def _add_track(
        self,
        entry: CatalogueEntry,
        title: str,
        number: int,
        parent: int,
        credits: Span,
        artist: str | None,
    ) -> int:
        """Append a track; returns its length in milliseconds."""
        label, whole = self.text.label(title)
        length = milliseconds(entry)
        self.out.tracks.append(
            (
                label,
                number,
                length,
                entry.path,
                entry.gain,
                entry.size,
                parent,
                entry.track.disc_number or 0,
                *credits,
                artist,
                whole,
            )
        )
        return length

    def _title(self, entry: CatalogueEntry) -> str:
        clean = self.text.clean
        return clean(entry.track.title) or clean(_stem(entry.path)) or NO_TITLE

    def _add_artists(self) -> None:
        cut, clean = self.text.cut, self.text.clean
        artists = self.items["artists"] = []
        albums = self.items["artist_albums"] = []
        first = number = self.starts["artist_albums"]
        for artist_id, artist in enumerate(self.artists, self.starts["artists"]):
            tracks = sum(len(album.entries) for album in artist.albums)
            artists.append(
                Item(cut(artist.name), 0, 0, first, len(artist.albums), artist_id, tracks)
            )
            first += len(artist.albums)
            name = same(artist.name)
            for album in artist.albums:
                begin = len(self.out.tracks) + 1
                length = 0
                for entry in album.entries:
                    other = entry.track.artist
                    by = clean(other) if other and same(other) != name else None
                    length += self._add_track(
                        entry,
                        self._title(entry),
                        entry.track.track_number or 0,
                        number,
                        NOTHING,
                        by or None,
                    )
                self._add_album(album, artist, artist_id, begin)
                albums.append(
                    Item(
                        cut(album.title),
                        album.year or 0,
                        _seconds(length),
                        begin,
                        len(album.entries),
                        number,
                        len(album.entries),
                        _added(album.entries) or 0,
                    )
                )
                number += 1
        self._append(artists)
        self._append(albums)

    def _add_album(
        self, album: AlbumShelf, artist: ArtistShelf, artist_id: int, first: int
    ) -> None:
        self.out.albums.append(
            (
                artist_id,
                first,
                len(album.entries),
                *NOTHING,
                album.year,
                _added(album.entries),
                album.entries[0].art,
                album.title,
                artist.name,
                *[None] * 5,
            )
        )

    def _append(self, items: Sequence[Item]) -> None:
        """Append the entries that *items* themselves are: each in its own place."""
        self.out.entries += [
            (item.label, item.number, item.seconds, item.first, item.count, 0) for item in items
        ]

    # Home and letters

    def _add_home(self) -> None:
        out = self.out
        before = out.starts["entries"]
        for name, title in HOME:
            first, count = self.spans[name]
            jumps: list[tuple[str, int]] = []
            if name in LETTERED and count >= LETTERED_FROM:
                labels = [str(row[0]) for row in out.entries[first - before :][:count]]
                jumps = [
                    (capital, first + place)
                    for capital, place, _ in runs([letter(label) for label in labels])
                ]
            out.home.append((name, title, first, count, len(jumps)))
            if jumps:
                letters = "".join([capital for capital, _ in jumps])
                starts = b"".join([start.to_bytes(3, "little") for _, start in jumps])
                out.letters.append((len(out.home), (letters, starts)))


def _stem(path: str) -> str:
    return splitext(basename(path))[0]


def _seconds(milliseconds: int) -> int:
    return (milliseconds + 500) // 1000


def _added(entries: Sequence[CatalogueEntry]) -> int | None:
    """The day on which the last of *entries* came to the library, None if that is not known."""
    return max([e.track.added for e in entries if e.track.added is not None], default=None)
