"""The words of plans: sizes as people say them, reasons kept apart, why a file goes."""

import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import library, make, movement, profile, song, update
from counting_volume import CountingVolume

from syncd.applier.reading import read_card
from syncd.model import CataloguedTrack
from syncd.planner.amounts import amount, needs_and_left
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.plan import Action, Plan
from syncd.planner.planning import make_plan
from syncd.planner.programme import Programme

TIDE = [song("Marnesund Five", "Low Tide", n, f"Song {n}", size=100_000) for n in (1, 2, 3)]
TRIO = [movement("Trio", n, f"Part {n}", size=100_000) for n in (1, 2)]


def removals(plan: Plan) -> dict[str, str]:
    return {step.target: step.reason for step in plan.steps if step.action is Action.REMOVE}


def filled(*entries: CataloguedTrack, capacity: int = 8 << 20) -> CountingVolume:
    volume = CountingVolume(capacity=capacity)
    volume.put("SYNCD/card.json", b"{}")
    update(volume, library(*entries), profile())
    return volume


def test_a_need_is_told_in_units_that_people_read() -> None:
    assert needs_and_left(23_800_164, 67_692, 1 << 20) == (
        "It needs 23.8 MB, and 67.7 kB are left beside the reserve of 1.0 MB."
    )
    assert needs_and_left(999, 0, 1 << 20) == (
        "It needs 999 bytes, and 0 bytes are left beside the reserve of 1.0 MB."
    )
    assert amount(2_500_000_000) == "2.5 GB"


def test_a_need_that_looks_like_what_is_left_is_told_to_the_byte() -> None:
    told = needs_and_left(1_000_049, 999_999, 0)
    assert told.startswith("It needs 1.0 MB, and 1000.0 kB are left")
    told = needs_and_left(5_000_400, 5_000_100, 0)
    assert told.startswith("It needs 5,000,400 bytes, and 5,000,100 bytes are left")


def test_music_that_lost_its_room_is_not_called_unwanted() -> None:
    volume = filled(*TIDE)
    state = read_card(volume).state
    volume.put("mine.bin", b"x" * (state.bytes_free - RESERVE_BYTES))
    first = Programme.model_validate({"clause": [{"kind": "work"}, {"everything": True}]})
    plan = make_plan(library(*TIDE, *TRIO), read_card(volume).state, profile(), first)
    assert [item.title for item in plan.not_fitting] == ["Marnesund Five: Low Tide"]
    assert removals(plan)
    assert set(removals(plan).values()) == {"It has no room on this card any more."}
    assert re.search(r"needs [\d.]+ [kM]B, and ", plan.not_fitting[0].reason)


def test_a_file_that_goes_because_of_a_new_title_is_not_called_unwanted() -> None:
    volume = filled(*TIDE)
    renamed = song(
        "Marnesund Five",
        "Low Tide",
        3,
        "Another",
        audio="Marnesund Five/Low Tide/Song 3",
        size=100_000,
    )
    assert renamed.track.audio_hash == TIDE[2].track.audio_hash
    gone = removals(make(volume, library(*TIDE[:2], renamed), profile())[0])
    assert set(gone.values()) == {"Another file with the same audio takes its place."}
    dropped = removals(make(volume, library(*TIDE[:2]), profile())[0])
    assert set(dropped.values()) == {"It is not wanted on this card any more."}
