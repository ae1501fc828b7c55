"""Which work a track belongs to and which movement of it it is, by its own evidence and its album.

The WORK tag, a work named as the source, the title's own work or the album's. What other tracks add
is left to ``sets.py`` and ``shared_facts.py``, whether an album is one work to ``album_work.py``,
what a title is within that work to ``album_part.py``.
"""

import re
from dataclasses import replace

from syncd.works.album_part import part_of_album
from syncd.works.composer_tag import NAMELESS
from syncd.works.composers import Entry
from syncd.works.known_parts import part_called
from syncd.works.known_works import by_number, by_title, the_one
from syncd.works.movement import MovementReading, is_tempo, trailing_number
from syncd.works.numbers.meaning import resolve
from syncd.works.piece import Piece, whole_title
from syncd.works.tagged_movement import movement_beside_tag
from syncd.works.text import fold, word_set
from syncd.works.title_reading import TitleReading
from syncd.works.track import Track
from syncd.works.words.forms import SECTION_FORMS, SET_FORMS
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading


def find_work(piece: Piece, album_is_work: dict[str, bool]) -> None:
    """Find the work and the movement of *piece*; *album_is_work* as ``album_work.py`` tells."""
    track = piece.track
    title = track.title
    as_album = track.album.work is not None and album_is_work.get(track.album.text, False)
    if track.work_tag is not None:
        piece.reading = track.work_tag
        piece.confidence = 0.97
        track.reasons.append("work: WORK tag" if track.fields.work else "work: grouping tag")
        piece.movement = movement_beside_tag(track)
    elif _is_chant(track) and _take_chant(piece):
        return
    elif title.source is not None:
        _take_source(piece, title.source)
    elif _is_known_part(piece, as_album):
        return
    elif title.work is not None:
        _weigh_own_work(piece, title.work, as_album)
    elif track.continued is not None:
        piece.reading, piece.movement, piece.confidence = track.continued, title.movement, 0.8
        track.reasons.append("work: named by a track before, with which the title goes on")
    elif title.movement is not None or track.generic_title:
        _find_work_of_movement(piece, title.movement, as_album)


def _is_known_part(piece: Piece, as_album: bool) -> bool:
    """Whether the title is a part of a well-known work by its own name: "Nessun dorma"."""
    track = piece.track
    own, movement = track.title.work, track.title.movement
    if own is not None and movement is None and not own.raws:
        name = own.proper or own.title
    elif own is None and movement is not None and not movement.raws:
        name = movement.title or ""  # "Largo al factotum" looks like a tempo
    else:
        return False
    part = part_called(name)
    if part is None or as_album or track.composer_sort != part.composer:
        return False
    piece.reading = read_work(part.whole)
    piece.from_source = True
    piece.excerpt = own is None or not own.bracket_names
    piece.movement = MovementReading(None, name)
    piece.confidence = 0.85
    track.reasons.append(f"work: {part.whole}, of which this is a known part")
    return True


_CHANTS = word_set(
    """
    introitus introit introito graduale gradual alleluia alleluja offertorium offertoire offertory
    offertorio communio communion antiphona antiphon antienne antifona responsorium responsory
    repons responsorio hymnus hymn hymne inno sequentia sequence sequenz tractus tract trait
    invitatorium psalmus canticum versus conductus prosa
    """
)


def _is_chant(track: Track) -> bool:
    """Whether no composer is known, and the title begins with a kind of chant."""
    composer = track.composer
    if track.entry is not None or (composer is not None and composer.sort not in NAMELESS):
        return False
    segments = track.title.segments
    return len(segments) > 1 and fold(segments[0]).strip(" .") in _CHANTS


def _take_chant(piece: Piece) -> bool:
    """Take "Graduale: Viderunt omnes" as the chant that begins so."""
    track = piece.track
    name = track.fields.title.partition(track.title.segments[0])[2].strip(" :-–—/|,;")
    reading = read_work(name)
    if not name or not reading.title:
        return False
    piece.reading = reading
    piece.confidence = 0.85
    track.reasons.append("work: the words with which the chant begins")
    return True


def _take_source(piece: Piece, source: WorkReading) -> None:
    """The title names the work from which it comes: "Habanera (from Carmen)"."""
    title = piece.track.title
    piece.reading = source
    piece.from_source = True
    piece.confidence = 0.85
    piece.track.reasons.append("work: named as the source in the title")
    movement = title.movement
    text = (movement.title or None) if movement is not None else None
    if title.work is not None:
        text = title.work.proper or text or title.work.title
        if _has_incipit(title):
            text = _before_bracket(piece.track)
    if movement is None:
        movement = MovementReading(None, text)
    piece.movement = replace(movement, title=text)


_OPENING_QUOTES = "\"'«»“„”‚‘‹›「『"


def _has_incipit(title: TitleReading) -> bool:
    """Whether the first words of an aria stand in quotes behind what it is: 'Aria "Casta diva"'."""
    if title.work is None or title.work.text[:1] in _OPENING_QUOTES:
        return False
    second = title.segments[1] if len(title.segments) > 1 else ""
    return bool(title.work.nickname) or (second[:1] in _OPENING_QUOTES and bool(second))


def _before_bracket(track: Track) -> str:
    """The title without the bracket at its end, and without a composer before it."""
    text = whole_title(track)
    found = _LAST_BRACKET.match(text)
    return found.group("before").rstrip(" ,;:-–—") if found is not None else text


def _find_work_of_movement(piece: Piece, movement: MovementReading | None, as_album: bool) -> None:
    """The title is a movement's alone, or says nothing ("Track 3"): the work is the album's."""
    track = piece.track
    album = track.album
    piece.movement = movement
    if movement is not None and _source_in_brackets(piece, movement):
        return
    if album.work is not None:
        told = {3: 0.92, 2: 0.88}.get(album.level, 0.75 if as_album else 0.65)
        _take_album(piece, told)
        return
    named = _matching_album_work(track)
    if named is not None:
        piece.reading = named
        piece.from_album = True
        piece.confidence = 0.6
    elif (
        movement is not None and movement.title and not movement.tempo and movement.kind == "digit"
    ):
        piece.reading = read_work(movement.title)
        piece.movement = None
        piece.confidence = 0.75
    else:
        piece.confidence = 0.3


def _weigh_own_work(piece: Piece, own: WorkReading, as_album: bool) -> None:
    """The title reads as a work: it is that one, or a part of one in brackets or of the album's."""
    track = piece.track
    movement = track.title.movement
    known = _is_known(track, own)
    if not known and own.strength < 2 and movement is None and _whole_in_brackets(piece, own):
        return
    if track.album.level < 2 and _is_one_of_set(piece, own):
        return
    if as_album and track.album.work is not None:
        part = part_of_album(track, own, track.album.work, known)
        if part is not None:
            piece.movement, confidence = part
            _take_album(piece, confidence)
            return
    if _is_one_of_set(piece, own):
        return
    piece.reading = own
    piece.movement = movement
    if movement is not None and _is_number_in_opus(piece, own, movement):
        return
    if movement is None:
        name = _part_before_bracket(track)
        if name is not None:
            piece.movement = MovementReading(None, name)
    if own.range:
        piece.confidence = 0.85  # several works on one track
    elif own.strength >= 2:
        piece.confidence = 0.95
    elif track.title.firm or known:
        piece.confidence = 0.9
    else:
        piece.confidence = 0.8
    structured = own.strength >= 2 or movement is not None
    track.reasons.append("work: the title's own structure" if structured else "work: the title")


def _is_number_in_opus(piece: Piece, own: WorkReading, movement: MovementReading) -> bool:
    """Whether bare digits behind an opus name the work of a known set: "Op. 18 1 Allegro"."""
    entry = piece.track.entry
    if entry is None or movement.kind != "digit" or movement.marked or own.tail is None:
        return False
    if not own.raws or own.raws[-1].sub is not None or own.raws[-1].prefix not in _OPUS:
        return False
    numbered = replace(own.raws[-1], sub=str(movement.number))
    known = by_number(entry.sort, resolve((numbered,), entry.systems, entry.sort).numbers)
    if known is None and not _is_single_of_set(own, movement, entry):
        return False
    piece.reading = replace(own, raws=(*own.raws[:-1], numbered))
    below = replace(movement, number=None, firm=False, kind="")
    piece.movement = below if movement.title and (known is None or movement.tempo) else None
    piece.confidence = 0.85
    piece.track.reasons.append("work: the number behind the opus is that of a known set")
    return True


def _is_single_of_set(own: WorkReading, movement: MovementReading, entry: Entry) -> bool:
    """Whether "Nocturne, Op. 9 2" is a piece of an opus, by its form, and no movement follows."""
    if own.form not in SET_FORMS or own.plural or own.number is not None or movement.tempo:
        return False
    whole = by_number(entry.sort, resolve(own.raws, entry.systems, entry.sort).numbers)
    return whole is None or read_work(whole.title).plural


_OPUS = ("op", "opus")
_ONE_OF_SET = re.compile(
    r"^(?P<stem>.*?[^\W\d_])[\s,.]*(?:\b(?:no|nr|n|num|č)\b|n°|nº|№|#)?[\s.°º]*(?:\d{1,2}|[IVX]+)$",
    re.IGNORECASE,
)


def _is_one_of_set(piece: Piece, own: WorkReading) -> bool:
    """Whether the title is one of a known set by its singular: "Gymnopédie No. 1"."""
    track = piece.track
    if track.composer is None or own.form is not None or track.title.movement is not None:
        return False
    found = _ONE_OF_SET.match(own.proper or own.title)
    counted = trailing_number(own.proper or own.title)
    number = own.number if own.number is not None else counted[1] if counted else None
    if found is None or number is None or (own.raws and own.key):
        return False
    stem = found.group("stem").strip()
    known = by_title(track.composer.sort, f"{stem}s")
    if known is None or by_title(track.composer.sort, own.proper or own.title) is not None:
        return False
    piece.reading = replace(read_work(known.title), raws=own.raws)
    piece.movement = MovementReading(number, None, True, kind="number")
    piece.set_number = number
    piece.confidence = 0.85
    track.reasons.append(f"work: one of the set {known.title}")
    return True


_LAST_BRACKET = re.compile(r"^(?P<before>.+?)\s*[(\[](?P<inner>[^()\[\]]+)[)\]]$")


def _whole_in_brackets(piece: Piece, own: WorkReading) -> bool:
    """Whether a bracket behind the title names the work, one known to be the composer's."""
    composer = piece.track.composer_sort
    if composer is None:
        return False
    for name in own.bracket_names:
        if by_title(composer, name) is not None:
            _take_bracket(piece, name)
            whole = _has_incipit(piece.track.title)
            heading = _before_bracket(piece.track) if whole else own.proper
            piece.movement = MovementReading(None, heading)
            return True
    return False


def _take_bracket(piece: Piece, name: str) -> None:
    piece.reading = read_work(name)
    piece.from_source = True
    piece.confidence = 0.8
    piece.track.reasons.append("work: named in brackets behind the title")


def _source_in_brackets(piece: Piece, movement: MovementReading) -> bool:
    """Whether the work stands in brackets behind a title that begins like a tempo heading.

    "Largo al factotum (Il barbiere di Siviglia)": only a work known to be the composer's counts.
    """
    composer = piece.track.composer_sort
    found = _LAST_BRACKET.match(movement.title or "")
    if found is None or composer is None or by_title(composer, found.group("inner")) is None:
        return False
    _take_bracket(piece, found.group("inner"))
    piece.movement = replace(movement, title=found.group("before"))
    return True


def _part_before_bracket(track: Track) -> str | None:
    """The movement before a work in brackets: "Rondo alla turca (Piano Sonata No. 11, K. 331)".

    Only beside a known work that is not called so itself, as "Moonlight Sonata (Op. 27 No. 2)" is.
    """
    text = track.title.work.text if track.title.work is not None else track.fields.title
    found = _LAST_BRACKET.match(text)
    if found is None or track.entry is None:
        return None
    before, inner = found.group("before").strip(), read_work(found.group("inner"))
    if not (inner.form and inner.raws):
        return None
    composer = track.entry.sort
    plain = read_work(before)
    heads = is_tempo(before) or (plain.form in SECTION_FORMS and not plain.key)
    if heads and plain.number is None and inner.strength >= 2 and plain.form != inner.form:
        return before
    numbers = resolve(inner.raws, track.entry.systems, composer).numbers
    known = by_number(composer, numbers)
    if known is None or known in (by_title(composer, before), the_one(composer, before)):
        return None
    own = read_work(before)
    return None if own.structured or own.form == inner.form else before


def _is_known(track: Track, reading: WorkReading) -> bool:
    """Whether the composer is known to have written a work of this title."""
    if track.composer is None or not reading.title:
        return False
    names = (reading.proper or reading.title, reading.title)
    return any(by_title(track.composer.sort, name) is not None for name in names)


def _take_album(piece: Piece, confidence: float) -> None:
    piece.reading = piece.track.album.work
    piece.from_album = True
    piece.confidence = confidence
    piece.track.reasons.append(
        "work: from the album's title"
        if piece.track.fields.album
        else "work: from the folder's name"
    )


def _matching_album_work(track: Track) -> WorkReading | None:
    works = [work for work in track.album.works if work.strength >= 2 and not work.plural]
    return works[0] if len(works) == 1 else None
