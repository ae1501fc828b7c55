"""Who composed a track, from the strongest evidence to the weakest, with the reason.

Errata, the COMPOSER tag, the title, the album's title, the artist fields, the folders' names, the
owner of the catalogue number, the work's name, at last the neighbours. Which of several of one name
is meant is left to ``namesakes.py``, what a COMPOSER value says to ``composer_tag.py``, whose a
work is that is named without a composer to ``work_owner.py``.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from syncd.model import Composer
from syncd.works.album import read_album
from syncd.works.album_composers import Share
from syncd.works.authorship import (
    album_is_his,
    alone_wrote,
    firm_owner,
    has_own_number,
    may_be_heard,
    named_by,
    only_author,
    wrote,
)
from syncd.works.composer_names import name_key, unknown_composer
from syncd.works.composer_tag import ComposerTag, read_composers
from syncd.works.composers import Entry, Match, table
from syncd.works.known_works import by_title
from syncd.works.namesakes import family_member, namesake_of, relative_by_number
from syncd.works.numbers.meaning import owner_of
from syncd.works.people import read_people
from syncd.works.popular import genre_side
from syncd.works.text import fold
from syncd.works.track import Track
from syncd.works.words.no_composers import ARRANGERS
from syncd.works.work_owner import owner_by_work

_UNSURE = 0.45
"""How sure a composer is at most whom other evidence speaks against."""

_BEFORE_RECORDS = 1905
"""Who died until then is among the artists because he composed: orchestras were not recorded."""

_AFTER = re.compile(
    r"\b(?:after|nach|d'apres|based on|uber|variations?|hommage|homage|sur|theme)\b"
)
_AS_NAMED = ("name", "family name", "name in another order")


def find_composer(track: Track) -> None:
    """Find the composer of *track* from its own evidence, with a confidence and a reason."""
    corrected = track.correction.composer
    if corrected:
        match = table().near(corrected)
        composer = match.entry.composer if match else unknown_composer(corrected)
        _set(track, composer, match.entry if match else None, 1.0, "from the errata")
        return
    if track.fields.composer:
        track.tag = read_composers(track.fields.composer)
    if track.title.pair is not None:
        track.arrangers.append(track.title.pair)
    if track.tag.composer is not None:
        _by_tag(track, track.tag, track.tag.composer)
        _doubt_tag(track)
    elif not (_by_title(track) or _by_album(track)):
        _by_names_around(track)


def _set(
    track: Track, composer: Composer, entry: Entry | None, confidence: float, reason: str
) -> None:
    track.composer, track.entry, track.composer_confidence = composer, entry, confidence
    track.reasons.append(f"composer: {reason}")


def _attribute(track: Track, entry: Entry, confidence: float, reason: str) -> None:
    """Name a composer whom the table has."""
    _set(track, entry.composer, entry, confidence, reason)


def _attribute_name(track: Track, found: Match, confidence: float, reason: str) -> None:
    """Name the composer *found*, or the relative in whose catalogue the title's number is."""
    by_name = found.how in ("family name", "possessive")
    relative = relative_by_number(found.entry, track) if by_name else None
    if relative is not None:
        reason += ", of that family the one in whose catalogue the number is"
        _attribute(track, relative, min(confidence, 0.8), reason)
    else:
        _attribute(track, found.entry, confidence, reason)


def _by_tag(track: Track, tag: ComposerTag, composer: Composer) -> None:
    """Believe the COMPOSER tag, unless the title's work or prefix is another's."""
    name = track.fields.composer[0]
    entry = tag.entry if tag.entry is not None else family_member(name, track)
    if entry is None and table().several(name):
        # "Strauss": there are several, and nothing tells which; no name is better than a guess.
        track.reasons.append(f"composer: several are called {name}, and nothing tells which")
        return
    namesake = namesake_of(entry, track) if tag.how == "name" else None
    if tag.how == "initials that fit several":
        member = family_member(name, track)  # "J. Strauss"
        namesake = member if member is not entry else None
    elif tag.how == "family name" and entry is not None:
        namesake = relative_by_number(entry, track)
    if namesake is not None:
        how = "COMPOSER tag, of the same name the one who wrote this work"
        _attribute(track, namesake, 0.85, how)
    elif entry is not None and tag.entry is None:
        _attribute(track, entry, 0.75, "family name in the COMPOSER tag, told by the album")
    else:
        _set(track, composer, tag.entry, min(0.97, tag.confidence), f"COMPOSER tag ({tag.how})")
    track.arrangers.extend(tag.arrangers)
    for other in tag.others:
        if track.title.arranger and fold(other).split()[-1] in fold(track.title.arranger):
            track.arrangers.append(other)
    prefix = track.title.composer
    if prefix is not None and namesake is None and entry is not prefix.entry:
        _weigh_prefix(track, tag, entry, prefix.entry)


def _weigh_prefix(track: Track, tag: ComposerTag, entry: Entry | None, prefix: Entry) -> None:
    """Decide between the COMPOSER tag (*entry*) and another composer before the title."""
    work = track.title.work
    others = [table().exact(other) for other in tag.others]
    if tag.entry is None or any(match is not None and match.entry is prefix for match in others):
        _attribute(track, prefix, 0.85, "from the title's prefix")
    elif (
        entry is not None
        and work is not None
        and by_title(prefix.sort, work.title) is not None
        and by_title(entry.sort, work.title) is None
    ):
        # "Beethoven: Symphony No. 5", COMPOSER Liszt: he arranged what the other wrote.
        track.arrangers.append(track.fields.composer[0])
        how = "from the title's prefix, who wrote this work; the COMPOSER tag names an arranger"
        _attribute(track, prefix, 0.7, how)
    else:
        track.composer_confidence = 0.6
        track.reasons.append("the title names another composer than the COMPOSER tag")


def _by_title(track: Track) -> bool:
    found = track.title.composer
    if found is not None:
        how = f"from the title ({found.how})"
        confidence = min(0.95, found.confidence, 0.8 if track.title.pair is not None else 1.0)
        _attribute_name(track, found, confidence, how)
        if track.title.behind and may_be_heard(found.entry) and not wrote(found.entry, track):
            _lower(track, "a name behind the title may be a performer's")
        return True
    if track.title.family:
        member = family_member(track.title.family, track)
        if member is not None:
            how = "family name in the title, told by catalogue or album"
            alone = len(table().candidates(track.title.family)) == 1
            told = not alone or has_own_number(member, track) or wrote(member, track)
            _attribute(track, member, 0.75 if told else 0.6, how)
            return True
    return False


def _by_album(track: Track) -> bool:
    """The composer before the album's title, or that of its composers whose the work is."""
    album = track.album
    if len(album.shares) > 1:
        told = _whose(track, album.shares)
        if told is not None:
            how = "of the composers in the album's title the one whose work it is"
            _attribute(track, told, 0.8, how)
            return True
        if not _one_has_works(album.shares):
            return False
    if album.prefix is not None:
        confidence = min(0.9, album.prefix.confidence)
        if album.about and not wrote(album.prefix.entry, track):
            confidence = _UNSURE
        _attribute_name(track, album.prefix, confidence, "from the album's title")
        _doubt_album(track)
        _doubt_player(track, album.prefix)
        return True
    if album.family:
        member = family_member(album.family, track)
        if member is not None:
            _attribute(track, member, 0.7, "family name in the album's title")
            return True
    return False


def _whose(track: Track, shares: Sequence[Share]) -> Entry | None:
    """The only one of an album's composers who wrote the work that the title names."""
    beside = [share.match.entry for share in shares if named_by(share.works, track)]
    if len(beside) == 1:
        return beside[0]
    known = [share.match.entry for share in shares if wrote(share.match.entry, track)]
    return known[0] if len(known) == 1 else None


def _one_has_works(shares: Sequence[Share]) -> bool:
    """Whether only the first of several names stands before works: the others may play them."""
    return bool(shares[0].works) and not any(share.works for share in shares[1:])


def _doubt_tag(track: Track) -> None:
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
            _attribute(track, owner, 0.75, how)
        else:
            _lower(track, "the title's number is in another's catalogue")
        return
    other = track.album.prefix.entry if track.album.prefix is not None else None
    if entry is None:
        several = track.album.family or len(track.album.composers) > 1
        if other is None and several and _is_performer(track, name):
            _lower(track, "the COMPOSER tag names a performer")
        elif other is None and (author := only_author(track)) is not None:
            if track.composer_sort in ARRANGERS:
                track.arrangers.append(name)
                how = "the only one known to have written this; the COMPOSER tag names an arranger"
                _attribute(track, author, 0.7, how)
            else:
                _lower(track, "another is known for this work")
        if other is not None and len(track.album.shares) < 2 and _is_performer(track, name):
            how = "from the album's title; the COMPOSER tag names a performer"
            _attribute(track, other, 0.7, how)
        elif other is not None and wrote(other, track):
            _lower(track, "the album's title names another composer, who wrote this work")
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
        _attribute(track, author, 0.7, how)
    elif other is not None and other is not entry and wrote(other, track):
        if _is_performer(track, name):
            how = "from the album's title; the COMPOSER tag names a performer"
            _attribute(track, other, 0.7, how)
        elif len(track.album.shares) < 2:
            _lower(track, "the album's title names another composer, who wrote this work")
    elif author is not None and other is not entry:
        _lower(track, "another is known for this work")


def _arranged_by(track: Track, entry: Entry) -> bool:
    found = (table().exact(name) for name in track.arrangers)
    return any(match is not None and match.entry is entry for match in found)


def _doubt_album(track: Track) -> None:
    """Weigh the album's composer against the number in the title."""
    owner = firm_owner(track.entry, track)
    if owner is not None and track.title.work is not None:
        _attribute(track, owner, 0.75, "the title's number is in the catalogue of this composer")


def _doubt_player(track: Track, named: Match) -> None:
    """Doubt the name before the album's title where it may be that of who plays."""
    entry = named.entry
    if track.entry is not entry or not may_be_heard(entry) or wrote(entry, track):
        return
    author = only_author(track)
    if author is not None and author is not entry:
        _lower(track, "another is known for this work")
    elif (
        track.album.level < 2
        and _is_performer(track, entry.name)
        and not (track.strength >= 2 and _others_play(track, entry))
    ):
        _lower(track, "who is named in the album's title plays himself")


def _lower(track: Track, why: str) -> None:
    track.composer_confidence = min(track.composer_confidence, _UNSURE)
    track.reasons.append(f"composer in doubt: {why}")


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


def _by_names_around(track: Track) -> None:
    """A composer among the artists, within the album's title, in a folder's name; else a number."""
    artist = _artist_composer(track)
    if artist is not None:
        confidence = min(0.85, artist.confidence)
        heard = may_be_heard(artist.entry) and (artist.entry.died or 9999) > _BEFORE_RECORDS
        known = alone_wrote(artist.entry, track) if heard else wrote(artist.entry, track)
        known = known or album_is_his(artist.entry, track)
        heard = heard and not known
        other = None if known else _other_author(artist.entry, track)
        if other is None or other is artist.entry:
            _attribute_name(track, artist, _UNSURE if heard else confidence, "in the artist fields")
            return
    composers = track.album.composers
    if len(composers) == 1 and len(track.album.shares) < 2:
        sure = wrote(composers[0].entry, track) or not (
            track.album.about or may_be_heard(composers[0].entry)
        )
        _attribute(
            track, composers[0].entry, 0.8 if sure else _UNSURE, "named in the album's title"
        )
        _doubt_album(track)
        return
    for name in reversed(track.fields.folders[-3:]):
        match = table().exact(name)
        if match is None:
            below = read_album(name)
            if below.prefix is not None and below.prefix.how in _AS_NAMED and not below.about:
                told = _whose(track, below.shares) if len(below.shares) > 1 else None
                if told is not None:
                    _attribute(track, told, 0.75, "from the folder's name, whose work it is")
                    return
                if len(below.shares) < 2 or _one_has_works(below.shares):
                    match = below.prefix
        if match is not None:
            _attribute_name(track, match, 0.78, "from the folder's name")
            return
    if _by_family_around(track):
        return
    for raw in track.raws:
        owner = owner_of(raw)
        if owner is not None and owner in table().by_sort:
            how = f"{raw.text} is in the catalogue of this composer only"
            _attribute(track, table().by_sort[owner], 0.85, how)
            return
    owned = owner_by_work(track)
    if owned is not None:
        _attribute(track, *owned)


def _other_author(entry: Entry, track: Track) -> Entry | None:
    """Who is known for the work that *entry* is not known for, by its number or its name."""
    owner = firm_owner(entry, track) or only_author(track)
    if owner is None and track.raws and track.title.work is not None and track.title.work.key:
        owned = owner_by_work(track)
        owner = owned[0] if owned is not None else None
    return owner


def _by_family_around(track: Track) -> bool:
    """One of several of a family name among the artists or folders, where the work tells who."""
    if track.title.work is None and not track.raws:
        return False
    fields = track.fields
    for value in (*fields.album_artist, *fields.artist):
        if table().candidates(value):
            member = family_member(value, track)
            if member is not None and (
                table().several(value) or has_own_number(member, track) or wrote(member, track)
            ):
                _attribute(
                    track, member, 0.72, "family name in the artist fields, told by the work"
                )
                return True
    for name in reversed(fields.folders[-3:]):
        family = read_album(name).family
        member = family_member(family, track) if family else None
        if member is not None:
            _attribute(track, member, 0.7, "family name in the folder's name, told by the work")
            return True
    return False


def _artist_composer(track: Track) -> Match | None:
    """The composer among the artists; a family name counts beside a work or his own title."""
    for value in (*track.fields.album_artist, *track.fields.artist):
        found = table().exact(value) or _composer_among(value)
        if found is None and _has_work_signs(track):
            found = _misspelled(value, track)
        elif found is not None and found.how == "family name":
            found = _other_spelling(value, found, track)
        if found is None or found.how == "possessive":
            continue
        told = found.how != "family name" or _has_work_signs(track)
        if told or only_author(track) is found.entry:
            return found
    return None


def _misspelled(name: str, track: Track) -> Match | None:
    """The composer whose family name *name* is with a slip: "Tchaikovksy"."""
    found = table().near_family(name)
    if found is not None and wrote(found.entry, track):
        return found
    near = [entry for entry in table().near_families(name) if wrote(entry, track)]
    if len(near) == 1:
        return Match(near[0], 0.75, "a family name spelled nearly so, whose work it is")
    return None if found is None else replace(found, confidence=0.6)


def _other_spelling(name: str, found: Match, track: Track) -> Match:
    """*found*, or the one nearly called so whose work it is: "Schuman" above Träumerei."""
    if wrote(found.entry, track):
        return found
    near = [entry for entry in table().near_families(name) if alone_wrote(entry, track)]
    if len(near) == 1:
        return Match(near[0], 0.7, "a family name spelled nearly so, whose work it is")
    if any(raw.prefix == "op" for raw in track.raws) and "op" not in found.entry.systems:
        near = [entry for entry in table().near_families(name) if "op" in entry.systems]
        if len(near) == 1:
            return Match(near[0], 0.6, "a family name spelled nearly so, of one who counted opera")
    return found


def _composer_among(artists: str) -> Match | None:
    """The first composer in a list of artists of whom it does not say that they play."""
    for person in read_people(artists):
        if not person.instruments and not person.roles:
            match = table().exact(person.name)
            if match is not None and match.how in _AS_NAMED:
                return match
    return None


def _has_work_signs(track: Track) -> bool:
    movement = track.title.movement
    return (
        track.strength >= 1
        or track.album.level >= 2
        or (movement is not None and (movement.firm or movement.tempo))
        or any(genre_side(genre) > 0 for genre in track.fields.genre)
    )


def go_on_with(track: Track, head: Track) -> None:
    """Give *track*, which goes on with the work of *head*, its composer if it has none."""
    if track.composer is None and head.composer is not None and not track.fields.composer:
        confidence = min(0.75, head.composer_confidence)
        how = "that of the work with which the track goes on"
        _set(track, head.composer, head.entry, confidence, how)


def ask_neighbours(tracks: list[Track]) -> None:
    """Give tracks without a composer the one whom all their neighbours have."""
    composers = Counter(track.composer for track in tracks if track.composer is not None)
    missing = [track for track in tracks if track.composer is None]
    if not missing or len(composers) != 1:
        return
    composer = next(iter(composers))
    if composers[composer] <= len(missing):
        return
    if len({track.fields.album for track in tracks}) != 1:
        return
    if len(tracks[0].album.shares) > 1 and not _one_has_works(tracks[0].album.shares):
        return  # the others' tracks are those that nothing attributes
    entry = next(track.entry for track in tracks if track.composer == composer)
    for track in missing:
        if not track.fields.composer:
            _set(track, composer, entry, 0.5, "that of all other tracks of the folder")
