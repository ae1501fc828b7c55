"""A plan as a value: the steps that take a card from what it is to what it should be.

How it is made is in ``planning.py``, what the steps do to a card in ``syncd.applier.apply``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from syncd.model import Art, AudioHash, CardPath, CataloguedTrack, LeftOut, Track
from syncd.planner.card_state import Source
from syncd.planner.card_tags import CardTags
from syncd.planner.clauses import ProgrammeTold
from syncd.planner.gain import Levels
from syncd.planner.recipe import Recipe


class Action(StrEnum):
    """What a step does."""

    MEASURE = "measure"
    PRESS = "press"
    WRITE = "write"
    RENAME = "rename"
    REMOVE = "remove"
    PUBLISH = "publish"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a plan. ``origin`` is the old path of a rename.

    ``target`` is the file's path on the card, the master's where loudness is measured, "catalogue"
    or "manifest" where that is published. ``bytes`` is the file's size, removed ones included, as
    exact as ``Placement.size``; 0 for measuring.
    """

    action: Action
    target: str
    bytes: int
    reason: str
    origin: CardPath | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """One file of the card's end state and all that is needed to make it.

    ``size`` is exact for a file that is on the card already, else an upper estimate. ``track``
    is None for a playlist, whose ``text`` is its whole content, and for a picture file, which is
    made from ``art``. ``wished_dress`` is set where the file keeps an older dress than it should
    have, as it cannot be made anew now: the catalogue shows it as it should be.
    """

    path: CardPath
    source: Source
    size: int
    track: CataloguedTrack | None = None
    recipe: Recipe | None = None
    tags: CardTags = ()
    art: Art | None = None
    text: str = ""
    wished_dress: str = ""


@dataclass(frozen=True, slots=True)
class NotFitting:
    """A recording or album that was wanted and has no room."""

    title: str
    tracks: int
    bytes: int
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps that take a card from what it is to what it should be.

    ``end`` is the card's end state in playing order. ``staying`` are the paths that no step
    touches: what an interim catalogue may name. ``catalogue_key`` is that of the end state.
    """

    steps: tuple[Step, ...] = ()
    end: tuple[Placement, ...] = ()
    staying: frozenset[CardPath] = frozenset()
    catalogue_key: str | None = None
    not_fitting: tuple[NotFitting, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    other_forms: tuple[LeftOut, ...] = ()
    """Files that stay as they were made for another profile, since they cannot be made anew now."""
    in_part: tuple[str, ...] = ()
    """Recordings that are on the card and lost a file that cannot be made now: which, and how much
    is lacking. The others of their files stay."""
    foreign: tuple[CardPath, ...] = ()
    bytes_free_before: int = 0
    bytes_free_after: int = 0
    free_is_exact: bool = False
    """Whether ``bytes_free_after`` is reckoned to the cluster, or measured; else about right."""
    ordered: bool = False
    """Whether the entries of folders are to come in playing order."""
    presses: tuple[Placement, ...] = ()
    """What must be pressed first: one placement for each pressing that the store lacks."""
    measures: tuple[tuple[Track, Recipe], ...] = ()
    """Whose loudness must be known and is not: the plan is made again when it is."""
    cautions: tuple[str, ...] = ()
    """What the listener should be told before listening."""
    room: int | None = None
    """The bytes that music was chosen for, None where there was room for all."""
    slack: int = 0
    """What of those the music that was chosen does not take, by the planner's estimates."""
    coming: tuple[str, ...] = ()
    """Digests of the keys of the groups that were chosen then beside what lies on the card."""
    goes_on: bool = False
    """Whether that was what an interrupted update had: what was chosen then has room."""
    keeps_reserve: bool = True
    """Whether something comes to the card, so that the reserve must stay free afterwards. What
    lies there already may go on lying in it."""
    programme: ProgrammeTold | None = None
    """What the card's programme came to, None where everything is wanted."""

    def count(self, action: Action) -> int:
        """How many steps do *action*."""
        return sum(step.action is action for step in self.steps)


@dataclass(frozen=True, slots=True)
class Pressings:
    """What is known about pressings beforehand.

    ``sizes`` maps (audio hash, recipe key) to the bytes of the pressing in the store; ``failed``
    maps the same pair to the reason why it could not be made; ``dressed`` has the exact size of
    files that were measured as they will be on the card, by what they are made from. ``levels``
    is what is known of loudness; it is asked only where the profile wants levels evened.
    ``damaged`` has the reason against each damaged master that the listener does not want used.
    """

    sizes: Mapping[tuple[AudioHash, str], int] = field(default_factory=dict)
    failed: Mapping[tuple[AudioHash, str], str] = field(default_factory=dict)
    dressed: Mapping[Source, int] = field(default_factory=dict)
    levels: Levels | None = None
    damaged: Mapping[AudioHash, str] = field(default_factory=dict)


def pressing_id(placement: Placement) -> tuple[AudioHash, str]:
    """The store's key for the pressing that *placement* is dressed from."""
    return AudioHash(placement.source.audio), placement.source.recipe
