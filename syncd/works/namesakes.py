"""Which of several composers of one name is meant: told by the work, the album or the catalogue.

Bach father and sons, the Strausses, two composers called alike to the letter. Where nothing tells,
nobody is named: that is for the caller to say.
"""

from syncd.works.composer_names import name_key
from syncd.works.composers import Entry, table
from syncd.works.known_works import KnownWork, by_number, by_title
from syncd.works.numbers.meaning import resolve
from syncd.works.text import fold, title_key
from syncd.works.track import Track
from syncd.works.words.forms import FORMS

_OPUS = ("op", "opus", "opp", "woo", "anh")  # numbers that anybody can have


def namesake_of(entry: Entry | None, track: Track) -> Entry | None:
    """Another of the same name as *entry* who wrote the work of the title, if *entry* did not."""
    if entry is None:
        return None
    reading = track.work_tag or track.title.source or track.title.work
    others = table().namesakes(entry)
    if not others or reading is None:
        return None
    family, _, given = entry.sort.partition(",")
    bare = name_key(f"{family} {given}").split()
    if not set(name_key(track.fields.composer[0]).split()) < set(bare):
        return None  # the tag says which of them ("Johann Strauss II")
    names = dict.fromkeys(name for name in (reading.proper, reading.title) if name)
    if not names or any(by_title(entry.sort, name) is not None for name in names):
        return None
    told = [
        other for other in others if any(by_title(other.sort, name) is not None for name in names)
    ]
    return told[0] if len(told) == 1 else None


def relative_by_number(entry: Entry, track: Track) -> Entry | None:
    """The one of *entry*'s family in whose catalogue the title's number is, if *entry* has it not.

    "Bach: Fantasia, Wq. 63" is Carl Philipp Emanuel's, though the name alone means his father.
    """
    raws = [raw for raw in track.raws if raw.prefix not in _OPUS and raw.sure]
    if not raws or resolve(raws, entry.systems, entry.sort).numbers:
        return None
    able = [
        other
        for other in table().family(entry.sort.split(",")[0])
        if other is not entry and resolve(raws, other.systems, other.sort).numbers
    ]
    return able[0] if len(able) == 1 else None


def _is_called(known: KnownWork, title: str) -> bool:
    """Whether *title* is the known work's, be it with what kind of piece it is: "X, Waltz"."""
    names = {title_key(name) for name in (known.title, *known.names)}
    head, _, rest = title.partition(",")
    if not rest:
        head, _, rest = title.rpartition(" ")
    form = FORMS.get(fold(rest).strip(" ()")) is not None
    return title_key(title) in names or (form and title_key(head) in names)


def family_member(name: str, track: Track) -> Entry | None:
    """Who of a family is meant by its name, told by the album, the folder or the catalogue."""
    members = table().candidates(name)
    if not members:
        return None
    if len(members) == 1:
        return members[0]
    texts = [
        track.fields.album,
        *track.fields.artist,
        *track.fields.album_artist,
        *track.fields.folders[-2:],
    ]
    mentioned = [match.entry for text in texts for match in table().mentioned(text)]
    fitting = [entry for entry in dict.fromkeys(mentioned) if entry in members]
    if len(fitting) == 1:
        return fitting[0]
    raws = [raw for raw in track.raws if raw.prefix not in _OPUS]
    if raws:
        means = {entry.sort: resolve(raws, entry.systems, entry.sort) for entry in members}
        able = [entry for entry in members if means[entry.sort].numbers]
        if len(able) > 1:  # "K. 141 (L. 422)": who has the catalogues of all its numbers
            most = max(len(means[entry.sort].numbers) for entry in able)
            able = [entry for entry in able if len(means[entry.sort].numbers) == most]
        if len(able) == 1:
            return able[0]
    work = track.title.work
    title = work.title if work is not None else ""
    if title and track.raws:
        # The opus number alone is anybody's; with the form of the work that has it, it tells.
        named = [
            entry
            for entry in members
            if (
                known_work := by_number(
                    entry.sort, resolve(track.raws, entry.systems, entry.sort).numbers
                )
            )
            is not None
            and _is_called(known_work, title)
        ]
        if len(named) == 1:
            return named[0]
    if work is not None and work.structured and work.nickname is None:
        title = ""  # every Stamitz wrote a symphony: a general form tells nobody
    if title:
        known = [entry for entry in members if by_title(entry.sort, title) is not None]
        if len(known) == 1:
            return known[0]
    return None
