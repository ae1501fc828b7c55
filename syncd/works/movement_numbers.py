"""The numbers of a recording's movements: those that are written, or the order on the disc.

Written numbers count where they rise; where none are written, the order stands for them only if the
recording seems to be there whole (``counting.py``).
"""

import re
from collections.abc import Sequence
from itertools import pairwise

from syncd.works.counting import trusted
from syncd.works.movement import MovementReading, leading_number
from syncd.works.piece import Piece, same_title
from syncd.works.text import fold, word_set

_OPENINGS = word_set(
    """
    overture ouverture obertura prelude preludio preludium vorspiel sinfonia introduction
    introduzione introduktion einleitung prologue prologo prolog
    """
)


def rising(values: Sequence[int | None]) -> bool:
    """Whether all *values* are there, each greater than the one before."""
    return all(value is not None for value in values) and all(
        a is not None and b is not None and a < b for a, b in pairwise(values)
    )


def number_movements(pieces: Sequence[Piece], works: Sequence[Piece]) -> None:
    """Give the movements of one recording, *pieces*, their numbers; *works* are all of the unit."""
    movements = [piece.movement for piece in pieces]
    if all(movement is None for movement in movements):
        whole = not pieces[0].track.album.excerpts
        if whole and len(pieces) > 1 and all(piece.from_album for piece in pieces):
            _count(pieces, works)
        return
    chosen = _written(movements)
    if chosen is not None:
        for piece, value in zip(pieces, chosen, strict=True):
            piece.number = value
        if any(value is not None for value in chosen):
            _fill_gaps(pieces)
    elif _may_count(pieces, works):
        _count(pieces, works)


def _written(movements: Sequence[MovementReading | None]) -> list[int | None] | None:
    """The numbers as they are written, None for those without; None if they cannot be right."""
    present = [m for m in movements if m is not None]
    numbers = [m.number if m is not None and m.heading is None else None for m in movements]
    if any(m.heading is not None for m in present):
        inner = [m.inner if m is not None else None for m in movements]
        mixed = [i if i is not None else n for i, n in zip(inner, numbers, strict=True)]
        if rising(mixed) or (_opens(movements[0]) and mixed[0] is None and rising(mixed[1:])):
            return mixed
        parts = [m.number if m is not None and m.kind == "part" else None for m in movements]
        return parts if rising(parts) else None
    if len(movements) == 1:
        return numbers
    found = [number for number in numbers if number is not None]
    if not found:
        return None
    if rising(found) or _in_parts(movements):
        return None if _nested(present) else numbers
    tagged = len(present) == len(movements) and all(m.kind == "tag" for m in present)
    return numbers if tagged or len(set(found)) == len(found) else None


def _opens(movement: MovementReading | None) -> bool:
    """Whether *movement* is the overture or whatever else stands before the first number."""
    title = movement.title if movement is not None and movement.heading is None else None
    return not _OPENINGS.isdisjoint(fold(title or "").split()[:1])


def _in_parts(movements: Sequence[MovementReading | None]) -> bool:
    """Whether the numbers rise but for tracks in a row that are parts of one movement.

    "I. Andante grazioso: Tema", "I. Andante grazioso: Variation I", "II. Menuetto".
    """
    numbered = [m for m in movements if m is not None and m.number is not None]
    return all(m.firm for m in numbered) and all(
        a.number is not None
        and b.number is not None
        and (a.number < b.number or (a.number == b.number and a.title != b.title))
        for a, b in pairwise(numbered)
    )


def _nested(movements: Sequence[MovementReading]) -> bool:
    """Whether a title has a further number behind a colon ("Act I: 3. Aria")."""
    return any(m.title and re.search(r":\s*\d+\.", m.title) for m in movements)


def _fill_gaps(pieces: Sequence[Piece]) -> None:
    """Number a movement without a number that stands between two that leave room for it."""
    previous = 0
    for index, piece in enumerate(pieces):
        if piece.number is None:
            behind = (p.number for p in pieces[index + 1 :])
            following = next((number for number in behind if number is not None), None)
            room = following is None or following > previous + 1
            if piece.movement is not None and room and (previous > 0 or index == 0):
                piece.number = previous + 1
        previous = piece.number if piece.number is not None else previous


def _may_count(pieces: Sequence[Piece], works: Sequence[Piece]) -> bool:
    """Whether the order on the disc can stand for the movements' numbers."""
    if len(pieces) < 2 and not (pieces[0].from_album and len(works) > 1):
        return False
    if any(piece.track.fields.compilation or piece.track.album.excerpts for piece in pieces):
        return False
    if any(piece.from_source for piece in pieces):
        return False  # "Habanera (from Carmen)": excerpts, in whatever order
    positions = [piece.position for piece in pieces]
    if positions != list(range(positions[0], positions[0] + len(pieces))):
        return False
    discs = {piece.track.fields.disc for piece in pieces}
    tracks = [piece.track.fields.track for piece in pieces]
    if len(discs) == 1 and not all(piece.from_album for piece in pieces):
        for one, other in pairwise(tracks):
            if one is not None and other is not None and other > one + 1:
                return False  # movements are missing between
    if any(_misses_tracks(one, other) for one, other in pairwise(pieces)):
        return False
    first = pieces[0].track
    if (
        first.fields.track is not None
        and first.fields.track > 1
        and not pieces[0].from_album
        and first.album.level >= 1
        and same_title(pieces[0].reading, first.album.work)
        and (first.fields.disc or 1) == 1
    ):
        return False  # the work fills the album, and its beginning is missing
    reading = pieces[0].reading
    return not (
        reading is not None and reading.count and reading.count > len(pieces) and reading.plural
    )


def _misses_tracks(one: Piece, other: Piece) -> bool:
    """Whether tracks or a disc of a set are missing between two that follow each other."""
    a, b = one.track.fields, other.track.fields
    if a.disc is None or b.disc is None or a.disc == b.disc == 1:
        return False
    if a.disc == b.disc:
        return a.track is not None and b.track is not None and b.track > a.track + 1
    return b.disc > a.disc + 1 or (b.track is not None and b.track > 1)


def _count(pieces: Sequence[Piece], works: Sequence[Piece]) -> None:
    """Number by the order, from the first movement as far as the order can be trusted."""
    _by_position(pieces)
    for piece in pieces[trusted(pieces, works) :]:
        piece.number = None


def _by_position(pieces: Sequence[Piece]) -> None:
    """Number by the order on the disc, or by track numbers where the album is the work."""
    tracks = [piece.track.fields.track for piece in pieces]
    discs = {piece.track.fields.disc for piece in pieces}
    first = tracks[0]
    from_album = len(discs) == 1 and all(piece.from_album for piece in pieces)
    if from_album and first is not None and first > 1:
        for piece, track in zip(pieces, tracks, strict=True):
            piece.number = track
    else:
        for number, piece in zip(_in_order(pieces), pieces, strict=True):
            piece.number = number


def _in_order(pieces: Sequence[Piece]) -> list[int]:
    """1, 2, 3, ...; more where the titles leave numbers out ("Variation II", "Variation IX")."""
    numbers: list[int] = []
    last: dict[str, tuple[int, int]] = {}  # the latest title of a kind: its own number, and ours
    for piece in pieces:
        number = numbers[-1] + 1 if numbers else 1
        own = leading_number(piece.movement.title or "") if piece.movement is not None else None
        if own is not None:
            stem, counted = own
            if stem in last:
                number = max(number, last[stem][1] + counted - last[stem][0])
            last[stem] = counted, number
        numbers.append(number)
    return numbers
