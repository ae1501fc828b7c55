"""How far an order on a disc can be trusted as the numbers of a work's movements.

A folder may hold a work or some pieces of it. Sonatas, symphonies and suites come whole; an opera
named by its arias seldom does, and a piece that is known to stand elsewhere says that some are
missing. Numbers are trusted from the first movement up to the first doubt.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from syncd.works.contents import agreements, are_all, is_for_stage
from syncd.works.movement import MovementReading, act_of, trailing_number
from syncd.works.piece import Piece, same_title
from syncd.works.text import title_key, word_set

_PIECES_A_DISC = 8
"""So many tracks at least has each disc of a whole opera on several (common practice)."""
_PIECES_ON_ONE = 24
"""So many has an opera on one disc, or without discs; selections have ten to twenty."""
_PIECES_A_PART = 4
"""So many has on average each part of another work, if it is there whole."""
_RECITAL = 3
"""A folder with so many works is a recital where it has one or two pieces of a work."""

_STAGE_WORDS = word_set(
    """
    opera operas oper opern operette operetta oratorio oratorios oratorium oratorien musical ballet
    aria arias arie arien
    """
)
"""Words in a genre or an album's title that tell of works for the stage (any dictionary)."""


def trusted(pieces: Sequence[Piece], works: Sequence[Piece]) -> int:
    """How many of *pieces*, numbered by their order, can keep their numbers, from the first on.

    *pieces* are one recording, *works* all works of the unit.
    """
    first = pieces[0]
    titles = [_title(piece) for piece in pieces]
    if _told_whole(pieces) or are_all(first.track.composer_sort, first.title, titles):
        return len(pieces)
    numbered = [(piece.number or 0, title) for piece, title in zip(pieces, titles, strict=True)]
    known = agreements(first.track.composer_sort, first.title, numbered)
    end = known.index(False) if False in known else len(known)
    sure = next((at for at, one in enumerate(known) if one is not True), len(known))
    doubt = end
    if _for_stage(pieces):
        doubt = end if _seems_whole(pieces, stage=True) else 0
    elif any(part is not None for part in _parts(pieces)):
        whole = _formed(first) or _seems_whole(pieces, stage=False)
        doubt = end if whole and _parts(pieces)[0] in (None, 1) else _first_part(pieces)
    elif _of_recital(pieces, works):
        doubt = 0
    return max(sure, min(doubt, end))


def _told_whole(pieces: Sequence[Piece]) -> bool:
    """Whether the tags count the movements, and all are there."""
    totals = {piece.track.fields.movement_total for piece in pieces}
    return totals == {len(pieces)}


def _formed(piece: Piece) -> bool:
    """Whether the work goes by a general form: symphonies and their like come whole."""
    return piece.reading is not None and piece.reading.form is not None


def _title(piece: Piece) -> str:
    movement = piece.movement
    return (movement.title or "") if movement is not None else ""


def _for_stage(pieces: Sequence[Piece]) -> bool:
    """Whether the work is an opera, oratorio or the like: its name, acts, genre or album tell."""
    first = pieces[0]
    if is_for_stage(first.track.composer_sort, first.title):
        return True
    if any(_act(piece.movement) is not None for piece in pieces):
        return True
    if first.reading is not None and first.reading.form == "Oratorio":
        return True
    texts = (*first.track.fields.genre, first.track.fields.album)
    return not _formed(first) and any(map(_tells_of_stage, texts))


@lru_cache(maxsize=4096)
def _tells_of_stage(text: str) -> bool:
    return not _STAGE_WORDS.isdisjoint(title_key(text).split())


def _act(movement: MovementReading | None) -> int | None:
    """The act that a movement's heading or title begins with; 0 for one without a number."""
    if movement is None:
        return None
    text = movement.heading or movement.title or ""
    act = act_of(text)
    return 0 if act is None and movement.kind == "act" else act


def _parts(pieces: Sequence[Piece]) -> list[int | None]:
    """The numbered parts under which movements stand ("Part I", "Book 2")."""
    return [_part(piece.movement) for piece in pieces]


def _part(movement: MovementReading | None) -> int | None:
    if movement is None or movement.heading is None:
        return None
    if movement.kind == "part" and movement.number is not None:
        return movement.number
    counted = trailing_number(movement.heading)
    return counted[1] if counted is not None else None


def _first_part(pieces: Sequence[Piece]) -> int:
    """How many movements stand before the second part."""
    parts = _parts(pieces)
    return next((at for at, part in enumerate(parts) if part is not None and part > 1), len(parts))


def _seems_whole(pieces: Sequence[Piece], *, stage: bool) -> bool:
    """Whether discs, tracks and acts without gaps tell that nothing of the work is missing."""
    first = pieces[0]
    album = first.track.album
    if not first.from_album and not (album.level and same_title(first.reading, album.work)):
        return False
    places = [(piece.track.fields.disc or 1, piece.track.fields.track) for piece in pieces]
    if places[0][0] != 1 or places[0][1] not in (None, 1):
        return False
    for (disc, track), (other, following) in pairwise(places):
        if other == disc:
            gap = track is not None and following is not None and following != track + 1
        else:
            gap = other != disc + 1 or following not in (None, 1)
        if gap:
            return False
    counted = [_act(piece.movement) for piece in pieces] if stage else _parts(pieces)
    acts = [act for act in counted if act]
    if acts and (acts[0] != 1 or any(b not in (a, a + 1) for a, b in pairwise(acts))):
        return False
    if not stage:
        return len(pieces) >= _PIECES_A_PART * len(set(acts))
    discs = places[-1][0]
    return len(pieces) >= (_PIECES_ON_ONE if discs == 1 else _PIECES_A_DISC * discs)


def _of_recital(pieces: Sequence[Piece], works: Sequence[Piece]) -> bool:
    """Whether one or two named pieces of a work stand among those of several others."""
    first = pieces[0]
    if len(pieces) > 2 or first.from_album or _formed(first):
        return False
    if any(p.movement is None or p.movement.tempo or trailing_number(_title(p)) for p in pieces):
        return False
    return len({piece.work_key for piece in works}) >= _RECITAL
