"""The lists that lead across the shelves: periods, forms, performers, recently added, search. Pure.

Their rows are links: entries with a label for where they stand, that lead where what they stand for
leads. Headings come first, so that credits can name performers before the links are there.
"""

from collections.abc import Iterable, Sequence

from syncd.catalogue.labels import Text
from syncd.catalogue.order import display_key
from syncd.catalogue.performing import Performing
from syncd.catalogue.rows import PERFORMER_LISTS, RECENT_MOST, Item, Row, Rows, Span, span
from syncd.catalogue.search import BEST, hits_of, prefixes
from syncd.catalogue.shelves import Shelves, WorkShelf
from syncd.catalogue.wording import name_words, work_words
from syncd.works.topics import PERIODS, forms_of, period_of

_COMPOSER, _ARTIST, _PERFORMER, _WORK, _ALBUM = range(5)


class Across:
    """The lists across *shelves*; headings have ids from *after* on, links from *links* on."""

    def __init__(
        self, text: Text, shelves: Shelves, performing: Performing, after: int, links: int
    ) -> None:
        self._text = text
        self._shelves = shelves
        self._works = [work for composer in shelves.composers for work in composer.works]
        self._work_labels = [
            text.cut(f"{composer.sort.partition(',')[0]}: {work.label}")
            for composer in shelves.composers
            for work in composer.works
        ]
        self._album_labels = [
            text.cut(f"{artist.name}: {album.title}")
            for artist in shelves.artists
            for album in artist.albums
        ]
        self._periods = _periods(shelves)
        self._forms = _forms(self._works, text)
        self._performing = performing
        self._links = links
        self.spans: dict[str, Span] = {}
        sizes: list[tuple[str, Sequence[object]]] = [
            ("periods", self._periods),
            ("forms", self._forms),
            *performing.lists.items(),
        ]
        for name, headings in sizes:
            self.spans[name] = span(after, headings)
            after += len(headings)
        self._after = after
        first = self.spans["performers"][0]
        self.performers = {
            heading.key: first + place
            for place, heading in enumerate(performing.lists["performers"])
        }
        """The ids of those who perform, by what spellings of their names have in common."""

    def add_to(self, out: Rows, items: dict[str, list[Item]]) -> None:
        """Append headings, links and hits to the entries of *out*, and the prefixes."""
        self._add_headings(out, items)
        self.spans["albums"] = self._add_albums(out, items["artist_albums"])
        self.spans["recent"] = self._add_recent(out, items)
        self._add_search(out, items)

    def _add_headings(self, out: Rows, items: dict[str, list[Item]]) -> None:
        composers, works, recordings = items["composers"], items["works"], items["recordings"]
        labels = [
            label
            for label, work in zip(self._work_labels, self._works, strict=True)
            for _ in work.recordings
        ]
        heads: list[Row] = []
        under: list[Row] = []
        for label, places in self._periods:
            heads.append((label, 0, 0, *span(self._after + len(under), places), 0))
            under += [composers[place].link(composers[place].label) for place in places]
        for label, places in self._forms:
            heads.append((label, 0, 0, *span(self._after + len(under), places), 0))
            under += [works[place].link(self._work_labels[place]) for place in places]
        for name in PERFORMER_LISTS:
            heads += [
                (self._text.cut(heading.label), 0, 0, self._links + heading.first, heading.count, 0)
                for heading in self._performing.lists[name]
            ]
        out.entries += heads
        out.entries += under
        out.links += [recordings[place].link(labels[place]) for place in self._performing.links]

    def _add_albums(self, out: Rows, albums: Sequence[Item]) -> Span:
        """The albums of all artists, by title."""
        first = _next(out)
        by_title = sorted(
            range(len(albums)),
            key=lambda place: (display_key(albums[place].label), place),
        )
        out.entries += [albums[place].link(albums[place].label) for place in by_title]
        return span(first, albums)

    def _add_recent(self, out: Rows, items: dict[str, list[Item]]) -> Span:
        """Recordings and albums by the day of their last track, the newest first."""
        labels = self._work_labels
        places = [n for n, work in enumerate(self._works) for _ in work.recordings]
        found = [
            (-item.added, item.id, item, labels[place])
            for item, place in zip(items["recordings"], places, strict=True)
            if item.added
        ]
        found += [
            (-item.added, item.id, item, label)
            for item, label in zip(items["artist_albums"], self._album_labels, strict=True)
            if item.added
        ]
        found.sort(key=lambda one: one[:2])
        first = _next(out)
        newest = found[:RECENT_MOST]
        out.entries += [item.link(label) for _, _, item, label in newest]
        return span(first, newest)

    def _add_search(self, out: Rows, items: dict[str, list[Item]]) -> None:
        names: list[list[str]] = []
        shown: list[tuple[Item, str]] = []
        ranks: list[tuple[int, int, int]] = []
        for kind, item, words, label in self._named(items):
            names.append(words)
            ranks.append((-item.tracks, kind, len(shown)))
            shown.append((item, label))
        order = [0] * len(ranks)
        for rank, (_, _, place) in enumerate(sorted(ranks)):
            order[place] = rank
        hits = hits_of(names, order)
        links = [item.link(label) for item, label in shown]
        first = out.starts["hits"] = _next(out)
        out.hits += [links[place] for _, _, place in hits]
        known: dict[tuple[int, ...], int] = {}
        for prefix in prefixes(hits):
            best = tuple([hits[place][2] for place in prefix.best])
            if len(best) == prefix.count <= BEST:
                begin = first + prefix.first if best else 0
            elif best in known:
                begin = known[best]
            else:
                begin = known[best] = first + len(out.hits)
                out.hits += [links[place] for place in best]
            out.prefixes.append(
                (
                    prefix.letters,
                    prefix.child + 1 if prefix.letters else 0,
                    prefix.count,
                    first + prefix.first if prefix.count else 0,
                    begin,
                    len(best),
                )
            )
        self.spans["entries"] = span(out.starts["entries"], out.entries)

    def _named(self, items: dict[str, list[Item]]) -> Iterable[tuple[int, Item, list[str], str]]:
        """All that can be found: its kind, itself, its words and how it is shown."""
        shelves = self._shelves
        for item, composer in zip(items["composers"], shelves.composers, strict=True):
            yield _COMPOSER, item, name_words(composer.sort), item.label
        for item, artist in zip(items["artists"], shelves.artists, strict=True):
            yield _ARTIST, item, name_words(artist.name), item.label
        yield from self._named_performers(items["recordings"])
        for item, work, label in zip(items["works"], self._works, self._work_labels, strict=True):
            yield _WORK, item, work_words(work.title, work.numbers[:1]), label
        albums = [album for artist in shelves.artists for album in artist.albums]
        for item, album, label in zip(
            items["artist_albums"], albums, self._album_labels, strict=True
        ):
            yield _ALBUM, item, name_words(album.title), label

    def _named_performers(
        self, recordings: Sequence[Item]
    ) -> Iterable[tuple[int, Item, list[str], str]]:
        links = self._performing.links
        for number, heading in enumerate(
            self._performing.lists["performers"], self.spans["performers"][0]
        ):
            under = links[heading.first : heading.first + heading.count]
            item = Item(
                self._text.cut(heading.label), 0, 0, self._links + heading.first, heading.count,
                number, sum(recordings[place].tracks for place in under),
            )  # fmt: skip
            yield _PERFORMER, item, name_words(heading.label), item.label


def _next(out: Rows) -> int:
    """The id of the entry that is appended next."""
    return out.starts["entries"] + len(out.entries)


def _periods(shelves: Shelves) -> list[tuple[str, list[int]]]:
    found: dict[str, list[int]] = {}
    for place, composer in enumerate(shelves.composers):
        period = period_of(composer.heading)
        if period is not None:
            found.setdefault(period, []).append(place)
    return [(name.capitalize(), found[name]) for name in PERIODS if name in found]


def _forms(works: Sequence[WorkShelf], text: Text) -> list[tuple[str, list[int]]]:
    found: dict[str, list[int]] = {}
    for place, work in enumerate(works):
        for form in forms_of(work.title):
            found.setdefault(text.cut(form), []).append(place)
    return sorted(found.items(), key=lambda one: display_key(one[0]))
