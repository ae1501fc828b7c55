"""What goes into an update and what comes out of it: the card, how far it is, what was done."""

from collections.abc import Callable
from dataclasses import dataclass, field

from syncd.applier.applied import Applied
from syncd.applier.volume import Volume
from syncd.model import CardPath
from syncd.planner.plan import Plan
from syncd.planner.programme import EVERYTHING, Programme
from syncd.profile import Profile


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an update is. ``stage`` is "check", "measure", "press", "write" or "compare".

    ``done`` of ``total`` tracks or files are through it. ``bytes_done`` of ``bytes_total`` are
    those of the files where files are written or compared; where music is decoded they are its
    seconds, so that they tell a share all the same. ``item`` names what was just done.
    """

    stage: str
    done: int
    total: int
    bytes_done: int
    bytes_total: int
    item: str


Report = Callable[[Progress], None]


@dataclass(slots=True)
class Outcome:
    """What an update did. ``plan`` is the one that was carried out at the end.

    ``unmended`` are damaged files that a repair left, since they could not be made anew now;
    ``lost`` those that are gone and that it could not bring again for the same reason.
    """

    plan: Plan
    applied: Applied = field(default_factory=Applied)
    pressed: int = 0
    from_store: int = 0
    seconds: float = 0.0
    notices: tuple[str, ...] = ()
    unmended: tuple[CardPath, ...] = ()
    lost: tuple[CardPath, ...] = ()


@dataclass(frozen=True, slots=True)
class Target:
    """A card at hand: where it is, what it is for, and the limits of its file system.

    With *read_back* what is written to it is read again and compared.
    """

    volume: Volume
    profile: Profile
    programme: Programme = EVERYTHING
    largest_file_bytes: int | None = None
    read_back: bool = True
