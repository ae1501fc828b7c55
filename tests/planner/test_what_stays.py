"""Music on a card stays, whatever became of the reserve; what comes keeps the reserve free."""

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import library, profile, retagged, song, update
from counting_volume import CountingVolume

from syncd.applier.reading import read_card
from syncd.model import CataloguedTrack
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.filling import Candidate, Rule, Verdict, fill
from syncd.planner.plan import Action, Plan
from syncd.planner.planning import make_plan
from syncd.planner.programme import EVERYTHING, Clause, Fit, Programme

ALBUMS = [
    [song(f"Band {n}", f"Album {n}", m, f"Song {m}", size=90_000) for m in (1, 2, 3)]
    for n in range(6)
]
LYING = [one for album in ALBUMS[:4] for one in album]
NEW = [one for album in ALBUMS[4:] for one in album]


def brim(*entries: CataloguedTrack, left: int) -> CountingVolume:
    """A card with *entries* on it, which the listener has filled up to *left* bytes."""
    volume = CountingVolume(capacity=16 << 20)
    volume.put("SYNCD/card.json", b"{}")
    update(volume, library(*entries), profile())
    volume.put("photos.bin", b"x" * (read_card(volume).state.bytes_free - left))
    assert read_card(volume).state.bytes_free == left
    return volume


def planned(
    volume: CountingVolume, *entries: CataloguedTrack, programme: Programme = EVERYTHING
) -> Plan:
    return make_plan(library(*entries), read_card(volume).state, profile(), programme)


@pytest.mark.parametrize("left", [0, 4096, RESERVE_BYTES // 2 // 4096 * 4096, RESERVE_BYTES - 4096])
def test_a_full_card_with_nothing_new_for_it_is_left_alone(left: int) -> None:
    plan = planned(brim(*LYING, left=left), *LYING)
    assert (plan.steps, plan.not_fitting) == ((), ())


@pytest.mark.parametrize(
    "programme",
    [
        Programme(clause=(Clause(everything=True),)),
        Programme(clause=(Clause(everything=True, order="title"),)),
        Programme(clause=(Clause(artist="Band 2"), Clause(everything=True))),
        Programme(clause=(Clause(everything=True),), fit=Fit()),
    ],
)
def test_so_it_is_with_a_programme(programme: Programme) -> None:
    plan = planned(brim(*LYING, left=4096), *LYING, programme=programme)
    assert (plan.steps, plan.not_fitting) == ((), ())


def test_what_is_new_does_not_come_into_the_reserve_and_is_told_why() -> None:
    volume = brim(*LYING, left=220 * 4096)
    plan = planned(volume, *LYING, *NEW)
    assert plan.steps == ()
    assert len(plan.not_fitting) == 2
    assert all("beside the reserve of 1.0 MB" in item.reason for item in plan.not_fitting)
    # Beyond the reserve it comes.
    more = brim(*LYING, left=RESERVE_BYTES + 220 * 4096)
    assert planned(more, *LYING, *NEW).not_fitting == ()


def test_a_changed_tag_costs_no_album_its_place_on_a_full_card() -> None:
    volume = brim(*LYING, left=75 * 4096)
    changed = [retagged(one, genre="Folk") if one in ALBUMS[1] else one for one in LYING]
    plan = planned(volume, *changed)
    assert plan.not_fitting == ()
    assert plan.count(Action.WRITE) == 3
    assert not plan.keeps_reserve
    update(volume, library(*changed), profile())
    assert planned(volume, *changed).steps == ()


def test_what_grows_beyond_what_is_free_takes_one_album_and_not_all() -> None:
    volume = brim(*LYING, left=8192)
    grown = [
        retagged(one, genre="Folk", size_bytes=150_000) if one in ALBUMS[1] else one
        for one in LYING
    ]
    plan = planned(volume, *grown)
    assert len(plan.not_fitting) == 1
    assert all("beside the reserve" in item.reason for item in plan.not_fitting)


def test_when_something_goes_the_reserve_is_made_whole_before_anything_comes() -> None:
    volume = brim(*LYING, left=8192)
    plan = planned(volume, *LYING[3:], *NEW)
    assert len(plan.not_fitting) == 2, "what one album gives back is less than the reserve lacks"
    assert plan.count(Action.REMOVE) == 3
    assert plan.count(Action.WRITE) == 0


drawn = settings(max_examples=400, derandomize=True, deadline=None, database=None)
GROUP = st.builds(
    Candidate,
    st.integers(0, 2),
    st.integers(1, 60),
    st.just(0.0),
    st.frozensets(st.sampled_from("abc"), max_size=2),
    st.just(False),
    st.booleans(),
)


@drawn
@given(
    st.lists(GROUP, max_size=12),
    st.lists(st.booleans(), min_size=3, max_size=3),
    st.integers(-50, 200),
    st.integers(0, 400),
)
def test_nothing_new_is_taken_beyond_the_budget_and_what_stays_only_gives_way_to_what_is_new(
    groups: list[Candidate], ordered: list[bool], budget: int, grace: int
) -> None:
    groups = sorted(groups, key=lambda one: one.clause)
    for one in groups:
        one.lies = one.stays
    rules = [Rule(None, state) for state in ordered]
    judged = fill(groups, rules, budget, 7, grace)
    both = list(zip(groups, judged, strict=True))
    taken = [one for one, found in both if found.verdict is Verdict.TAKEN]
    folders = set().union(*(one.folders for one in taken))
    size = sum(one.bytes for one in taken) + 7 * len(folders)
    new = [one for one in taken if not one.stays]
    if new:
        assert size <= budget
    else:
        assert size <= max(0, budget + grace)
    staying = [one for one in groups if one.stays]
    everywhere = set().union(*(one.folders for one in staying))
    if sum(one.bytes for one in staying) + 7 * len(everywhere) <= budget + grace and not new:
        assert all(found.verdict is Verdict.TAKEN for one, found in both if one.stays)
