"""Repairing a card: the catalogue names nothing that is damaged once work on it begins."""

import random

import pytest
from card_world import (
    assert_same_end,
    built,
    dressed,
    end_of,
    library,
    make,
    movement,
    named_by_catalogue,
    profile,
    song,
    update,
)
from counting_volume import CountingVolume, PowerCut, Severity

from syncd.applier.apply import apply
from syncd.applier.reading import read_card
from syncd.applier.verify import disbelieved, verify
from syncd.planner.plan import Action, Plan
from syncd.planner.planning import make_plan

MUSIC = library(
    *(song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2, 3)),
    *(movement("Sonata", n, t) for n, t in ((1, "Allegro"), (2, "Lento"))),
)


def whole() -> CountingVolume:
    volume = CountingVolume()
    update(volume, MUSIC, profile())
    return volume


def damaged() -> tuple[CountingVolume, list[str]]:
    """A card with two damaged files, and their paths."""
    volume = whole()
    paths = [str(entry.path) for entry in read_card(volume).state.entries][1:3]
    for path in paths:
        data = volume.content()[path]
        volume.put(path, data[:500] + bytes([data[500] ^ 1]) + data[501:])
    return volume, paths


def repair(volume: CountingVolume) -> Plan:
    reading = read_card(volume)
    reading = disbelieved(reading, verify(volume, reading))
    plan = make_plan(MUSIC, reading.state, profile())
    with built() as build:
        apply(plan, volume, reading, dressed, build)
    return plan


def test_what_is_damaged_leaves_the_catalogue_before_it_is_replaced() -> None:
    volume, paths = damaged()
    plan = repair(volume)
    publishing = [step for step in plan.steps if step.action is Action.PUBLISH]
    assert len(publishing) == 2
    assert not plan.staying & set(paths)
    assert_same_end(end_of(volume), end_of(whole()))


@pytest.mark.parametrize("severity", list(Severity))
def test_a_power_cut_in_a_repair_leaves_no_catalogue_with_a_file_that_is_gone(
    severity: Severity,
) -> None:
    trial, paths = damaged()
    begin = trial.changes
    repair(trial)
    good = {entry.path: entry for entry in read_card(whole()).state.entries}
    contents = whole().content()
    for at in range(begin, trial.changes):
        volume, _ = damaged()
        bad = {path: volume.content()[path] for path in paths}
        volume.cut_at = at
        with pytest.raises(PowerCut):
            repair(volume)
        left = volume.after_cut(severity, seed=random.Random(at).randrange(1000))
        named = named_by_catalogue(left)
        assert named is not None
        found = left.content()
        for path, size in named:
            assert size == good[path].size  # type: ignore[index]
            # As it was before anybody touched it, or whole: never gone, never half there.
            assert found[path] in (contents[path], bad.get(path))
        repair(left)
        assert_same_end(end_of(left), end_of(whole()))


def test_a_file_that_the_listener_removed_is_put_back_and_the_card_ends_alike() -> None:
    volume = whole()
    lost = str(read_card(volume).state.entries[0].path)
    volume.remove(lost)
    plan, _ = make(volume, MUSIC, profile())
    assert any(step.target == lost for step in plan.steps)
    update(volume, MUSIC, profile())
    assert_same_end(end_of(volume), end_of(whole()))
