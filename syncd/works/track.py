"""One track while its identity is worked out: what was read of it and what was found so far.

Only the value and what can be told from it at once. Who fills it: ``evidence.py`` the readings,
``attribution.py`` the composer, ``kind.py`` the kind.
"""

from dataclasses import dataclass, field

from syncd.model import Composer, Kind
from syncd.works.album import AlbumReading
from syncd.works.composer_tag import NO_TAG, ComposerTag
from syncd.works.composers import Entry
from syncd.works.errata import Correction
from syncd.works.fields import Fields
from syncd.works.numbers.raw import RawNumber
from syncd.works.title_reading import TitleReading
from syncd.works.worktitle.reading import WorkReading


@dataclass(slots=True)
class Track:
    """One track while its identity is worked out."""

    index: int
    fields: Fields
    title: TitleReading
    album: AlbumReading
    correction: Correction
    generic_title: bool = False
    cut: bool = False  # the title may have been longer than its field
    tag: ComposerTag = NO_TAG
    composer: Composer | None = None
    entry: Entry | None = None
    composer_confidence: float = 0.0
    arrangers: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    kind: Kind = Kind.UNKNOWN
    kind_firm: bool = False
    work_tag: WorkReading | None = None
    continued: WorkReading | None = None  # the work that the track before names

    @property
    def order(self) -> tuple[int, int, str]:
        """Where the track stands in its unit: disc, number, path."""
        track = self.fields.track
        return (self.fields.disc or 0, track if track is not None else 10**6, self.fields.path)

    @property
    def composer_sort(self) -> str | None:
        """The composer's sort form, by which tables and works know him."""
        return self.composer.sort if self.composer is not None else None

    @property
    def raws(self) -> tuple[RawNumber, ...]:
        """Catalogue numbers in the title."""
        title = self.title
        found: list[RawNumber] = []
        for reading in (self.work_tag, title.work, title.source, self.continued, title.movement):
            if reading is not None:
                found.extend(reading.raws)
        return tuple(found)

    @property
    def strength(self) -> int:
        """How much the track's own title looks like a work's."""
        best = 0
        for reading in (self.work_tag, self.title.work, self.title.source, self.continued):
            if reading is not None:
                best = max(best, reading.strength)
        return best
