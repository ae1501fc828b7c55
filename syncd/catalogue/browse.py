"""A catalogue as text for pipes: the whole of it as an outline, or as one value for JSON.

It asks for nothing but what a player can ask for. Walking at a terminal is ``walk``'s.
"""

from collections.abc import Iterator
from dataclasses import replace

from syncd.catalogue.order import fold
from syncd.catalogue.reader import Catalogue, EntryRow, PrefixRow, TrackRow, pages
from syncd.catalogue.showing import group_line, shown, summary, track_line

__all__ = ["outline", "search", "summary", "tree"]


def outline(catalogue: Catalogue) -> Iterator[str]:
    """The whole catalogue as indented lines: composers, works, recordings, movements; popular."""
    yield summary(catalogue)
    for composer in catalogue.children(catalogue.list_named("composers")):
        yield ""
        yield shown(composer.label)
        for work in catalogue.children(composer):
            yield f"  {shown(work.label)}"
            for recording in catalogue.children(work):
                yield f"    {group_line(recording)}"
                for row in pages(catalogue.tracks, recording.first, recording.count):
                    yield f"      {track_line(row)}"
    artists = catalogue.list_named("artists")
    if artists.count:
        yield ""
        yield "Popular"
    for artist in catalogue.children(artists):
        yield f"  {shown(artist.label)}"
        for album in catalogue.children(artist):
            yield f"    {group_line(album)}"
            for row in pages(catalogue.tracks, album.first, album.count):
                yield f"      {track_line(row)}"


def search(catalogue: Catalogue, text: str) -> Iterator[tuple[PrefixRow, list[EntryRow]]]:
    """What the letters of *text*'s first word find, letter by letter, as far as they go.

    A prefix that is not extended has all its hits on its screen; then those are left that go on
    with the letters that remain, by the beginnings of their words.
    """
    word = (fold(text).split() or [""])[0]
    prefix = catalogue.prefix()
    yield catalogue.found(prefix)
    for letter in word:
        turned = catalogue.turned(prefix, letter)
        if turned is None:
            rest = word if not prefix.letters else None
            found = [row for row in catalogue.found(prefix).best if _has_word(row.label, rest)]
            yield replace(prefix, letters="", count=len(found)), found
            return
        prefix = turned
        yield catalogue.found(prefix)


def _has_word(label: str, beginning: str | None) -> bool:
    """Whether a word of *label* begins so; nothing begins with None."""
    if beginning is None:
        return False
    words = fold(label).split()
    starts = any(word.startswith(beginning) for word in words)
    return starts or (not beginning.isalpha() and beginning in "".join(words))


def tree(catalogue: Catalogue) -> dict[str, object]:
    """The whole catalogue as one value of lists and tables, for JSON."""
    return {
        "counts": catalogue.counts(),
        "composers": [
            {
                "id": composer.id,
                "label": composer.label,
                "works": [
                    {
                        "id": work.id,
                        "label": work.label,
                        "recordings": [_group(catalogue, one) for one in catalogue.children(work)],
                    }
                    for work in catalogue.children(composer)
                ],
            }
            for composer in catalogue.children(catalogue.list_named("composers"))
        ],
        "artists": [
            {
                "id": artist.id,
                "label": artist.label,
                "albums": [_group(catalogue, one) for one in catalogue.children(artist)],
            }
            for artist in catalogue.children(catalogue.list_named("artists"))
        ],
    }


def _group(catalogue: Catalogue, entry: EntryRow) -> dict[str, object]:
    return {
        "id": entry.id,
        "label": entry.label,
        "year": entry.number or None,
        "seconds": entry.seconds,
        "tracks": [_track(row) for row in pages(catalogue.tracks, entry.first, entry.count)],
    }


def _track(row: TrackRow) -> dict[str, object]:
    return {
        "id": row.id,
        "number": row.number or None,
        "title": row.whole or row.label,
        "milliseconds": row.milliseconds,
        "path": row.path,
    }
