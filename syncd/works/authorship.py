"""Whether a composer wrote the work that a track's title names, as tables and catalogues tell.

Evidence about a name ("he stands in ARTIST") is weighed against this in ``attribution.py``.
"""

from collections.abc import Iterable, Iterator

from syncd.works.composers import Entry, table
from syncd.works.known_parts import part_called
from syncd.works.known_works import by_number, by_title, known_works, set_of
from syncd.works.numbers.meaning import owner_of, resolve
from syncd.works.text import title_key
from syncd.works.track import Track
from syncd.works.words.common_titles import COMMON_TITLES
from syncd.works.worktitle.reading import WorkReading

_ANYBODYS = ("op", "opus", "opp", "woo", "anh")
_FIRST_ON_RECORDS = 1855
"""Who was born from then on may be heard playing or conducting on a record."""


def readings_of(track: Track) -> Iterator[WorkReading]:
    """The works that a track's own title and WORK tag name."""
    title = track.title
    for reading in (track.work_tag, title.source, title.work):
        if reading is not None:
            yield reading


def wrote(entry: Entry, track: Track) -> bool:
    """Whether *entry* is known for the work that the title names, by its name or its number."""
    return any(_wrote(entry, reading) for reading in readings_of(track))


def has_own_number(entry: Entry, track: Track) -> bool:
    """Whether the title has a number of *entry*'s catalogue, which is more than an opus."""
    own = [raw for raw in track.raws if raw.prefix not in _ANYBODYS and raw.sure]
    return bool(own) and bool(resolve(own, entry.systems, entry.sort).numbers)


def alone_wrote(entry: Entry, track: Track) -> bool:
    """Whether nobody but *entry* is known for such a work: "Symphony No. 1" is anybody's."""
    for reading in readings_of(track):
        if not _wrote(entry, reading):
            continue
        if not reading.structured or not reading.form:
            return True
        if not (reading.raws or reading.key):
            continue
        rows = known_works().by_title.get(title_key(reading.title), ())
        others = {w.composer for w in rows if w.key == reading.key} - {entry.sort}
        if reading.raws or not others:
            return True
    return False


def wrote_named(entry: Entry, track: Track) -> bool:
    """Whether the title is the name of a work that *entry* alone is known for: "In C"."""
    for reading in readings_of(track):
        name = reading.proper or reading.title
        if not name or title_key(name) in COMMON_TITLES or (reading.structured and reading.form):
            continue
        known = by_title(None, name) or set_of(None, name)
        if known is not None and known.composer == entry.sort:
            return title_key(known.title) not in COMMON_TITLES
    return False


def _wrote(entry: Entry, reading: WorkReading) -> bool:
    numbers = resolve(reading.raws, entry.systems, entry.sort).numbers
    own = [raw for raw in reading.raws if raw.prefix not in _ANYBODYS and raw.sure]
    if own and resolve(own, entry.systems, entry.sort).numbers:
        return True
    known = by_number(entry.sort, numbers) if numbers else None
    names = dict.fromkeys(name for name in (reading.proper, reading.title, reading.text) if name)
    if any((part := part_called(name)) and part.composer == entry.sort for name in names):
        return True
    if known is not None:
        same = any(by_title(entry.sort, name) is known for name in names)
        alike = known.key == reading.key or not (known.key and reading.key)
        return alike and (same or (reading.structured and known.title.endswith(reading.title)))
    for name in names:
        work = by_title(entry.sort, name)
        if work is None and not reading.structured and not reading.raws:
            work = set_of(entry.sort, name)
        if work is not None and (not reading.raws or not work.catalogue or not numbers):
            if reading.key and work.key and reading.key != work.key:
                continue
            return True
    return any(
        work.composer == entry.sort and work.key == reading.key
        for work in known_works().by_title.get(title_key(reading.title), ())
        if reading.key and not numbers
    )


def named_by(works: Iterable[WorkReading], track: Track) -> bool:
    """Whether one of *works*, as an album's title names them, is the work of *track*."""
    for reading in readings_of(track):
        mine = {title_key(name) for name in (reading.proper, reading.title) if name}
        for work in works:
            theirs = {title_key(name) for name in (work.proper, work.title) if name}
            if reading.key and work.key and reading.key != work.key:
                continue
            if reading.raws and work.raws and not _share_number(reading, work):
                continue
            if mine & theirs:
                return True
            if not reading.structured and any(
                len(a) > 4 and len(b) > 4 and (a.startswith(b) or b.startswith(a))
                for a in mine
                for b in theirs
            ):
                return True
            if work.plural and work.form and reading.form and work.form == reading.form:
                return True
    return False


def _share_number(one: WorkReading, other: WorkReading) -> bool:
    return bool({(r.prefix, r.main) for r in one.raws} & {(r.prefix, r.main) for r in other.raws})


def firm_owner(entry: Entry | None, track: Track) -> Entry | None:
    """The one other than *entry* from whose catalogue alone the title's numbers can be."""
    raws = [raw for raw in track.raws if raw.sure and raw.prefix not in _ANYBODYS and not raw.annex]
    if not raws:
        return None
    if entry is not None and resolve(raws, entry.systems, entry.sort).numbers:
        return None
    owners = {owner_of(raw) for raw in raws} - {None}
    if len(owners) != 1:
        return None
    owner = table().by_sort.get(owners.pop() or "")
    return owner if owner is not entry else None


def only_author(track: Track) -> Entry | None:
    """The only composer of the table known for a work with the title's own name, or None."""
    for reading in readings_of(track):
        name = reading.proper or reading.title
        key = title_key(name)
        if len(key) < 5 or key in COMMON_TITLES or (reading.structured and reading.form):
            continue
        part = part_called(name)
        if part is not None and not reading.raws:
            return table().by_sort.get(part.composer)
        known = by_title(None, name) or (set_of(None, name) if not reading.raws else None)
        entry = table().by_sort.get(known.composer) if known is not None else None
        if known is None or entry is None or title_key(known.title) in COMMON_TITLES:
            continue
        numbers = resolve(reading.raws, entry.systems, entry.sort).numbers
        if not reading.raws or not set(numbers).isdisjoint(known.catalogue):
            return entry
    return None


def album_is_his(entry: Entry, track: Track) -> bool:
    """Whether the album is called after a work that *entry* alone is known for: "Carmina Burana".

    Not where the title is one that many have used, nor where the track's own work is another's.
    """
    work = track.album.work
    if work is None or (work.structured and work.form):
        return False
    name = work.proper or work.title
    if len(title_key(name)) < 5 or title_key(name) in COMMON_TITLES:
        return False
    known = by_title(None, name)
    if known is None or known.composer != entry.sort:
        return False
    author = only_author(track)
    return author is None or author is entry


def may_be_heard(entry: Entry) -> bool:
    """Whether *entry* lived late enough to stand among the performers as one of them."""
    return entry.born is None or entry.born >= _FIRST_ON_RECORDS
