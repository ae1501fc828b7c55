"""A profile's own layouts: what stands around the fields, and what is left where one is empty."""

import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "applier"))

import pytest
from card_world import library, movement, profile, song

from syncd.model import CataloguedTrack
from syncd.planner.card_state import CardState
from syncd.planner.planning import make_plan


@pytest.mark.parametrize(
    ("layout", "path"),
    [
        ("{artist}/{album}/{number} {title}", "Band/Low Tide/03 Ebb.mp3"),
        ("100% {artist}/%s {title}", "100% Band/%s Ebb.mp3"),
        ("all/{title}", "all/Ebb.mp3"),
        # In a folder, what differs from file to file is empty, and so are its gaps.
        ("{album} - {disc} - {number}/{title}", "Low Tide/Ebb.mp3"),
        ("{title}", "Ebb.mp3"),
    ],
)
def test_a_layout_is_filled_as_it_is_written(layout: str, path: str) -> None:
    one = profile(root="")
    card = one.card.model_copy(update={"popular_layout": layout})
    plan = make_plan(
        library(song("Band", "Low Tide", 3, "Ebb")),
        CardState(bytes_free=1 << 40),
        one.model_copy(update={"card": card}),
    )
    assert [placement.path for placement in plan.end] == [path]


def test_a_recording_numbered_in_part_is_named_and_ordered_by_its_places() -> None:
    # An opera's overture has no number; what follows it has those of the score.
    entries = [
        numbered(movement("Sarn", track, title), number)
        for track, (title, number) in enumerate([("Overture", None), ("Duet", 1), ("Aria", 2)], 1)
    ]
    plan = make_plan(library(*entries[::-1]), CardState(bytes_free=1 << 40), profile())
    names = [placement.path.rpartition("/")[2] for placement in plan.end]
    assert names == ["01 Overture.mp3", "02 Duet.mp3", "03 Aria.mp3"]


def test_a_recording_numbered_throughout_is_named_by_its_numbers() -> None:
    entries = [
        numbered(movement("Sarn", track, title), number)
        for track, (title, number) in enumerate([("Aria", 7), ("Duet", 3)], 1)
    ]
    plan = make_plan(library(*entries), CardState(bytes_free=1 << 40), profile())
    names = [placement.path.rpartition("/")[2] for placement in plan.end]
    assert names == ["03 Duet.mp3", "07 Aria.mp3"]


def numbered(entry: CataloguedTrack, number: int | None) -> CataloguedTrack:
    assert entry.identity.movement is not None
    changed = replace(entry.identity.movement, number=number)
    return replace(entry, identity=replace(entry.identity, movement=changed))
