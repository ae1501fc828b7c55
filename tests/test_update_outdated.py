"""An update whose library is not the one that it knows any more says so: another one may do it."""

from pathlib import Path

import pytest
from update_kit import Place, make_library

from syncd.applier.locked import open_volume
from syncd.library.index import LibraryIndex
from syncd.refresh import refresh
from syncd.transcoder.store import Store
from syncd.updating import updater as updating
from syncd.updating.updater import Updater
from syncd.updating.values import Outcome, Target
from syncd.updating.workshop import Workshop


@pytest.fixture
def place(tmp_path: Path) -> Place:
    made = Place(tmp_path)
    make_library(made.music)
    made.new_card()
    with LibraryIndex(made.base / "library.db") as index:
        index.add_root(made.music)
        refresh(index)
    return made


def updated(place: Place, *, scanned: bool = True) -> tuple[Outcome, Updater]:
    with LibraryIndex(place.base / "library.db") as index, Store(place.store) as store:
        if scanned:
            refresh(index)
        work = place.updater(index, store)
        with open_volume(place.card, "KITCHEN") as volume:
            return work.update(Target(volume, place.profile)), work


@pytest.mark.parametrize("name", ["01.flac", "02.mp3"], ids=["encoded", "carried over"])
def test_a_master_that_went_away_after_the_scan_asks_for_another_update(
    place: Place, name: str
) -> None:
    song = place.music / "Popular" / "Low Tide" / name
    hidden = song.rename(place.base / name)
    outcome, work = updated(place, scanned=False)
    assert outcome.plan.left_out and work.shop.outdated
    hidden.rename(song)
    outcome, work = updated(place)
    assert not outcome.plan.left_out and not work.shop.outdated
    assert len(list(place.card.rglob("*.mp3"))) == 6


def test_a_master_that_cannot_be_pressed_asks_for_none(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    song = place.music / "Popular" / "Low Tide" / "01.flac"
    data = bytearray(song.read_bytes())
    data[-4000:] = bytes(4000)
    song.write_bytes(data)
    outcome, work = updated(place)
    assert outcome.plan.left_out and not work.shop.outdated


def test_a_pressing_that_went_out_of_the_store_meanwhile_asks_for_another_update(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = updating.carry_out

    def trimmed_before(shop: Workshop, *more: object) -> object:
        monkeypatch.setattr(updating, "carry_out", real)
        shop.store.trim(0)
        return real(shop, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(updating, "carry_out", trimmed_before)
    outcome, work = updated(place)
    assert outcome.plan.left_out and work.shop.outdated
    outcome, work = updated(place)
    assert not outcome.plan.left_out and not work.shop.outdated
