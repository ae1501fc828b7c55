"""What speaks against the composer whom a tag or a title names: he may have arranged, or play.

Who is named there is found by ``attribution.py``.
"""

import re

from syncd.works.attributing import attribute, lower
from syncd.works.authorship import (
    firm_owner,
    may_be_heard,
    only_author,
    wrote,
)
from syncd.works.composer_names import name_key
from syncd.works.composers import Entry, Match, table
from syncd.works.people import read_people
from syncd.works.text import fold
from syncd.works.track import Track
from syncd.works.words.no_composers import ARRANGERS

_AFTER = re.compile(
    r"\b(?:after|nach|d'apres|based on|uber|variations?|hommage|homage|sur|theme)\b"
)


def doubt_tag(track: Track) -> None:
    """Weigh a COMPOSER tag against the work: arrangers and performers stand there, too."""
    entry, name = track.entry, track.fields.composer[0]
    if track.title.composer is not None or track.composer is None:
        return
    owner = firm_owner(entry, track)
    if owner is not None and _AFTER.search(fold(track.fields.title)) is None:
        born = entry.born if entry is not None else None
        if born is None or owner.died is None or born >= owner.died - 20:
            how = "the title's number is in his catalogue only; the COMPOSER tag names an arranger"
            track.arrangers.append(name)
            attribute(track, owner, 0.75, how)
        else:
            lower(track, "the title's number is in another's catalogue")
        return
    other = track.album.prefix.entry if track.album.prefix is not None else None
    if entry is None:
        several = track.album.family or len(track.album.composers) > 1
        if other is None and several and _is_performer(track, name):
            lower(track, "the COMPOSER tag names a performer")
        elif other is None and (author := only_author(track)) is not None:
            if track.composer_sort in ARRANGERS:
                track.arrangers.append(name)
                how = "the only one known to have written this; the COMPOSER tag names an arranger"
                attribute(track, author, 0.7, how)
            else:
                lower(track, "another is known for this work")
        if other is not None and len(track.album.shares) < 2 and _is_performer(track, name):
            how = "from the album's title; the COMPOSER tag names a performer"
            attribute(track, other, 0.7, how)
        elif other is not None and wrote(other, track):
            lower(track, "the album's title names another composer, who wrote this work")
        return
    author = only_author(track)
    if author is entry or (author is None and (other is None or other is entry)):
        return
    if author is not None and _arranged_by(track, author):
        return  # "Schumann (arr. Liszt)": the piece is known as the other's arrangement
    if wrote(entry, track):
        return
    if author is not None and entry.sort in ARRANGERS:
        track.arrangers.append(name)
        how = "the only one known to have written this; the COMPOSER tag names an arranger"
        attribute(track, author, 0.7, how)
    elif other is not None and other is not entry and wrote(other, track):
        if _is_performer(track, name):
            how = "from the album's title; the COMPOSER tag names a performer"
            attribute(track, other, 0.7, how)
        elif len(track.album.shares) < 2:
            lower(track, "the album's title names another composer, who wrote this work")
    elif author is not None and other is not entry:
        lower(track, "another is known for this work")


def _arranged_by(track: Track, entry: Entry) -> bool:
    found = (table().exact(name) for name in track.arrangers)
    return any(match is not None and match.entry is entry for match in found)


def doubt_album(track: Track) -> None:
    """Weigh the album's composer against the number in the title."""
    owner = firm_owner(track.entry, track)
    if owner is not None and track.title.work is not None:
        attribute(track, owner, 0.75, "the title's number is in the catalogue of this composer")


def doubt_player(track: Track, named: Match) -> None:
    """Doubt the name before the album's title where it may be that of who plays."""
    entry = named.entry
    if track.entry is not entry or not may_be_heard(entry) or wrote(entry, track):
        return
    author = only_author(track)
    if author is not None and author is not entry:
        lower(track, "another is known for this work")
    elif (
        track.album.level < 2
        and _is_performer(track, entry.name)
        and not (track.strength >= 2 and _others_play(track, entry))
    ):
        lower(track, "who is named in the album's title plays himself")


def _is_performer(track: Track, name: str) -> bool:
    """Whether *name* stands among the performers, too."""
    fields = track.fields
    lists = (fields.artist, fields.album_artist, fields.conductor, fields.performer)
    key = name_key(name)
    return any(
        name_key(person.name) == key
        for values in lists
        for value in values
        for person in read_people(value)
    )


def _others_play(track: Track, entry: Entry) -> bool:
    """Whether the tags name others who play, and *entry* only as the artist, as who composed."""
    fields = track.fields
    lists = (fields.album_artist, fields.conductor, fields.performer, fields.ensemble)
    key = name_key(entry.name)
    names = [
        name_key(person.name)
        for values in lists
        for value in values
        for person in read_people(value)
    ]
    return bool(names) and key not in names
