"""One track on its way to an identity: which work, which movement, by whom.

Only the value, and titles as pieces compare them. Each step of grouping fills in its part:
``finding_work.py`` work and movement, ``sets.py`` and ``shared_facts.py`` what neighbours and album
say, ``settling.py`` title and numbers, ``crediting.py`` the credits, ``recordings.py`` the rest.
"""

from dataclasses import dataclass, field

from syncd.works.cast import Cast
from syncd.works.movement import MovementReading, read_movement
from syncd.works.numbers.raw import RawNumber
from syncd.works.text import title_key
from syncd.works.track import Track
from syncd.works.worktitle.reading import WorkReading


@dataclass(slots=True, eq=False)
class Piece:
    """One track on its way to an identity: which work, which movement, by whom.

    ``raws`` and ``key`` are those of the whole work, ``position`` is the place among the unit's
    works, ``number`` the movement's; ``from_album`` and ``from_source`` say where the work was
    found, ``excerpt`` that the tags name a part alone, ``set_number`` that the piece is one of a
    set, ``work_key`` tells its work from others.
    """

    track: Track
    reading: WorkReading | None = None
    raws: tuple[RawNumber, ...] = ()
    key: str | None = None
    title: str = ""
    numbers: tuple[str, ...] = ()
    movement: MovementReading | None = None
    number: int | None = None
    from_album: bool = False
    from_source: bool = False
    excerpt: bool = False
    confidence: float = 0.0
    cast: Cast = field(default_factory=Cast)
    work_key: str = ""
    recording: str | None = None
    position: int = 0
    set_number: int | None = None
    warnings: list[str] = field(default_factory=list)

    @property
    def firm_number(self) -> int | None:
        """The movement's number where it is written as one, and counts through the whole work."""
        movement = self.movement
        if movement is None or not movement.firm or movement.heading is not None:
            return None
        return movement.number


def same_title(one: WorkReading | None, other: WorkReading | None) -> bool:
    """Whether two readings have one title, be it the proper or the general one."""
    if one is None or other is None:
        return False
    a, b = title_key(one.proper or one.title), title_key(other.proper or other.title)
    return a == b or (bool(a) and (title_key(one.title) == title_key(other.title)))


def whole_title(track: Track) -> str:
    """The title as a movement's: without the composer before it and without a number."""
    text = track.fields.title
    composer = track.title.composer_text
    if composer and text.startswith(composer):
        text = text[len(composer) :].lstrip(" :-–—,")
    reading = read_movement(text)
    return reading.title or text
