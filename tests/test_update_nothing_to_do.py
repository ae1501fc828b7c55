"""An update with nothing to do touches neither a byte nor a time of the card."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from update_kit import Place, make_library

TWO_S, HOUR_S = 2, 3600


@pytest.fixture(scope="session")
def done_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("idle")
    place = Place(base)
    make_library(place.music)
    place.new_card()
    place.update()
    return base


@pytest.fixture
def place(done_once: Path, tmp_path: Path) -> Place:
    place = Place(tmp_path)
    place.copy_from(done_once, "music", "store", "card")  # another place, and other times
    return place


def seen(card: Path) -> dict[str, tuple[int, int, int, int]]:
    """What can be seen of every file and folder: size, inode, times in ns."""
    found = {}
    for path in [card, *card.rglob("*")]:
        facts = path.stat()
        found[str(path)] = (facts.st_size, facts.st_ino, facts.st_mtime_ns, facts.st_ctime_ns)
    return found


def shift(folder: Path, seconds: Callable[[float], float]) -> None:
    for path in folder.rglob("*"):
        at = seconds(path.stat().st_mtime)
        os.utime(path, (at, at))


def test_nothing_is_written_not_even_times(place: Place) -> None:
    place.update()  # the copied library is looked at once
    before = seen(place.card)
    outcome = place.update()
    assert outcome.plan.steps == ()
    assert seen(place.card) == before


@pytest.mark.parametrize(
    "clock",
    [
        pytest.param(lambda at: at // TWO_S * TWO_S, id="two-second times, as FAT keeps them"),
        pytest.param(lambda at: at + HOUR_S, id="another zone"),
        pytest.param(lambda at: 315_532_800.0, id="no clock: the first day that FAT knows"),
        pytest.param(lambda at: at + 30 * 365 * 24 * HOUR_S, id="a clock far ahead"),
    ],
)
@pytest.mark.parametrize("which", ["card", "music"])
def test_times_that_differ_copy_nothing(
    place: Place, clock: Callable[[float], float], which: str
) -> None:
    place.update()
    shift(getattr(place, which), clock)
    before = seen(place.card)
    outcome = place.update()
    assert outcome.plan.steps == ()
    assert outcome.pressed == 0
    assert seen(place.card) == before
