"""What each clause of a programme finds in the library. Pure.

Each clause has what it chooses and no earlier one chose. Names are compared once for each name in
the library, not once for each track, so that twenty clauses and 100,000 tracks take no time.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence, Set
from dataclasses import dataclass
from typing import Any

from syncd.model import Composer, Kind, Work
from syncd.planner.layout import Group, year_of
from syncd.planner.matching import (
    composer_fits,
    known_composer,
    known_composer_near,
    name_fits,
    nearest,
    text_fits,
    work_fits,
)
from syncd.planner.programme import (
    EVERYTHING,
    RANGE_KEYS,
    TEXT_KEYS,
    Choice,
    Clause,
    Programme,
    Ranges,
)
from syncd.works.text import fold
from syncd.works.topics import forms_of, period_of
from syncd.works.words.instruments import INSTRUMENTS


@dataclass(frozen=True, slots=True)
class Found:
    """What one clause found: how many groups in all, how many of them were an earlier clause's.

    ``notes`` tell what was asked for and is not in the library.
    """

    fitting: int
    earlier: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Selection:
    """Groups with the number of the clause that chose them, in order; and what clauses found.

    ``unchosen`` counts the groups that no clause chose, ``left_out`` those of the programme's own
    "leave_out".
    """

    wanted: list[tuple[int, Group]]
    found: tuple[Found, ...]
    left_out: int = 0
    unchosen: int = 0
    notes: tuple[str, ...] = ()


def select(programme: Programme, groups: Sequence[Group], today: int | None = None) -> Selection:
    """Sort *groups*, which are in order of their titles, by the clauses that choose them.

    *today* is the day from which ``added_days`` counts, in days since 1970-01-01.
    """
    if programme is EVERYTHING:
        return Selection([(0, group) for group in groups], ())
    library = _Library(groups, today)
    out: set[int] = set()
    general: list[str] = []
    for choice in programme.leave_out:
        fitting, notes = library.fitting(choice)
        out |= fitting
        general += notes
    free = set(range(len(groups))) - out
    wanted: list[tuple[int, Group]] = []
    found = []
    for number, clause in enumerate(programme.clause):
        fitting, notes = library.chosen(clause, out)
        own = fitting & free
        free -= own
        found.append(Found(len(fitting), len(fitting) - len(own), tuple(dict.fromkeys(notes))))
        wanted.extend((number, groups[index]) for index in library.in_order(clause, own))
    return Selection(wanted, tuple(found), len(out), len(free), tuple(dict.fromkeys(general)))


class _Library:
    """The groups, found by what is asked of them; nothing is looked up that nobody asks for."""

    def __init__(self, groups: Sequence[Group], today: int | None) -> None:
        self._groups = groups
        self._today = today
        self._values: dict[str, dict[Any, list[int]]] = {}
        self._fitting: dict[tuple[str, str], frozenset[int]] = {}
        self._numbers: dict[str, list[float | None]] = {}

    def chosen(self, clause: Clause, out: set[int]) -> tuple[set[int], list[str]]:
        """The groups but for *out* that *clause* chooses, and notes about what is not there."""
        notes: list[str] = []
        for choice in clause.leave_out:
            these, more = self.fitting(choice)
            out = out | these
            notes += more
        fitting, more = self.fitting(clause, out)
        return fitting, [*more, *notes]

    def fitting(self, choice: Choice, out: Set[int] = frozenset()) -> tuple[set[int], list[str]]:
        """The groups, but for *out*, of which all that *choice* asks is true."""
        fitting = set(range(len(self._groups))) - out
        notes: list[str] = []
        if choice.kind is not None:
            fitting &= set(self._by_value("kind").get(choice.kind, ()))
        for key in TEXT_KEYS:
            asked: tuple[str, ...] = getattr(choice, key)
            if not asked:
                continue
            any_of: set[int] = set()
            for text in asked:
                these = self._of_text(key, text)
                if not these:
                    notes.append(self._nothing(key, text))
                any_of |= these
            fitting &= any_of
        for key in RANGE_KEYS:
            ranges: Ranges = getattr(choice, key)
            if ranges:
                numbers = self._by_number(key)
                fitting = {one for one in fitting if _within(numbers[one], ranges)}
                if all(number is None for number in numbers):
                    notes.append(f"No {key} is known of anything in the library.")
        if choice.added_days is not None or choice.newest is not None:
            days = self._by_number("added")
            if all(day is None for day in days):
                notes.append("Of nothing in the library is known when it was added.")
            if choice.added_days is not None and self._today is not None:
                first = self._today - choice.added_days
                fitting = {one for one in fitting if (days[one] or -math.inf) >= first}
            if choice.newest is not None:
                dated = [one for one in fitting if days[one] is not None]
                dated.sort(key=lambda one: (-(days[one] or 0), one))
                fitting = set(dated[: choice.newest])
        return fitting, notes

    def in_order(self, clause: Clause, own: set[int]) -> list[int]:
        """The groups *own*, in the order in which *clause* wants them."""
        if clause.order in (None, "title"):
            return sorted(own)
        key = {"newest": "added", "year": "year", "rating": "rating"}[clause.order or ""]
        numbers = self._by_number(key)
        return sorted(own, key=lambda one: (-(numbers[one] or -math.inf), one))

    def _of_text(self, key: str, text: str) -> frozenset[int]:
        known = self._fitting.get((key, text))
        if known is None:
            fits = _FITS.get(key, text_fits)
            found: set[int] = set()
            for value, places in self._by_value(key).items():
                if fits(text, value):
                    found.update(places)
            known = self._fitting[key, text] = frozenset(found)
        return known

    def _by_value(self, key: str) -> dict[Any, list[int]]:
        values = self._values.get(key)
        if values is None:
            gathered: dict[Any, list[int]] = defaultdict(list)
            values_of = _VALUES[key]
            for place, group in enumerate(self._groups):
                for value in values_of(group):
                    gathered[value].append(place)
            values = self._values[key] = dict(gathered)
        return values

    def _by_number(self, key: str) -> list[float | None]:
        numbers = self._numbers.get(key)
        if numbers is None:
            numbers = self._numbers[key] = [_NUMBERS[key](group) for group in self._groups]
        return numbers

    def _nothing(self, key: str, text: str) -> str:
        """That nothing fits *text*, and what may have been meant."""
        if key in ("form", "period"):  # it is a known one, in whatever language it was asked for
            return f"No work of the {key} “{text}” is in the library."
        shown = {_shown(key, value) for value in self._by_value(key)} - {""}
        near = nearest(text, shown)
        if near is None and key == "composer":
            known = known_composer(text)
            if known is not None:
                return f"Nothing by {known} is in the library."
            known = known_composer_near(text)
            if known is not None:
                return f"Nothing by the {key} “{text}” is in the library. Is {known} meant?"
        if near is not None and fold(near) != fold(text):
            return f"No {key} “{text}” is in the library; did you mean “{near}”?"
        return f"No {key} “{text}” is in the library."


def _within(number: float | None, ranges: Ranges) -> bool:
    return number is not None and any(low <= number <= high for low, high in ranges)


# -- what is asked of a group -------------------------------------------------------------------


def _kind(group: Group) -> Iterable[str]:
    return ("work" if group.members[0].identity.kind is Kind.WORK else "popular",)


def _composer(group: Group) -> Iterable[Composer]:
    composer = group.members[0].identity.composer
    return () if composer is None else (composer,)


def _work(group: Group) -> Iterable[tuple[str, Work]]:
    identity = group.members[0].identity
    composer = identity.composer.sort if identity.composer is not None else ""
    return () if identity.work is None else ((composer, identity.work),)


def _form(group: Group) -> Iterable[str]:
    work = group.members[0].identity.work
    return () if work is None else forms_of(work.title)


def _period(group: Group) -> Iterable[str]:
    composer = group.members[0].identity.composer
    period = period_of(composer.sort) if composer is not None else None
    return () if period is None else (period,)


def _performers(*roles: str) -> Callable[[Group], Iterable[str]]:
    def names(group: Group) -> Iterable[str]:
        return {
            credit.name
            for member in group.members
            for credit in member.identity.credits
            if not roles or credit.role in roles
        }

    return names


def _instrument(group: Group) -> Iterable[str]:
    """What soloists play or sing, and what the work's title says it is for."""
    found = {
        credit.instrument
        for member in group.members
        for credit in member.identity.credits
        if credit.instrument
    }
    work = group.members[0].identity.work
    if work is not None:
        words = fold(work.title).replace(",", " ").split()
        for length in (1, 2, 3):
            for place in range(len(words) - length + 1):
                instrument = INSTRUMENTS.get(" ".join(words[place : place + length]))
                if instrument is not None:
                    found.add(instrument)
    return found


def _artist(group: Group) -> Iterable[str]:
    """The artist of the album, and the one who plays all of it."""
    first = group.members[0]
    artists = {first.track.album_artist, first.identity.artist or ""}
    players = {member.track.artist for member in group.members}
    return (artists | players if len(players) == 1 else artists) - {""}


def _album(group: Group) -> Iterable[str]:
    first = group.members[0]
    return {first.identity.album or first.track.album} - {""}


def _genre(group: Group) -> Iterable[str]:
    return {member.track.genre for member in group.members} - {""}


def _label(group: Group) -> Iterable[str]:
    return {member.track.label for member in group.members} - {""}


def _tag(group: Group) -> Iterable[str]:
    return {tag for member in group.members for tag in member.identity.tags}


_VALUES: dict[str, Callable[[Group], Iterable[Hashable]]] = {
    "kind": _kind,
    "composer": _composer,
    "work": _work,
    "form": _form,
    "period": _period,
    "performer": _performers(),
    "conductor": _performers("conductor"),
    "soloist": _performers("soloist"),
    "ensemble": _performers("ensemble"),
    "choir": _performers("choir"),
    "instrument": _instrument,
    "artist": _artist,
    "album": _album,
    "genre": _genre,
    "label": _label,
    "tag": _tag,
}

_FITS: dict[str, Callable[[str, Any], bool]] = {
    "composer": composer_fits,
    "work": lambda asked, value: work_fits(asked, *value),
    "form": lambda asked, value: fold(asked) == fold(value),
    "period": lambda asked, value: asked == value,
    "performer": name_fits,
    "conductor": name_fits,
    "soloist": name_fits,
    "ensemble": name_fits,
    "choir": name_fits,
    "artist": name_fits,
    "tag": lambda asked, value: fold(asked) == fold(value),
}


def _shown(key: str, value: Any) -> str:
    if key == "composer":
        return str(value.sort)
    if key == "work":
        return str(value[1].title)
    return str(value)


def _year(group: Group) -> float | None:
    """The year of the recording: the first that a member's tags tell."""
    years = (year_of(member.track.date) for member in group.members)
    return next((float(year) for year in years if year), None)


def _added(group: Group) -> float | None:
    """The day on which its newest part came to the library."""
    return max(
        (member.track.added for member in group.members if member.track.added is not None),
        default=None,
    )


def _rating(group: Group) -> float | None:
    """The mean, to the half star, of the ratings of those members that have one."""
    rated = [m.track.rating for m in group.members if m.track.rating is not None]
    return round(2 * sum(rated) / len(rated) / 20) / 2 if rated else None


_NUMBERS: dict[str, Callable[[Group], float | None]] = {
    "year": _year,
    "rating": _rating,
    "added": _added,
}
