"""The power goes at every change of a card; then I1 to I3 of the rules, on a card in memory."""

import os
import random

import pytest
from card_world import (
    SCENES,
    Scene,
    assert_foreign_stays,
    assert_whole_or_absent,
    end_of,
    make,
)
from counting_volume import CountingVolume, PowerCut, Severity

DEEP = os.environ.get("SYNCD_DEEP") == "1"
SEEDS = 40 if DEEP else 3
PAIRS = 400 if DEEP else 25


def cut_after(volume: CountingVolume, scene: Scene, changes: int) -> None:
    volume.cut_at = volume.changes + changes
    with pytest.raises(PowerCut):
        scene.update(volume)


def lefts(volume: CountingVolume, changes: int) -> list[CountingVolume]:
    """What a cut now may leave."""
    left = [volume.after_cut(Severity.ALL), volume.after_cut(Severity.BARRIER)]
    left += [volume.after_cut(Severity.ANY, changes * 1000 + seed) for seed in range(SEEDS)]
    return left


@pytest.mark.parametrize("name", SCENES)
def test_an_update_that_was_done_leaves_nothing_to_do(name: str) -> None:
    scene = SCENES[name]
    volume = scene.volume()
    scene.update(volume)
    assert_whole_or_absent(volume, scene.case_blind)
    assert_foreign_stays(volume, scene.foreign)
    plan, _ = make(volume, scene.after, scene.profile_after)
    assert plan.steps == ()
    before = volume.changes
    scene.update(volume)
    assert volume.changes == before


@pytest.mark.parametrize("name", SCENES)
def test_a_power_cut_at_any_change_keeps_every_promise(name: str) -> None:
    scene = SCENES[name]
    start = scene.volume()
    clean = scene.updated(start)
    wanted = end_of(clean)
    for changes in range(clean.changes):
        volume = Scene.clone(start)
        cut_after(volume, scene, changes)
        for number, left in enumerate(lefts(volume, changes)):
            where = f"cut before {clean.log[changes]!r} ({changes}), left {number}"
            try:
                scene.assert_ends_alike(left, wanted)
            except Exception as error:
                raise AssertionError(where) from error


@pytest.mark.parametrize("name", SCENES)
def test_two_power_cuts_one_after_the_other_keep_every_promise(name: str) -> None:
    scene = SCENES[name]
    start = scene.volume()
    clean = scene.updated(start)
    wanted = end_of(clean)
    draw = random.Random(name)
    for _ in range(PAIRS):
        first = draw.randrange(clean.changes)
        volume = Scene.clone(start)
        cut_after(volume, scene, first)
        severity = draw.choice(list(Severity))
        volume = volume.after_cut(severity, draw.random().__hash__())
        trial = scene.updated(volume)
        if not trial.changes:
            continue
        second = draw.randrange(trial.changes)
        cut_after(volume, scene, second)
        assert_foreign_stays(volume, scene.foreign)
        left = volume.after_cut(draw.choice(list(Severity)), draw.random().__hash__())
        try:
            scene.assert_ends_alike(left, wanted)
        except Exception as error:
            raise AssertionError(f"cut at {first} ({severity}), then at {second}") from error
