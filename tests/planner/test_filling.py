"""What goes on a card: the rules of ``filling.py`` as they stand there, drawn by hypothesis."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from syncd.planner.filling import Candidate, Judged, Rule, Verdict, fill
from syncd.planner.programme import Limit

drawn = settings(max_examples=300, derandomize=True, deadline=None, database=None)

FOLDER = 7
limits = st.none() | st.builds(
    Limit.model_construct,
    size=st.none() | st.integers(1, 200),
    hours=st.none() | st.floats(0.001, 0.02),
    recordings=st.none() | st.integers(1, 4),
).filter(lambda limit: limit is None or any((limit.size, limit.hours, limit.recordings)))
rules = st.lists(st.builds(Rule, limits, st.booleans()), min_size=1, max_size=4)


@st.composite
def cards(draw: st.DrawFn) -> tuple[list[Candidate], list[Rule], int]:
    """Groups of a few clauses, in the clauses' order, and a card with room for some."""
    said = draw(rules)
    candidates = draw(
        st.lists(
            st.builds(
                Candidate,
                st.integers(0, len(said) - 1),
                st.integers(1, 60),
                st.floats(0, 30),
                st.frozensets(st.sampled_from("abcd"), max_size=2),
                st.booleans(),
            ),
            max_size=14,
        )
    )
    candidates.sort(key=lambda one: one.clause)
    return candidates, said, draw(st.integers(0, 300))


def taken(candidates: list[Candidate], judged: list[Judged], upto: int = 99) -> list[Candidate]:
    return [
        one
        for one, found in zip(candidates, judged, strict=True)
        if found.verdict is Verdict.TAKEN and one.clause <= upto
    ]


def room(these: list[Candidate]) -> int:
    folders = set().union(*(one.folders for one in these))
    return sum(one.bytes for one in these) + FOLDER * len(folders)


def within(limit: Limit | None, before: list[Candidate], these: list[Candidate]) -> bool:
    """Whether *these*, on top of what earlier clauses took, are within *limit*."""
    if limit is None:
        return True
    size = room([*before, *these]) - room(before)
    seconds = sum(one.seconds for one in these)
    return (
        size <= (limit.size or 1 << 60)
        and seconds <= (limit.hours or 1e9) * 3600 + 1e-6
        and len(these) <= (limit.recordings or 1 << 60)
    )


@drawn
@given(cards())
def test_never_more_is_taken_than_fits_the_card_and_each_limit(
    drawn_card: tuple[list[Candidate], list[Rule], int],
) -> None:
    candidates, said, budget = drawn_card
    judged = fill(candidates, said, budget, FOLDER)
    assert room(taken(candidates, judged)) <= budget or not taken(candidates, judged)
    for number, rule in enumerate(said):
        before = taken(candidates, judged, number - 1)
        these = [one for one in taken(candidates, judged, number) if one.clause == number]
        assert within(rule.limit, before, these)


@drawn
@given(cards())
def test_what_has_no_room_would_not_fit_with_all_later_clauses_gone(
    drawn_card: tuple[list[Candidate], list[Rule], int],
) -> None:
    """The rule of priority: nothing of a later clause stands in the place of an earlier one's."""
    candidates, said, budget = drawn_card
    judged = fill(candidates, said, budget, FOLDER)
    for one, found in zip(candidates, judged, strict=True):
        if found.verdict is Verdict.TAKEN:
            continue
        others = taken(candidates, judged, one.clause)
        before = taken(candidates, judged, one.clause - 1)
        own = [other for other in others if other.clause == one.clause]
        limit = said[one.clause].limit
        if found.verdict is Verdict.ROOM:
            assert room([*others, one]) > budget
        else:
            assert not within(limit, before, [*own, one])


@drawn
@given(cards())
def test_filling_the_card_as_it_is_after_filling_changes_nothing(
    drawn_card: tuple[list[Candidate], list[Rule], int],
) -> None:
    candidates, said, budget = drawn_card
    said = [Rule(rule.limit) for rule in said]
    judged = fill(candidates, said, budget, FOLDER)
    lying = [
        Candidate(one.clause, one.bytes, one.seconds, one.folders, found.verdict is Verdict.TAKEN)
        for one, found in zip(candidates, judged, strict=True)
    ]
    again = fill(lying, said, budget, FOLDER)
    assert [found.verdict for found in again] == [found.verdict for found in judged]


@drawn
@given(cards(), st.integers(1, 60))
def test_a_newcomer_of_the_last_clause_drives_nothing_from_the_card(
    drawn_card: tuple[list[Candidate], list[Rule], int], size: int
) -> None:
    candidates, said, budget = drawn_card
    said = [Rule(rule.limit) for rule in said]
    judged = fill(candidates, said, budget)
    lying = [
        Candidate(one.clause, one.bytes, one.seconds, frozenset(), found.verdict is Verdict.TAKEN)
        for one, found in zip(candidates, judged, strict=True)
    ]
    newcomer = Candidate(len(said) - 1, size, 1.0)
    again = fill([newcomer, *lying], said, budget)[1:]
    for before, after in zip(judged, again, strict=True):
        assert before.verdict is not Verdict.TAKEN or after.verdict is Verdict.TAKEN


@drawn
@given(st.lists(st.integers(1, 40), max_size=9), st.integers(0, 120))
def test_the_rest_of_the_room_is_used_nearly_as_well_as_can_be(
    sizes: list[int], budget: int
) -> None:
    """Against trying every set: at least two thirds of what the best one uses."""
    edge = Candidate(0, budget + 1, 0)  # from here on all is left over
    candidates = [edge, *(Candidate(0, size, 0) for size in sizes)]
    used = room(taken(candidates, fill(candidates, [Rule()], budget)))
    best = max(
        total
        for count in range(len(sizes) + 1)
        for total in map(sum, itertools.combinations(sizes, count))
        if total <= budget
    )
    assert used <= best
    assert used >= 2 * best / 3


def test_what_is_left_over_goes_to_those_that_use_it_best() -> None:
    sizes = (50, 60, 20, 45, 25, 30)
    candidates = [Candidate(0, size, 0) for size in sizes]
    judged = fill(candidates, [Rule()], 105)
    # 50 in order, 60 does not fit; of the 55 that are left 30 and 25 use all.
    assert [one.bytes for one in taken(candidates, judged)] == [50, 25, 30]
    assert judged[1] == Judged(Verdict.ROOM, 60, 0)


def test_a_stated_order_goes_before_what_lies_on_the_card() -> None:
    candidates = [Candidate(0, 60, 0), Candidate(0, 60, 0, lies=True)]
    assert taken(candidates, fill(candidates, [Rule()], 100)) == [candidates[1]]
    assert taken(candidates, fill(candidates, [Rule(ordered=True)], 100)) == [candidates[0]]


def test_a_limit_is_told_apart_from_want_of_room() -> None:
    candidates = [Candidate(0, 10, 3600), Candidate(0, 10, 3600), Candidate(1, 90, 0)]
    judged = fill(candidates, [Rule(Limit(hours=1.5)), Rule()], 95)
    assert [found.verdict for found in judged] == [Verdict.TAKEN, Verdict.LIMIT, Verdict.ROOM]
