"""Who composed a work that is named without its composer, as the table of known works tells.

"Don Giovanni, K. 527" is one man's by title and number; "Symphony No. 5 in C minor, Op. 67" is most
likely his whose fifth has that opus number; "Don Giovanni" alone only where the track shows
otherwise that it is no song of that name. What the tags say of a composer goes before.
"""

from collections.abc import Iterator, Sequence

from syncd.works.composers import Entry, table
from syncd.works.kind import has_concert_players
from syncd.works.known_parts import part_called
from syncd.works.known_works import by_title, known_works
from syncd.works.numbers.meaning import resolve
from syncd.works.numbers.raw import RawNumber
from syncd.works.popular import genre_side, is_chant, popular_album, popular_title
from syncd.works.text import title_key
from syncd.works.track import Track
from syncd.works.words.common_titles import COMMON_TITLES
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading

_SHORTEST = 5  # of titles that mean a work by themselves


def owner_by_work(track: Track) -> tuple[Entry, float, str] | None:
    """The composer of the work that *track* or its album names, how surely, and why; or None."""
    for reading, raws in _named(track):
        found = _by_number(reading, raws) if raws else _by_name(reading, track)
        if found is not None:
            return found
    movement = track.title.movement
    if movement is None or track.title.work is not None or movement.raws:
        return None
    return _by_part(movement.title or "", track)  # "Largo al factotum" looks like a tempo


def _by_part(name: str, track: Track) -> tuple[Entry, float, str] | None:
    """Whose work the well-known part called *name* belongs to, where the track looks like one."""
    part = part_called(name)
    if part is None or part.composer not in table().by_sort or not _looks_like_work(track):
        return None
    how = f"the only one known to have written {name}, of {part.whole}"
    return table().by_sort[part.composer], 0.6, how


def _named(track: Track) -> Iterator[tuple[WorkReading, Sequence[RawNumber]]]:
    title = track.title
    for reading in (track.work_tag, title.source, title.work):
        if reading is not None:
            yield reading, track.raws
    if title.work is not None:
        for name in title.work.bracket_names:  # "Casta diva (Norma)"
            yield read_work(name), track.raws
    album = track.album
    if album.work is not None and album.level >= 1:
        yield album.work, album.work.raws


def _is_name(reading: WorkReading) -> bool:
    """Whether the title is a name of its own, not a form with a number."""
    return reading.form is None or not reading.structured


def _by_number(reading: WorkReading, raws: Sequence[RawNumber]) -> tuple[Entry, float, str] | None:
    """The only composer who is known for a work of this title with one of these numbers."""
    if not _is_name(reading) and reading.number is None and reading.key is None:
        return None  # "Sonata, Op. 1"
    owners: dict[str, Entry] = {}
    for name in dict.fromkeys((reading.proper, reading.title)):
        for work in known_works().by_title.get(title_key(name), ()) if name else ():
            entry = table().by_sort.get(work.composer)
            if entry is None or (reading.key and work.key and reading.key != work.key):
                continue
            if not set(resolve(raws, entry.systems, entry.sort).numbers).isdisjoint(work.catalogue):
                owners[entry.sort] = entry
    if len(owners) != 1:
        return None
    entry = next(iter(owners.values()))
    if _is_name(reading):
        return entry, 0.85, f"the only one known to have written {reading.title} with this number"
    how = "the only one known to have written such a work with this number"
    return entry, 0.7 if reading.key else 0.65, how


def _by_name(reading: WorkReading, track: Track) -> tuple[Entry, float, str] | None:
    """The only composer who is known for a work so called, where the track looks like a work's."""
    name = reading.proper or reading.title
    if not _is_name(reading) or len(title_key(name)) < _SHORTEST:
        return None
    if is_chant(track.fields.album):
        return None  # Pérotin's "Viderunt omnes" is the name of a chant before it is his
    if table().exact(name) is not None:
        return None  # "Paganini" is more often a name than the operetta
    by_part = _by_part(name, track)
    if by_part is not None:
        return by_part
    known = by_title(None, name)
    if known is None or known.composer not in table().by_sort or not _looks_like_work(track):
        return None
    how = f"the only one known to have written {known.title}"
    common = title_key(name) in COMMON_TITLES or title_key(known.title) in COMMON_TITLES
    return table().by_sort[known.composer], 0.45 if common else 0.6, how


def _looks_like_work(track: Track) -> bool:
    fields = track.fields
    sides = [genre_side(genre) for genre in fields.genre]
    if any(side < 0 for side in sides):
        return False
    if popular_title(fields.title) or popular_album(fields.album):
        return False
    movement = track.title.movement
    structured = movement is not None and (
        movement.heading is not None or (movement.firm and movement.kind == "roman")
    )
    return (
        structured
        or track.album.excerpts
        or any(side > 0 for side in sides)
        or has_concert_players(fields)
    )
