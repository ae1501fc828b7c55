"""A card that is full to within a cluster: what is cut there ends as what was not cut (I3)."""

import os
from collections.abc import Iterator

import pytest
from card_world import assert_foreign_stays, assert_same_end, assert_whole_or_absent, end_of
from counting_volume import CountingVolume, PowerCut, Severity
from edge_world import EDGES, Edge, clone, least, whole_update, with_free

from syncd.errors import CardFull
from syncd.planner.costing import RESERVE_BYTES

DEEP = os.environ.get("SYNCD_DEEP") == "1"
SEEDS = 12 if DEEP else 1


def settled(volume: CountingVolume, edge: Edge) -> int:
    """Update until there is nothing to do; how often that was."""
    for times in range(4):
        if not whole_update(volume, edge.after, edge).steps:
            return times
    raise AssertionError("updates come to no end")


def lefts(volume: CountingVolume, changes: int) -> Iterator[CountingVolume]:
    yield volume.after_cut(Severity.ALL)
    yield volume.after_cut(Severity.BARRIER)
    for seed in range(SEEDS):
        yield volume.after_cut(Severity.ANY, changes * 1000 + seed)


@pytest.mark.parametrize("clusters", [0, 1, -1, -2] if DEEP else [0, -1])
@pytest.mark.parametrize("name", EDGES)
def test_a_cut_at_the_edge_of_the_room_changes_nothing_of_what_is_chosen(
    name: str, clusters: int
) -> None:
    edge = EDGES[name]
    free = least(edge) + clusters * edge.cluster
    start = with_free(edge, free).card(16 << 20)
    foreign = {"PHOTOS.BIN": start.content()["PHOTOS.BIN"]}
    clean = clone(start)
    try:
        plan = whole_update(clean, edge.after, edge)
    except CardFull:
        assert clusters < 0
        assert end_of(clean).files == end_of(start).files, "it is said before anything is written"
        return
    assert bool(plan.not_fitting) == (clusters < 0)
    if plan.keeps_reserve:
        assert clean.space().free >= RESERVE_BYTES
    # What went may come again, once, where its folder takes a cluster less when it is made anew.
    steps = clean.changes
    assert settled(clean, edge) <= (clusters < 0), "what was chosen once is chosen again"
    wanted = end_of(clean)
    done = 0
    for changes in range(0, steps, 1 if DEEP else 3):
        volume = clone(start)
        volume.cut_at = volume.changes + changes
        with pytest.raises(PowerCut):
            whole_update(volume, edge.after, edge)
        for number, left in enumerate(lefts(volume, changes)):
            where = f"cut before {clean.log[changes]!r} ({changes}), left {number}"
            try:
                assert_whole_or_absent(left)
                whole_update(left, edge.after, edge)
                settled(left, edge)
                assert_whole_or_absent(left)
                assert_foreign_stays(left, foreign)
                assert_same_end(end_of(left), wanted)
                done += 1
            except Exception as error:
                raise AssertionError(where) from error
    assert done > 30
