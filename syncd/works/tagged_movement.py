"""The movement of a track whose work stands in a tag: from MOVEMENT tags, else from the title.

The title may say the work again before the movement; that is taken off here. How a movement's
heading is read is left to ``movement.py``.
"""

import re
from dataclasses import replace

from syncd.works.fields import Fields
from syncd.works.movement import MovementReading, is_tempo, read_movement
from syncd.works.text import fold, title_key
from syncd.works.track import Track


def movement_beside_tag(track: Track) -> MovementReading | None:
    """The movement of a track that has a WORK tag: from MOVEMENT tags, else from the title."""
    number, name = _tagged(track.fields)
    if name:
        inner = read_movement(name)
        title = inner.title if inner.firm and inner.title else name
        if number is None and inner.firm:
            number = inner.number
        return MovementReading(number, title, True, tempo=is_tempo(title), kind="tag")
    text = track.fields.title
    if track.title.composer_text and text.startswith(track.title.composer_text):
        text = text[len(track.title.composer_text) :].lstrip(" :-–—,")
    for whole in (track.fields.work, track.fields.grouping):
        if whole and fold(text).startswith(fold(whole)):
            rest = text[len(whole) :].strip(" :-–—,;./")
            return _with(number, read_movement(rest)) if rest else _unnamed(number)
    if track.title.movement is not None and track.title.firm:
        return _with(number, track.title.movement)
    own = track.title.work
    if own is not None and track.work_tag is not None and track.title.movement is None:  # noqa: SIM102
        if title_key(own.title) == title_key(track.work_tag.title):
            return _unnamed(number)
    reading = read_movement(text)
    if number is not None:
        reading = replace(reading, number=number, firm=True, kind="tag")
    return reading


def _tagged(fields: Fields) -> tuple[int | None, str]:
    """Number and name in the tags for movements, where they may stand in each other's place."""
    name = fields.movement_name
    digits = re.match(r"\s*(\d{1,3})", fields.movement or fields.part)
    if digits is not None:
        return int(digits.group(1)), name
    number = None
    if fields.movement:
        reading = read_movement(fields.movement)
        number = reading.number
        name = name or (fields.movement if number is None else reading.title or "")
    if number is None and fields.part:
        reading = read_movement(fields.part)
        number = reading.number
        name = name or reading.title or ""
    return number, name


def _with(number: int | None, reading: MovementReading) -> MovementReading:
    """*reading* with the number of the tags, if they have one."""
    return replace(reading, number=number if number is not None else reading.number)


def _unnamed(number: int | None) -> MovementReading | None:
    return MovementReading(number, None, True, kind="tag") if number else None
