"""A track's title taken apart: composer, work, movement, source, performers.

A title is cut at its separators (outside brackets and quotes); names before and behind it are taken
away (``title_names.py``), and what is left is cut between work and movement (``title_cut.py``).
"""

from dataclasses import replace
from functools import lru_cache

from syncd.works.movement import MovementReading
from syncd.works.separators import split_title
from syncd.works.text import fold
from syncd.works.title_cut import Cut
from syncd.works.title_marks import prepared
from syncd.works.title_names import Names
from syncd.works.title_reading import TitleReading
from syncd.works.worktitle.reader import read_work

_REMARKS = frozenset(
    [
        "applause",
        "bis",
        "bonus",
        "bonus track",
        "encore",
        "encores",
        "live",
        "radio broadcast",
        "zugabe",
    ]
)


@lru_cache(maxsize=16384)
def read_title(text: str) -> TitleReading:
    """Take *text* apart. Never fails; what is not found is None."""
    original = text
    text = prepared(text)
    pieces = split_title(text)
    if not pieces:
        return TitleReading(original, None, None, None, False)
    names = Names(text, _without_head(pieces))
    cut = Cut(
        original,
        names.text,
        names.pieces,
        names.composer,
        names.composer_text,
        names.family,
        names.people,
    )
    reading = _numbered_by_catalogue(cut.read())
    pair = names.pair or cut.pair
    if not names.before and pair is None:
        return reading
    return replace(
        reading,
        trailing=names.trailing,
        before=names.before,
        trailing_family=names.trailing_family,
        behind=names.behind,
        pair=pair,
    )


def _without_head(pieces: list[tuple[str, int]]) -> list[tuple[str, int]]:
    """*pieces* without a remark before the title ("Encore") and without the track's own number."""
    if len(pieces) > 1 and fold(pieces[0][0]).strip(" .") in _REMARKS:
        pieces = pieces[1:]
    if (
        len(pieces) > 1
        and pieces[0][0].strip(" .").isdigit()
        and len(pieces[0][0].strip()) <= 4
        and any(read_work(piece).strength >= 2 for piece, _ in pieces[1:])
    ):
        pieces = pieces[1:]
    return pieces


def _numbered_by_catalogue(reading: TitleReading) -> TitleReading:
    """*reading* with the movement's number that stands behind the work's: "BWV 1048/3"."""
    work, movement = reading.work, reading.movement
    if work is None or not work.raws or (movement is not None and movement.number is not None):
        return reading
    number = next((raw.movement for raw in work.raws if raw.movement is not None), None)
    if number is None or work.range:
        return reading
    if movement is None:
        return replace(reading, movement=MovementReading(number, None, True, kind="number"))
    return replace(reading, movement=replace(movement, number=number, firm=True, kind="number"))
