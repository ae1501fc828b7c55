"""Pieces of one opus that are movements of a set: études, preludes, songs with a number each.

Only where several of them are there; a single "Étude Op. 10 No. 3" stays a work of its own.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from syncd.works.movement import MovementReading
from syncd.works.numbers.raw import RawNumber
from syncd.works.piece import Piece, whole_title
from syncd.works.words.forms import SET_FORMS
from syncd.works.worktitle.reading import WorkReading


def _sub_of(raws: Sequence[RawNumber]) -> tuple[str, int] | None:
    """("op 10", 3) of "Op. 10 No. 3", if a number has such a part."""
    for raw in raws:
        if raw.sub and raw.sub.isdigit():
            return f"{raw.prefix} {raw.main}", int(raw.sub)
    return None


def gather_sets(works: Sequence[Piece]) -> None:
    """Make pieces of one opus movements of a set where several of them are there."""
    groups: dict[tuple[str, str, str], list[tuple[int, Piece, WorkReading]]] = defaultdict(list)
    for piece in works:
        reading = piece.reading
        if reading is None or piece.from_album or piece.track.work_tag is not None:
            continue
        sub = _sub_of(reading.raws)
        if sub is not None and reading.form is not None and reading.form in SET_FORMS:
            main, number = sub
            composer = piece.track.composer_sort or ""
            groups[(composer, main, reading.form)].append((number, piece, reading))
    for (_, _, form), members in groups.items():
        if len({number for number, _, _ in members}) < 2:
            continue
        for number, piece, reading in members:
            piece.set_number = number
            piece.movement = MovementReading(number, whole_title(piece.track), True, kind="number")
            piece.reading = replace(
                reading,
                raws=tuple(replace(raw, sub=None) for raw in reading.raws),
                title=plural_of(form),
                number=None,
                key=None,
                plural=True,
                structured=True,
                instruments=(),
                nickname=None,
            )


_IRREGULAR = {
    "Waltz": "Waltzes",
    "Duo": "Duos",
    "Rhapsody": "Rhapsodies",
    "Elegy": "Elegies",
    "Fantasia": "Fantasias",
}


def plural_of(form: str) -> str:
    """The English plural of a form ("Études")."""
    if form.endswith("s"):
        return form
    return _IRREGULAR.get(form, form + "s")
