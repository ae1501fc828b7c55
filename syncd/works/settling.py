"""The work as it is filed: catalogue numbers by the composer's systems, preferred title, key.

Here the table of known works and the listener's corrections have their say, and a work gets the
sign by which its recordings are told from others' (``Piece.work_key``).
"""

from syncd.works.composers import table
from syncd.works.keys import parse_key
from syncd.works.known_works import by_number, by_title, identity_of, the_one
from syncd.works.numbers.meaning import parse_number, resolve
from syncd.works.piece import Piece
from syncd.works.preferred_title import general_title
from syncd.works.text import is_shouting, unshout
from syncd.works.worktitle.reading import WorkReading


def settle(piece: Piece) -> None:
    """Catalogue numbers by the composer's systems, the canonical title, the work's key."""
    track = piece.track
    reading = piece.reading
    correction = track.correction
    if reading is None and correction.work is None:
        return
    systems = track.entry.systems if track.entry is not None else None
    composer = track.composer_sort
    resolved = resolve(piece.raws, systems, composer)
    numbers, warnings = resolved.numbers, resolved.warnings
    if warnings and track.arrangers:
        more = _with_arrangers_numbers(piece, numbers)
        if more != numbers:
            numbers, warnings = more, ()
    if correction.work is None and correction.catalogue is None:  # else the listener has judged
        piece.warnings.extend(warnings)
    if reading is not None:
        piece.title = _filed_title(piece, reading, numbers, bool(warnings))
    if correction.work is not None:
        piece.title = correction.work
        piece.confidence = 1.0
    if correction.catalogue is not None:
        numbers = tuple(
            parse_number(text, systems, composer) or text for text in correction.catalogue
        )
        piece.confidence = max(piece.confidence, 0.97)
    if correction.key is not None:
        piece.key = parse_key(correction.key) or correction.key
    piece.numbers = numbers
    piece.work_key = _sign_of(piece, composer or "")


def _sign_of(piece: Piece, composer: str) -> str:
    """What tells a work from others, so that its recordings are told from others', too.

    Numbers that mean nothing to us still tell works apart, and so do keys where the title is no
    more than a form ("Sonata").
    """
    if piece.reading is not None and _names_several(piece.reading, piece.numbers):
        return "|".join([composer, *piece.numbers])
    _, sign = identity_of(composer, piece.title, piece.numbers, piece.key)
    if not sign or piece.numbers:
        return f"{composer}|{sign}"
    unknown = [f"{raw.prefix} {raw.main}" for raw in piece.raws if raw.sure]
    reading = piece.reading
    if reading is not None and not unknown and reading.proper:
        meant = the_one(composer, reading.proper, piece.key)  # "Spring", filed as Violin Concerto
        if meant is not None and meant.catalogue:
            return f"{composer}|{meant.catalogue[0]}"
    form_alone = reading is not None and reading.structured and reading.number is None
    if form_alone and not unknown and piece.key:
        unknown = [piece.key]
    return "|".join([composer, sign, *unknown])


def _names_several(reading: WorkReading, numbers: tuple[str, ...]) -> bool:
    """Whether the title names several works by their numbers: "Symphonies Nos. 1 & 2"."""
    return reading.range and len(numbers) > 1


def _with_arrangers_numbers(piece: Piece, numbers: tuple[str, ...]) -> tuple[str, ...]:
    """*numbers* and the arrangers' own: a transcription has one in Liszt's catalogue (S. 566)."""
    for name in piece.track.arrangers:
        found = table().exact(name)
        if found is not None:
            theirs = resolve(piece.raws, found.entry.systems, found.entry.sort).numbers
            numbers += tuple(number for number in theirs if number not in numbers)
    return numbers


def _filed_title(
    piece: Piece, reading: WorkReading, numbers: tuple[str, ...], doubtful: bool
) -> str:
    """The title of the known work that is meant, else the general title of the reading.

    *doubtful* says that a number in the title means nothing: it may be part of a name.
    """
    composer = piece.track.composer_sort
    title = general_title(piece, reading)
    if is_shouting(title):
        title = unshout(title)
    if doubtful and not reading.structured and not title:
        title = reading.text
    if composer is None or _names_several(reading, numbers):
        return title
    known = by_number(composer, numbers) if numbers else None
    if known is None:
        known = by_title(composer, reading.proper or title) or by_title(composer, title)
    if known is None and not numbers:
        named = f"{reading.nickname or ''} {reading.form or ''}".strip()
        known = the_one(composer, named, piece.key) or the_one(composer, title, piece.key)
    if known is None or (reading.structured and title.startswith(known.title)):
        return title
    return known.title
