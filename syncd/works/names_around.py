"""Who composed a track that neither tag nor title nor the album's first name tells.

A composer among the artists, within the album's title, in a folder's name, the owner of the
catalogue number, at last of the work's name. Evidence that is stronger is read by
``attribution.py``.
"""

from collections.abc import Sequence
from dataclasses import replace

from syncd.works.album import read_album
from syncd.works.album_composers import Share
from syncd.works.attributing import UNSURE, attribute, attribute_name
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
from syncd.works.composer_doubts import doubt_album
from syncd.works.composers import Entry, Match, table
from syncd.works.namesakes import family_member
from syncd.works.numbers.meaning import owner_of
from syncd.works.people import read_people
from syncd.works.popular import genre_side
from syncd.works.track import Track
from syncd.works.work_owner import owner_by_work

_BEFORE_RECORDS = 1905
"""Who died until then is among the artists because he composed: orchestras were not recorded."""

_AS_NAMED = ("name", "family name", "name in another order")


def whose(track: Track, shares: Sequence[Share]) -> Entry | None:
    """The only one of an album's composers who wrote the work that the title names."""
    beside = [share.match.entry for share in shares if named_by(share.works, track)]
    if len(beside) == 1:
        return beside[0]
    known = [share.match.entry for share in shares if wrote(share.match.entry, track)]
    return known[0] if len(known) == 1 else None


def one_has_works(shares: Sequence[Share]) -> bool:
    """Whether only the first of several names stands before works: the others may play them."""
    return bool(shares[0].works) and not any(share.works for share in shares[1:])


def by_names_around(track: Track) -> None:
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
            attribute_name(track, artist, UNSURE if heard else confidence, "in the artist fields")
            return
    composers = track.album.composers
    if len(composers) == 1 and len(track.album.shares) < 2:
        sure = wrote(composers[0].entry, track) or not (
            track.album.about or may_be_heard(composers[0].entry)
        )
        attribute(track, composers[0].entry, 0.8 if sure else UNSURE, "named in the album's title")
        doubt_album(track)
        return
    for name in reversed(track.fields.folders[-3:]):
        match = table().exact(name)
        if match is None:
            below = read_album(name)
            if below.prefix is not None and below.prefix.how in _AS_NAMED and not below.about:
                told = whose(track, below.shares) if len(below.shares) > 1 else None
                if told is not None:
                    attribute(track, told, 0.75, "from the folder's name, whose work it is")
                    return
                if len(below.shares) < 2 or one_has_works(below.shares):
                    match = below.prefix
        if match is not None:
            attribute_name(track, match, 0.78, "from the folder's name")
            return
    if _by_family_around(track):
        return
    for raw in track.raws:
        owner = owner_of(raw)
        if owner is not None and owner in table().by_sort:
            how = f"{raw.text} is in the catalogue of this composer only"
            attribute(track, table().by_sort[owner], 0.85, how)
            return
    owned = owner_by_work(track)
    if owned is not None:
        attribute(track, *owned)


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
                attribute(track, member, 0.72, "family name in the artist fields, told by the work")
                return True
    for name in reversed(fields.folders[-3:]):
        family = read_album(name).family
        member = family_member(family, track) if family else None
        if member is not None:
            attribute(track, member, 0.7, "family name in the folder's name, told by the work")
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
