"""From the evidence of a unit's tracks to their identities: the order of the steps.

Works first, each from track and album; then what tracks of one work tell each other; titles,
numbers and credits; recordings and their movements. Each step is a module of its own.
"""

from collections.abc import Sequence

from syncd.model import Identity, Kind, Movement, Work
from syncd.works.album_work import albums_that_are_works
from syncd.works.crediting import give_credits
from syncd.works.finding_work import find_work
from syncd.works.piece import Piece
from syncd.works.recordings import find_recordings
from syncd.works.sets import gather_sets
from syncd.works.settling import settle
from syncd.works.shared_facts import share_facts
from syncd.works.text import is_shouting, unshout
from syncd.works.track import Track
from syncd.works.words.folders import may_name_artist


def identities_of(tracks: Sequence[Track]) -> dict[int, Identity]:
    """The identity of each track of one unit, by its position among the unit's files."""
    pieces = [Piece(track) for track in tracks]
    works = [piece for piece in pieces if piece.track.kind is Kind.WORK]
    album_is_work = albums_that_are_works(works)
    for position, piece in enumerate(works):
        piece.position = position
        find_work(piece, album_is_work)
    gather_sets(works)
    share_facts(works)
    for piece in works:
        settle(piece)
    for piece in pieces:
        give_credits(piece)
    find_recordings(works)
    return {piece.track.index: _identity(piece) for piece in pieces}


def _identity(piece: Piece) -> Identity:
    track = piece.track
    fields = track.fields
    artist = ", ".join(fields.artist) or ", ".join(fields.album_artist) or None
    album = fields.album or None
    if track.kind is not Kind.WORK:
        above = None if artist else _artist_of_folders(track)
        told = 0.9 if track.kind_firm else 0.7
        if above is not None:
            told = _BY_FOLDERS
        return Identity(
            kind=track.kind,
            artist=artist or above,
            album=album,
            confidence=told if track.kind is Kind.POPULAR else 0.3,
            reasons=tuple(dict.fromkeys(track.reasons)),
            tags=track.correction.tags or (),
        )
    _give_last_reasons(piece)
    return Identity(
        kind=Kind.WORK,
        composer=track.composer,
        work=Work(piece.title, piece.numbers, piece.key) if piece.title or piece.numbers else None,
        recording=piece.recording,
        movement=_movement(piece),
        credits=piece.cast.credits,
        artist=artist,
        album=album,
        confidence=_confidence(piece),
        reasons=tuple(dict.fromkeys(track.reasons)),
        tags=track.correction.tags or (),
    )


def _movement(piece: Piece) -> Movement | None:
    correction = piece.track.correction
    number = correction.movement if correction.movement is not None else piece.number
    title = correction.movement_title
    if not title:
        title = piece.movement.title if piece.movement is not None else None
    if title and is_shouting(title):
        title = unshout(title, sentence=True)
    return Movement(number, title) if number is not None or title else None


def _confidence(piece: Piece) -> float:
    """As sure as the less sure of composer and work; less where a number means nothing."""
    composer = piece.track.composer_confidence if piece.track.composer else 0.45
    confidence = min(composer, piece.confidence or 0.3)
    return round(min(confidence, 0.7) if piece.warnings else confidence, 2)


def _give_last_reasons(piece: Piece) -> None:
    reasons = piece.track.reasons
    reasons.extend(piece.warnings)
    if piece.cast.inferred:
        reasons.append("credits: roles told by the order of the names")
    if piece.track.correction:
        lines = ", ".join(str(line) for line in piece.track.correction.lines)
        reasons.append(f"corrected by the errata (line {lines})")


_BY_FOLDERS = 0.5
"""How sure an artist is whom the folder above the album's tells: any folder stands above one."""


def _artist_of_folders(track: Track) -> str | None:
    """The folder above the album's, if it may be an artist's name."""
    folders = track.fields.folders
    named = len(folders) >= 2 and not track.fields.artist and may_name_artist(folders[-2])
    return folders[-2] if named else None
