"""An empty folder of the listener where a file should go stays, and the file goes beside it."""

from pathlib import Path

import pytest
from card_world import library, make, profile, song, update
from counting_volume import CountingVolume

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.reading import read_card

MUSIC = library(*(song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)))


@pytest.fixture
def wished() -> str:
    """Where the first song goes on an empty card."""
    plan, _ = make(CountingVolume(), MUSIC, profile())
    return str(plan.end[0].path)


@pytest.mark.parametrize("blind", [False, True])
def test_the_folder_stays_and_the_plan_says_that_it_is_in_the_way(wished: str, blind: bool) -> None:
    volume = CountingVolume(case_blind=blind)
    folder = wished.upper() if blind else wished
    volume.put_folder(folder)
    plan, _ = update(volume, MUSIC, profile())
    assert folder in plan.foreign
    assert folder in volume.empty_folders()
    assert len(read_card(volume).state.entries) == 2
    again, _ = make(volume, MUSIC, profile())
    assert not again.steps


def test_a_real_folder_ends_like_the_card_in_memory(wished: str, tmp_path: Path) -> None:
    (tmp_path / wished).mkdir(parents=True)
    with FolderVolume(tmp_path) as volume:
        assert volume.listing().empty_folders == [wished]
        update(volume, MUSIC, profile())
        assert (tmp_path / wished).is_dir()
        assert len(list(tmp_path.rglob("*.mp3"))) == 3
        plan, _ = make(volume, MUSIC, profile())
        assert not plan.steps


def test_an_empty_folder_that_an_album_may_have_is_used(wished: str) -> None:
    volume = CountingVolume()
    volume.put_folder(wished.rpartition("/")[0])
    plan, _ = update(volume, MUSIC, profile())
    assert not plan.foreign
    assert read_card(volume).state.entries[0].path == wished
