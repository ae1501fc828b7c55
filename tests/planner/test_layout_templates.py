"""A profile's own layouts: what stands around the fields, and what is left where one is empty."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "applier"))

import pytest
from card_world import library, profile, song

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
