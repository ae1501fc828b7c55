"""A track and its group on their way to the card: what choosing fills in and placing reads."""

from dataclasses import dataclass

from syncd.model import CataloguedTrack
from syncd.planner.card_state import ManifestEntry
from syncd.planner.card_tags import CardTags
from syncd.planner.layout import Group
from syncd.planner.pictures import Picture
from syncd.planner.recipe import Recipe

SourceKey = tuple[str, str]
"""Audio hash and recipe key: a pressing, or a file on the card whatever its tags."""


@dataclass(slots=True)
class Member:
    """A track on its way to a place.

    ``suffix`` is its file's, without the dot, ``wish`` the path that it would like, ``current`` the
    file on the card that holds its pressing. ``dress`` is the digest of ``tags`` (``gain``
    among them) and picture; ``size`` in bytes is exact for that very file, else an upper estimate.
    ``unmeasured`` says that its loudness must be known and is not. ``wished_dress`` is the dress
    that it should have, where its file keeps another one since it cannot be made anew now.
    """

    entry: CataloguedTrack
    recipe: Recipe
    recipe_key: str
    suffix: str
    wish: str = ""
    current: ManifestEntry | None = None
    tags: CardTags = ()
    dress: str = ""
    size: int = 0
    gain: CardTags = ()
    unmeasured: bool = False
    wished_dress: str = ""

    @property
    def title(self) -> str:
        """The title in its tags."""
        return dict(self.tags).get("TITLE", "")


@dataclass(slots=True)
class Chosen:
    """A group with its members, on its way to the card."""

    group: Group
    members: list[Member]
    raised_db: float = 0.0
    """By how much the level of its music is raised at most."""
    clause: int = 0
    """The number of the clause that chose it."""
    picture: Picture | None = None
    lacking: int = 0
    """How many of its tracks cannot come to the card now, though others of it stay there."""
