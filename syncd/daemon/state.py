"""What the daemon is doing, as a value: what ``syncd status`` shows.

The keeper makes a new one after each thing that happened; whoever serves it only reads. Plain
texts, numbers and tuples, so that it goes to JSON as it is. Times are seconds since the epoch.
"""

from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any


class CardStage(StrEnum):
    """Where a card is on its way."""

    AWAY = "not plugged in"
    WAITING = "waiting"
    ASKING = "waiting to be asked for"
    UPDATING = "updating"
    DONE = "may be removed"
    FAILED = "failed"
    TWICE = "plugged in twice"
    BUSY = "in use by a command"


@dataclass(frozen=True, slots=True)
class Doing:
    """One job under way.

    ``what`` is "scan", "ahead" or "update"; ``card`` the name of its card, empty for the library.
    ``stage`` says what it is busy with, ``done`` of ``total`` how far that is (``total`` 0 while
    unknown), ``left_s`` how many seconds it will take still, None while unknown. ``started`` and
    ``stage_started`` are in seconds since 1970.
    """

    what: str
    card: str = ""
    stage: str = ""
    done: int = 0
    total: int = 0
    bytes_done: int = 0
    bytes_total: int = 0
    item: str = ""
    started: float = 0.0
    stage_started: float = 0.0
    left_s: float | None = None

    @property
    def share(self) -> int | None:
        """How many per cent of its stage are done, by bytes if they are known; None if unknown."""
        part, whole = (self.bytes_done, self.bytes_total)
        if whole <= 0:
            part, whole = (self.done, self.total)
        return min(100, 100 * part // whole) if whole > 0 else None

    def at(self, now: float, **news: Any) -> "Doing":
        """The same job with *news* of it, heard at *now*."""
        begun = self.stage_started
        if news.get("stage", self.stage) != self.stage:
            begun = now
        told = replace(self, **news, stage_started=begun)
        part, whole = (told.bytes_done, told.bytes_total)
        if whole <= 0:
            part, whole = (told.done, told.total)
        spent = now - begun
        known = 0 < part <= whole and spent > 0
        return replace(told, left_s=spent * (whole - part) / part if known else None)


@dataclass(frozen=True, slots=True)
class CardNow:
    """A known card. ``message`` is the last thing to tell of it, ``mount`` where it is.

    ``updated`` is when this daemon last brought it up to date, in seconds since 1970.
    """

    id: str
    name: str
    stage: CardStage = CardStage.AWAY
    mount: str = ""
    message: str = ""
    doing: Doing | None = None
    updated: float | None = None


@dataclass(frozen=True, slots=True)
class UnknownVolume:
    """A volume that is no card of this home; it is not written to. ``message`` says what to do."""

    mount: str
    message: str


@dataclass(frozen=True, slots=True)
class LibraryNow:
    """The library: its roots, those that are away, when it was last read through (since 1970).

    ``notices`` are what the last scan had to tell of folders, links and files.
    """

    roots: tuple[str, ...] = ()
    away: tuple[str, ...] = ()
    scanned: float | None = None
    scan_due: bool = False
    message: str = ""
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class State:
    """All that the daemon knows about what it is doing; ``started`` in seconds since 1970."""

    pid: int
    started: float
    cards: tuple[CardNow, ...] = ()
    jobs: tuple[Doing, ...] = ()
    library: LibraryNow = LibraryNow()
    unknown: tuple[UnknownVolume, ...] = ()
    problems: tuple[str, ...] = ()
    giving_way: bool = False
    paused: bool = False

    def as_json(self) -> dict[str, Any]:
        """The same as a JSON object, with each job's ``share``."""
        told = asdict(self)
        for job, each in zip(told["jobs"], self.jobs, strict=True):
            job["share"] = each.share
        for card, one in zip(told["cards"], self.cards, strict=True):
            if one.doing is not None:
                card["doing"]["share"] = one.doing.share
        return told
