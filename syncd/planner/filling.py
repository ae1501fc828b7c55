"""Which of the wanted groups go on a card: clause by clause, as far as room and limits go. Pure.

The rules, for one clause after the other:

1. In order (what the clause's ``order`` says; without one, what lies on the card before what does
   not) each group is taken that fits, up to the first that does not.
2. Behind it, what lies on the card and fits is taken.
3. What is left of the room is given to those of the rest that use it best.

So a group has no room only if it would not fit even with everything of later clauses gone; nothing
that fits stays away; and what lies on the card stays unless a stated order or an earlier clause
needs its room. What lies there stays even where room is short for another reason, such as a reserve
that something else has taken: it may go beyond the budget by a *grace*, nothing else may.
"""

from bisect import bisect_left
from collections.abc import Sequence, Set
from dataclasses import dataclass
from enum import Enum

from syncd.planner.programme import Limit

_STARTS = 12
"""From how many of the largest groups on the best use of the room is tried."""


@dataclass(slots=True)
class Candidate:
    """A group that is wanted: the room that it takes besides its ``folders``, how long it plays.

    ``lies`` says whether any of it is on the card already, ``stays`` whether all of it is.
    """

    clause: int
    bytes: int
    seconds: float
    folders: Set[str] = frozenset()
    lies: bool = False
    stays: bool = False


class Verdict(Enum):
    """What became of a group."""

    TAKEN = "taken"
    LIMIT = "limit"
    ROOM = "room"


@dataclass(frozen=True, slots=True)
class Rule:
    """What a clause says of filling: its limit, and whether its order is stated."""

    limit: Limit | None = None
    ordered: bool = False


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict; of what has no room, the bytes it needs and those that were left."""

    verdict: Verdict
    needs: int = 0
    left: int = 0


def fill(
    candidates: Sequence[Candidate],
    rules: Sequence[Rule],
    budget: int,
    folder_bytes: int = 0,
    grace: int = 0,
) -> list[Judged]:
    """Judge each of *candidates*, which are in order, for a card with *budget* bytes for them.

    A folder takes *folder_bytes* once, whoever lies in it. *grace* is for what stays, and is used
    only where the whole card holds nothing new then.
    """
    judged = _filled(candidates, rules, budget, folder_bytes, 0)
    if grace > 0 and any(
        one.stays and found.verdict is Verdict.ROOM
        for one, found in zip(candidates, judged, strict=True)
    ):
        kept = _filled(candidates, rules, budget, folder_bytes, grace)
        taken = [
            (one, found)
            for one, found in zip(candidates, kept, strict=True)
            if found.verdict is Verdict.TAKEN
        ]
        within = sum(found.needs for _, found in taken) <= budget
        if within or all(one.stays for one, _ in taken):
            return kept
    return judged


def _filled(
    candidates: Sequence[Candidate],
    rules: Sequence[Rule],
    budget: int,
    folder_bytes: int,
    grace: int,
) -> list[Judged]:
    filling = _Filling(candidates, budget, folder_bytes, grace)
    by_clause: list[list[int]] = [[] for _ in rules]
    for index, candidate in enumerate(candidates):
        by_clause[candidate.clause].append(index)
    for rule, indexes in zip(rules, by_clause, strict=True):
        filling.clause(rule, indexes)
    return filling.judged


class _Filling:
    """The card while it is filled; within one clause also what is left of its limit."""

    def __init__(
        self, candidates: Sequence[Candidate], budget: int, folder_bytes: int, grace: int
    ) -> None:
        self._candidates = candidates
        self._budget = budget
        self._grace = grace
        self._folder_bytes = folder_bytes
        self._folders: set[str] = set()
        self._size = self._seconds = self._count = _NO_END
        self.judged = [Judged(Verdict.ROOM)] * len(candidates)

    def clause(self, rule: Rule, indexes: list[int]) -> None:
        """Fill with the groups *indexes* of one clause."""
        limit = rule.limit or _NONE
        self._size = limit.size if limit.size is not None else _NO_END
        self._seconds = limit.hours * 3600 if limit.hours is not None else _NO_END
        self._count = limit.recordings if limit.recordings is not None else _NO_END
        if not rule.ordered:
            indexes = sorted(indexes, key=lambda index: not self._candidates[index].lies)
        edge = next(
            (place for place, index in enumerate(indexes) if not self._take(index)), len(indexes)
        )
        rest = [index for index in indexes[edge:] if not self._takes_lying(index)]
        while best := self._best(rest):
            rest = [index for index in rest if index not in best or not self._take(index)]
        for index in rest:
            needs = self._needs(index)
            beyond = self._beyond_limit(index, needs)
            verdict = Verdict.LIMIT if beyond else Verdict.ROOM
            self.judged[index] = Judged(verdict, needs, max(0, self._budget))

    def _takes_lying(self, index: int) -> bool:
        return self._candidates[index].lies and self._take(index)

    def _needs(self, index: int) -> int:
        one = self._candidates[index]
        if not self._folder_bytes:
            return one.bytes
        return one.bytes + self._folder_bytes * len(one.folders - self._folders)

    def _beyond_limit(self, index: int, needs: int) -> bool:
        return (
            needs > self._size
            or self._candidates[index].seconds > self._seconds
            or (self._count < 1)
        )

    def _fits(self, index: int, needs: int) -> bool:
        room = self._budget + (self._grace if self._candidates[index].stays else 0)
        return needs <= room and not self._beyond_limit(index, needs)

    def _take(self, index: int) -> bool:
        """Take the group if it fits."""
        needs = self._needs(index)
        if not self._fits(index, needs):
            return False
        one = self._candidates[index]
        self._budget -= needs
        self._folders |= one.folders
        self._size -= needs
        self._seconds -= one.seconds
        self._count -= 1
        self.judged[index] = Judged(Verdict.TAKEN, needs)
        return True

    def _best(self, rest: list[int]) -> set[int]:
        """Those of *rest* that together use the room best, nearly: largest first, tried from
        each of the largest ones on. Empty only when none fits.
        """
        sized = [(-self._needs(index), index) for index in rest]
        sized = sorted(one for one in sized if self._fits(one[1], -one[0]))
        best: set[int] = set()
        most = -1
        room = int(min(self._budget, self._size))
        for start in range(min(_STARTS, len(sized))):
            left, seconds, count = room, self._seconds, self._count
            place = start
            taken = set()
            while place < len(sized) and count >= 1:
                place = bisect_left(sized, (-left, -1), lo=place)
                if place == len(sized):
                    break
                size, index = sized[place]
                place += 1
                if self._candidates[index].seconds <= seconds:
                    left += size
                    seconds -= self._candidates[index].seconds
                    count -= 1
                    taken.add(index)
            if room - left > most:
                best, most = taken, room - left
        return best


_NO_END = float("inf")
_NONE = Limit.model_construct()
