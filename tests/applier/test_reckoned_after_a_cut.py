"""Free bytes that are reckoned when an update goes on: nothing is called exact that a cut may hide.

How far that is so on FAT32 by its driver is in ``tests/realfs/test_cuts_on_fat.py``.
"""

import pytest
from card_world import SCENES, built, dressed, make, update
from counting_volume import CountingVolume, PowerCut, Severity

from syncd.applier.apply import apply, sweep
from syncd.applier.reading import read_card
from syncd.applier.reckoning import folders_met, reckon
from syncd.planner.capacity import FAT32

SCENE = SCENES["all at once"]


def cut_at(changes: int) -> CountingVolume:
    """The card after a cut, all that was done before it on the card."""
    volume = CountingVolume(system=FAT32, cluster=512, case_blind=True)
    volume.put("SYNCD/card.json", b"{}")
    assert SCENE.before is not None
    update(volume, SCENE.before, SCENE.profile_before)
    volume.cut_at = volume.changes + changes
    with pytest.raises(PowerCut):
        update(volume, SCENE.after, SCENE.profile_after)
    return volume.after_cut(Severity.ALL)


def all_changes() -> range:
    volume = CountingVolume(system=FAT32, cluster=512, case_blind=True)
    volume.put("SYNCD/card.json", b"{}")
    assert SCENE.before is not None
    update(volume, SCENE.before, SCENE.profile_before)
    before = volume.changes
    update(volume, SCENE.after, SCENE.profile_after)
    return range(volume.changes - before)


def test_what_is_swept_away_has_its_room_back_before_the_card_is_planned_for() -> None:
    """What is removed from FAT takes its room until a barrier has passed."""
    emptied = 0
    for changes in all_changes():
        volume = cut_at(changes)
        if not sweep(volume, read_card(volume)):
            continue
        emptied += any(done.startswith("rmdir") for done in volume.log)
        assert volume.log[-1] == "barrier"
        removed = [at for at, done in enumerate(volume.log) if done.startswith("rmdir")]
        assert all(at < len(volume.log) - 1 for at in removed)
    assert emptied > 5, "else nothing was tried"


def test_what_is_free_after_an_update_that_goes_on_is_called_about_and_is_right_all_the_same() -> (
    None
):
    """The model sweeps as the update does, whether or not that was done before planning."""
    exact = about = 0
    for changes in all_changes():
        told = []
        for swept in (True, False):
            volume = cut_at(changes)
            if swept:
                sweep(volume, read_card(volume))
            plan, reading = make(volume, SCENE.after, SCENE.profile_after)
            if not plan.steps:
                continue
            geometry = volume.geometry(folders_met(plan, reading))
            with built() as build:
                found = reckon(plan, geometry, reading, build)
                apply(plan, volume, reading, dressed, build)
            told.append(found.free_after)
            assert found.exact == (not reading.cut_short)
            exact += found.exact
            about += not found.exact
        assert len(set(told)) <= 1, "a plan says what the update will say"
    assert about > 20 and exact >= 2
