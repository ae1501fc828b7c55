"""Whether a track is filed by composer and work or by artist and album: its kind.

A genre decides where there is one, else composer, title, album and players; a folder's clear
majority draws the doubtful ones along. What popular titles, albums and genres look like is left to
``popular.py``.
"""

from dataclasses import dataclass

from syncd.model import Kind
from syncd.works.authorship import wrote_named
from syncd.works.composer_tag import NOT_IN_TABLE
from syncd.works.composers import Entry, Match, table
from syncd.works.ensembles import is_formal
from syncd.works.fields import Fields
from syncd.works.known_parts import part_called
from syncd.works.known_works import by_title, set_of
from syncd.works.numbers.meaning import owner_of
from syncd.works.people import Person, read_people
from syncd.works.popular import (
    genre_crosses,
    genre_side,
    is_chant,
    is_soundtrack,
    popular_album,
    popular_title,
)
from syncd.works.text import fold
from syncd.works.track import Track
from syncd.works.words.folders import may_name_artist

_SONGS_SINCE = 1930
"""Whoever died before wrote no songs for records; "Nessun dorma" beside new ones is an aria."""


def judge(tracks: list[Track]) -> None:
    """Say of each track whether it is filed by work or by artist and album."""
    for track in tracks:
        track.kind, track.kind_firm = _kind(track)
    works = [t for t in tracks if t.kind is Kind.WORK]
    others = [t for t in tracks if t.kind is not Kind.WORK and not t.kind_firm]
    if works and others and len(works) >= len(others):
        firm = sum(1 for t in works if t.kind_firm)
        if firm * 2 >= len(works):
            for track in others:
                if any(w.fields.album == track.fields.album for w in works):
                    track.kind = Kind.WORK
    elif works and others:
        for track in works:
            if not track.kind_firm:
                track.kind = Kind.POPULAR
    for track in tracks:
        if track.kind is Kind.POPULAR:
            track.reasons.append("popular: better kept by artist and album")


@dataclass(slots=True)
class _Signs:
    """What speaks for a work or against it, as far as the track itself and its composer tell.

    ``strength`` is how much the title looks like a work's, ``tagged`` that the COMPOSER tag names
    one of the table, ``songwriters`` that it names several without saying more, ``numbered`` that a
    movement's number stands in the title, ``known_title`` that the composer wrote a work so called,
    ``loud`` that the title is a song's.
    """

    strength: int
    tagged: bool
    songwriters: bool
    numbered: bool
    known_title: bool
    loud: bool


def _signs(track: Track) -> _Signs:
    movement, tag, entry = track.title.movement, track.tag, track.entry
    return _Signs(
        strength=track.strength,
        tagged=tag.entry is not None and tag.confidence >= 0.75,
        songwriters=tag.parts > 1 and tag.how in ("family name", NOT_IN_TABLE),
        numbered=movement is not None and movement.firm and movement.kind != "digit",
        known_title=entry is not None
        and any(
            reading is not None
            and (
                by_title(entry.sort, reading.title)
                or set_of(entry.sort, reading.title)
                or ((part := part_called(reading.title)) and part.composer == entry.sort)
            )
            for reading in (track.work_tag, track.title.work, track.title.source)
        ),
        loud=popular_title(track.fields.title),
    )


def _kind(track: Track) -> tuple[Kind, bool]:
    """The kind of a track by itself, and whether that is firm against its neighbours."""
    if track.correction.kind is not None:
        return track.correction.kind, True
    if track.correction.composer or track.correction.work:
        return Kind.WORK, True
    sides = [genre_side(genre) for genre in track.fields.genre]
    side = min(sides) if sides and min(sides) < 0 else max(sides, default=0)
    if side > 0:
        return Kind.WORK, True
    signs = _signs(track)
    if side < 0:
        return _kind_in_popular_genre(track, signs)
    if signs.loud or popular_album(track.fields.album):
        if is_soundtrack(track.fields.album):
            firm = signs.tagged and signs.strength >= 3
        else:
            firm = track.entry is not None and (signs.strength >= 2 or signs.known_title)
        return (Kind.WORK if firm else Kind.POPULAR), True
    return _kind_without_genre(track, signs)


def _kind_in_popular_genre(track: Track, signs: _Signs) -> tuple[Kind, bool]:
    """A genre such as Pop is often wrong: a composer who is firmly named outweighs it."""
    album = track.album
    if track.work_tag is not None and track.composer is not None and signs.tagged:
        return Kind.WORK, True
    if signs.loud:
        return Kind.POPULAR, True
    workish = signs.strength >= 2 or signs.known_title or album.level >= 2
    if signs.tagged and not signs.songwriters and (workish or _is_sung_across(track)):
        return Kind.WORK, True
    if _is_by_artist(track):
        return Kind.WORK, True
    if album.prefix is not None and album.level >= 2 and not popular_album(track.fields.album):
        return Kind.WORK, False
    if track.title.composer is not None and signs.strength >= 2:
        return Kind.WORK, False
    return Kind.POPULAR, True


def _is_sung_across(track: Track) -> bool:
    """Whether an old master's piece stands among the songs of a record between the genres."""
    died = track.entry.died if track.entry is not None else None
    return died is not None and died < _SONGS_SINCE and genre_crosses(" ".join(track.fields.genre))


def _is_by_artist(track: Track) -> bool:
    """Whether the artist is who composed: an old master, or the only one known for that title."""
    entry, fields = track.entry, track.fields
    if entry is None or track.tag.composer is not None or popular_album(fields.album):
        return False
    if any(is_soundtrack(genre) for genre in fields.genre):
        return False
    match = _as_artist(entry, fields)
    if match is None:
        return False
    if entry.died is not None and entry.died < _SONGS_SINCE and match.how == "name":
        return True
    return wrote_named(entry, track)


def _as_artist(entry: Entry, fields: Fields) -> Match | None:
    """How ARTIST names *entry*, None where it does not."""
    found = (table().exact(value) for value in fields.artist)
    return next((match for match in found if match is not None and match.entry is entry), None)


def _is_played_by_others(track: Track) -> bool:
    """Whether ARTIST names the composer, and ALBUMARTIST an orchestra or the like that plays."""
    fields = track.fields
    if track.entry is None or fields.artist == fields.album_artist:
        return False
    return _as_artist(track.entry, fields) is not None and any(
        person.kind in ("ensemble", "choir") and is_formal(person.name)
        for value in fields.album_artist
        for person in read_people(value)
    )


def _kind_without_genre(track: Track, signs: _Signs) -> tuple[Kind, bool]:
    """The kind where neither genre nor title nor album is a popular one's."""
    fields = track.fields
    title = track.title
    strength, numbered, songwriters = signs.strength, signs.numbered, signs.songwriters
    if track.entry is not None and (signs.tagged or track.composer_confidence >= 0.55):
        if songwriters and strength < 2 and not has_concert_players(fields):
            return Kind.POPULAR, False
        if track.tag.how != "family name":
            return Kind.WORK, True
        workish = strength or numbered or signs.known_title or track.album.level or title.source
        return Kind.WORK, bool(workish or has_concert_players(fields))
    if track.entry is not None and (strength >= 2 or _is_played_by_others(track)):
        return Kind.WORK, strength >= 2  # of whom it is only in doubt whether he composed or plays
    performers = _performers(fields)
    classical = _of_concert_life(fields, performers)
    if track.album.excerpts or (classical and is_chant(fields.album)):
        return Kind.WORK, True
    if fields.work or fields.movement or fields.movement_name or fields.conductor:
        return Kind.WORK, True
    if title.work is not None and any(owner_of(raw) for raw in track.raws):
        return Kind.WORK, True
    tempo = title.movement is not None and (title.movement.tempo or numbered)
    if classical and (strength >= 2 or (tempo and track.album.level >= 2)):
        return Kind.WORK, True
    composer = track.tag.composer
    if composer is not None and not songwriters and (strength >= 1 or classical or numbered):
        same = any(fold(composer.name) == fold(value) for value in fields.artist)
        if classical or not same:
            return Kind.WORK, strength >= 2 or numbered
    if _has_all_of_a_work(track, numbered) or (
        strength >= 3 and title.work is not None and title.work.key
    ):
        return Kind.WORK, False
    if performers or fields.album_artist:
        return Kind.POPULAR, False
    bare_tempo = title.movement is not None and title.movement.tempo and title.work is None
    nameless = fields.named_by_file and not _has_artist_folder(fields)
    if track.generic_title or bare_tempo or nameless:
        return Kind.UNKNOWN, False
    return Kind.POPULAR, False


def _has_all_of_a_work(track: Track, numbered: bool) -> bool:
    """Whether a form stands in the title with two of number, key and a movement's heading."""
    work, movement = track.title.work, track.title.movement
    if work is None or not work.form:
        return False
    heading = movement is not None and (movement.tempo or numbered)
    return (work.number is not None) + (work.key is not None) + heading >= 2


def has_concert_players(fields: Fields) -> bool:
    """Whether the performers are of concert life: with instruments, a conductor, an orchestra."""
    return _of_concert_life(fields, _performers(fields))


def _performers(fields: Fields) -> list[Person]:
    return [p for value in (*fields.artist, *fields.performer) for p in read_people(value)]


def _of_concert_life(fields: Fields, performers: list[Person]) -> bool:
    return bool(fields.conductor or fields.ensemble or fields.choir) or any(
        p.instruments or (p.kind in ("ensemble", "choir") and is_formal(p.name)) for p in performers
    )


def _has_artist_folder(fields: Fields) -> bool:
    return sum(map(may_name_artist, fields.folders)) >= 2
