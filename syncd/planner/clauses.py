"""What each clause of a programme came to: taken, beyond its limit, without room; and why. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

from syncd.model import CataloguedTrack
from syncd.planner.amounts import amount
from syncd.planner.programme import Limit, Programme
from syncd.planner.selecting import Selection


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A recording or album that a clause chose and that is not on the card."""

    title: str
    tracks: int
    bytes: int
    reason: str


@dataclass(frozen=True, slots=True)
class ClauseTold:
    """What one clause came to, in recordings and albums.

    ``fitting`` is what it asks for, of which ``earlier`` went to a clause before it; ``unplayable``
    can not be made for this player or read, as the plan's ``left_out`` tells track by track.
    ``bytes`` are those of the music files. ``notes`` tell what was asked for and is not there.
    """

    title: str
    fitting: int
    earlier: int
    taken: int
    tracks: int
    bytes: int
    hours: float
    unplayable: int
    beyond_limit: tuple[NotTaken, ...] = ()
    no_room: tuple[NotTaken, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ProgrammeTold:
    """What a programme came to: its clauses, and how much of the library is none of theirs.

    ``left_out`` counts what the programme leaves out whatever its clauses say, ``unchosen`` what
    none of them asks for. ``fit`` says which quality was chosen and why, where that was wished.
    """

    clauses: tuple[ClauseTold, ...]
    left_out: int = 0
    unchosen: int = 0
    notes: tuple[str, ...] = ()
    fit: str = ""


class TakenTrack(Protocol):
    """A track on its way to the card."""

    entry: CataloguedTrack
    size: int


@dataclass(slots=True)
class _Count:
    taken: int = 0
    tracks: int = 0
    bytes: int = 0
    seconds: float = 0.0
    beyond: list[NotTaken] = field(default_factory=list)
    no_room: list[NotTaken] = field(default_factory=list)


class Telling:
    """Gathers what becomes of what the clauses found."""

    def __init__(self, programme: Programme, selection: Selection) -> None:
        self._programme = programme
        self._selection = selection
        self._counts = [_Count() for _ in programme.clause]

    def taken(self, clause: int, members: Iterable[TakenTrack]) -> None:
        """A group of clause number *clause* has room."""
        count = self._counts[clause]
        count.taken += 1
        for member in members:
            count.tracks += 1
            count.bytes += member.size
            count.seconds += member.entry.track.audio.duration_s

    def beyond(self, clause: int, what: NotTaken) -> None:
        """The clause's limit keeps *what* out."""
        self._counts[clause].beyond.append(what)

    def no_room(self, clause: int, what: NotTaken) -> None:
        """The card has no room for *what*."""
        self._counts[clause].no_room.append(what)

    def limit(self, clause: int) -> str:
        """The reason of what the clause's limit keeps out."""
        limit = self._programme.clause[clause].limit or Limit.model_construct()
        number = limit.recordings
        what = "1 recording or album" if number == 1 else f"{number} recordings and albums"
        said = [
            amount(limit.size) if limit.size is not None else "",
            f"{limit.hours:g} hours" if limit.hours is not None else "",
            what if number is not None else "",
        ]
        return f"Its clause is limited to {', '.join(filter(None, said))}."

    def told(self) -> ProgrammeTold:
        """What was gathered, clause by clause."""
        told = []
        rows = zip(self._programme.clause, self._selection.found, self._counts, strict=True)
        for clause, of_it, count in rows:
            known = count.taken + len(count.beyond) + len(count.no_room)
            notes = of_it.notes
            if not of_it.fitting and not notes:
                notes = ("Nothing in the library fits all that it asks.",)
            told.append(
                ClauseTold(
                    title=clause.title,
                    fitting=of_it.fitting,
                    earlier=of_it.earlier,
                    taken=count.taken,
                    tracks=count.tracks,
                    bytes=count.bytes,
                    hours=count.seconds / 3600,
                    unplayable=of_it.fitting - of_it.earlier - known,
                    beyond_limit=tuple(count.beyond),
                    no_room=tuple(count.no_room),
                    notes=notes,
                )
            )
        found = self._selection
        return ProgrammeTold(tuple(told), found.left_out, found.unchosen, found.notes)
