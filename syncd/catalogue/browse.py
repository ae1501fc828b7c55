"""A catalogue as text for pipes: the whole of it as an outline, or as one value for JSON.

It asks for nothing but what a player can ask for. Walking at a terminal is ``walk``'s.
"""

from collections.abc import Iterator

from syncd.catalogue.reader import Catalogue, EntryRow, TrackRow, pages
from syncd.catalogue.showing import group_line, shown, summary, track_line

__all__ = ["outline", "summary", "tree"]


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
