"""What a title that could be a work's own is within the work that the album names.

"Variation I: Poco più animato", "Étude No. 3 in E major: Lento", "Gavotte: Allegro" read like works
by themselves; on an album of variations, of études, of a suite they are movements. Whether the
album is one work is told by ``album_work.py``.
"""

import re
from dataclasses import replace

from syncd.works.movement import MovementReading, read_movement, trailing_number
from syncd.works.piece import same_title, whole_title
from syncd.works.text import fold
from syncd.works.track import Track
from syncd.works.words.cycles import in_one_cycle
from syncd.works.words.forms import SECTION_FORMS, SET_FORMS
from syncd.works.words.movements import THEME_WORDS
from syncd.works.worktitle.reading import WorkReading

_ORDINAL = re.compile(r"^\d{1,3}\s*[.)]\s*")
_FIRST_WORD = re.compile(r"[^\W\d_]+")

_WITHOUT_NAMED_PARTS = frozenset(
    {"Symphony", "Concerto", "Sonata", "Sonatina", "Trio", "Quartet", "Quintet", "Sextet", "Septet",
     "Octet", "Mass", "Requiem"}
)  # fmt: skip


def part_of_album(
    track: Track, own: WorkReading, whole: WorkReading, known: bool
) -> tuple[MovementReading, float] | None:
    """What a title is as a movement of the album's work *whole*, and how surely; None if it is not.

    *own* is the title read as a work's; *known* says that the composer is known to have written a
    work of that name.
    """
    movement = track.title.movement
    sure = track.album.level >= 2
    if movement is None and _is_next_of_set(track, own):
        name = _ORDINAL.sub("", whole_title(track))
        return MovementReading(own.number, name, True, kind="digit"), 0.88 if sure else 0.75
    if own.raws or same_title(own, whole):
        return None
    number = _number_in_set(track, own, whole)
    if number is not None:
        return MovementReading(number, whole_title(track), True, kind="number"), 0.9
    if _is_section(track, own, whole, known):
        return MovementReading(None, whole_title(track), kind="section"), 0.9 if sure else 0.75
    if track.title.firm or own.strength >= 2:
        return None
    if movement is None and (sure or not known):
        reading = read_movement(track.fields.title)
        if reading.number is None:
            reading = replace(reading, title=whole_title(track))
        return reading, 0.9 if sure else 0.75
    if movement is not None and not known:
        below = replace(movement, heading=own.text, inner=movement.number)
        return below, 0.88 if sure else 0.7
    return None


def _is_next_of_set(track: Track, own: WorkReading) -> bool:
    """Whether "6. Canción" on track 6 is the sixth piece of the album's work, not a sixth song."""
    return (
        own.ordinal_foreign
        and own.number is not None
        and own.number == track.fields.track
        and not own.raws
        and own.key is None
        and _ORDINAL.match(own.text) is not None
        and not same_title(own, track.album.work)
    )


def _only_tempo_below(track: Track) -> bool:
    """Whether nothing follows the title's first part, or no more than how it is played."""
    movement = track.title.movement
    return movement is None or (
        movement.number is None and movement.heading is None and movement.kind == ""
    )


def _number_in_set(track: Track, own: WorkReading, whole: WorkReading) -> int | None:
    """Which piece of "24 Caprices, Op. 1" is "Caprice No. 5 in A minor: Agitato", or None.

    A set that bears a name of its own ("Dichterliebe, Op. 48") holds numbered songs, too.
    """
    if own.form is None or not _only_tempo_below(track):
        return None
    number = own.number
    if number is None:
        counted = trailing_number(own.proper)  # "Prélude II"
        number = counted[1] if counted is not None else None
    several = whole.plural or (whole.form or "").endswith("s") or (whole.count or 0) > 1
    if several and _kind_of_piece(own.form) == _kind_of_piece(whole.form or ""):
        return number if whole.raws or not own.key else None
    unnumbered = whole.number is None and not whole.key
    named = unnumbered and (whole.form is None or (several and whole.form in SET_FORMS))
    is_one = named and track.album.level >= 2 and own.form in SET_FORMS and not own.key
    return number if is_one else None


def _kind_of_piece(form: str) -> str:
    """What the pieces of a set are: "Dance" of "Hungarian Dances"; a capriccio is a caprice."""
    last = form.rpartition(" ")[2].removesuffix("s")
    return "Caprice" if last == "Capriccio" else last


def _is_section(track: Track, own: WorkReading, whole: WorkReading, known: bool) -> bool:
    """Whether "Variation I: Poco più animato", "Gavotte: Allegro" head a section of the whole."""
    if own.key is not None or own.number is not None or not _only_tempo_below(track):
        return False
    movement = track.title.movement
    first = _FIRST_WORD.search(fold(own.text))
    if first is not None and (first.group() in THEME_WORDS or in_one_cycle({first.group()})):
        return True
    if movement is None or track.album.level < 2:
        return False
    if own.form is not None:
        # "Valse noble: Un poco maestoso" of Carnaval; beside a symphony it would be another work.
        unnamed = own.structured or (not known and whole.form not in _WITHOUT_NAMED_PARTS)
        return unnamed and own.form in SECTION_FORMS and movement.tempo
    return movement.tempo and not known and own.strength == 0
