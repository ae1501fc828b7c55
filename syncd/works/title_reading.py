"""What a track's title says, as a value; ``title.py`` finds it out."""

from syncd.works.composers import Match
from syncd.works.movement import MovementReading
from syncd.works.value import plain_value
from syncd.works.worktitle.reading import WorkReading


@plain_value
class TitleReading:
    """A title taken apart. ``firm`` says that the cut between work and movement is certain."""

    text: str
    composer: Match | None
    work: WorkReading | None
    movement: MovementReading | None
    firm: bool
    source: WorkReading | None = None
    people: tuple[str, ...] = ()
    arranger: str | None = None
    segments: tuple[str, ...] = ()
    composer_text: str | None = None
    family: str | None = None  # a family name that fits several composers stood before the work
    trailing: Match | None = None  # a family name behind the title may be the composer's ...
    before: str = ""  # ... and then this is the title
    trailing_family: str | None = None  # the same of a name that fits several composers
    behind: bool = False  # the composer's name stood behind the title
    pair: str | None = None  # the arranger beside the composer: "Schumann/Liszt"
