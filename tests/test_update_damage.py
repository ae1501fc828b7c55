"""Damaged masters and a whole update: found before they reach a card, told, and used if wanted."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from update_kit import Place, make_library

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.reading import read_card
from syncd.applier.verify import verify
from syncd.library.index import LibraryIndex
from syncd.library.scan import scan
from syncd.profile import read_profile, sample_profiles
from syncd.refresh import refresh
from syncd.updating import preparing, workshop
from syncd.updating.values import Progress


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("masters")
    make_library(base / "music")
    return base


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Iterator[Place]:
    place = Place(tmp_path)
    place.copy_from(made, "music")
    place.new_card()
    yield place
    place.check()


def wrong_checksum(path: Path) -> None:
    data = bytearray(path.read_bytes())
    at = data.index(b"fLaC") + 26
    data[at] ^= 1
    path.write_bytes(data)


def names(place: Place) -> list[str]:
    return [name for name in place.files() if name.endswith((".mp3", ".flac"))]


def ostrowald(place: Place) -> Path:
    return place.music / "Classical" / "Quirin Ostrowald"


def test_a_recording_with_a_damaged_movement_is_left_out_whole_and_told(place: Place) -> None:
    wrong_checksum(ostrowald(place) / "02.flac")
    outcome = place.update()
    assert len(names(place)) == 4
    told = {Path(item.path).name: item.reason for item in outcome.plan.left_out}
    assert "checksum is in its header" in told["02.flac"]
    assert "not whole without" in told["01.flac"]
    again = place.update()
    assert (again.pressed, again.applied.written) == (0, 0)
    assert again.plan.left_out == outcome.plan.left_out
    planned = place.plan()
    assert planned.left_out == outcome.plan.left_out


@pytest.mark.parametrize("how", ["cut", "sound"])
def test_what_is_carried_over_is_decoded_once_before_it_is_written(place: Place, how: str) -> None:
    song = place.music / "Popular" / "Low Tide" / "02.mp3"
    if how == "cut":
        data = song.read_bytes()
        song.write_bytes(data[: len(data) // 2] + data[len(data) // 2 + 300 :])
    seen: list[Progress] = []
    outcome = place.update(seen.append)
    checked = [progress.item for progress in seen if progress.stage == "check"]
    assert checked == ["02.mp3"]
    assert len(names(place)) == (5 if how == "cut" else 6)
    reasons = [item.reason for item in outcome.plan.left_out]
    assert [" is damaged at 0:00:00.2: " in reason for reason in reasons] == (
        [True] if how == "cut" else []
    )
    place.new_card()
    seen.clear()
    place.update(seen.append)
    assert not [progress for progress in seen if progress.stage == "check"]


def test_a_flac_card_gets_no_flac_with_a_wrong_checksum(place: Place) -> None:
    place.profile = read_profile(sample_profiles()["mcu-flac16"])
    wrong_checksum(ostrowald(place) / "01.flac")
    outcome = place.update()
    assert len(outcome.plan.left_out) == 2
    assert len(names(place)) == 4


def test_a_damaged_file_is_used_where_the_listener_forgives_it(place: Place) -> None:
    wrong_checksum(ostrowald(place) / "02.flac")
    assert len(place.update().plan.left_out) == 2
    place.forgives = lambda track: track.path.endswith("Ostrowald/02.flac")
    outcome = place.update()
    assert outcome.plan.left_out == ()
    assert len(names(place)) == 6
    # And without that word it goes again, with the rest of its recording.
    place.forgives = None
    assert len(place.update().plan.left_out) == 2
    assert len(names(place)) == 4


def test_damage_that_is_mended_brings_the_recording_back(place: Place) -> None:
    whole = (ostrowald(place) / "02.flac").read_bytes()
    data = bytearray(whole)
    data[len(data) // 2] ^= 0x55
    (ostrowald(place) / "02.flac").write_bytes(data)
    assert len(place.update().plan.left_out) == 2
    (ostrowald(place) / "02.flac").write_bytes(whole)
    assert place.update().plan.left_out == ()
    assert len(names(place)) == 6


def test_a_recording_stays_whole_on_the_card_when_a_movement_becomes_unreadable(
    place: Place,
) -> None:
    place.update()
    before = place.files()
    (ostrowald(place) / "02.flac").write_bytes(b"overwritten with text")
    outcome = place.update()
    assert [Path(item.path).name for item in outcome.plan.left_out] == ["02.flac"]
    assert place.files() == before
    # A new card gets it from the store.
    place.new_card()
    place.update()
    assert len(names(place)) == 6
    # Without that the recording is left out as a whole.
    shutil.rmtree(place.store)
    place.new_card()
    outcome = place.update()
    assert len(names(place)) == 4
    assert {Path(item.path).name for item in outcome.plan.left_out} == {"01.flac", "02.flac"}


@pytest.mark.parametrize("seen", [True, False], ids=["seen as another", "not seen"])
def test_a_repair_whose_pressing_fails_leaves_the_card_as_it_is(
    place: Place, monkeypatch: pytest.MonkeyPatch, seen: bool
) -> None:
    """The store was cleared, and the master is cut off while the repair runs."""
    if not seen:
        monkeypatch.setattr(workshop, "still_holds", lambda track: True)
    place.update()
    shutil.rmtree(place.store)
    [second] = [path for path in place.card.rglob("02*.mp3") if "Ostrowald" in str(path)]
    data = bytearray(second.read_bytes())
    data[len(data) // 2] ^= 1
    second.write_bytes(data)
    before = place.files()
    press_all = preparing.press_all

    def cut_off(*items: Any, **how: Any) -> Any:
        master = ostrowald(place) / "02.flac"
        master.write_bytes(master.read_bytes()[:3000])
        return press_all(*items, **how)

    monkeypatch.setattr(preparing, "press_all", cut_off)
    found, outcome = place.repair()
    assert len(found.faults) == 1
    assert outcome.unmended == (second.relative_to(place.card).as_posix(),)
    told = [item.reason for item in outcome.plan.left_out] if seen else outcome.notices
    assert any("02.flac cannot be pressed" in reason for reason in told)
    assert {path: data for path, data in place.files().items() if "SYNCD" not in path} == {
        path: data for path, data in before.items() if "SYNCD" not in path
    }
    with FolderVolume(place.card) as volume:
        reading = read_card(volume)
        assert reading.state.foreign == ()
        assert len(verify(volume, reading).faults) == 1, "it is told the next time, too"
    second.write_bytes(before_damage(data))


def before_damage(data: bytearray) -> bytes:
    """What the card held, so that the check behind each test finds it whole."""
    data[len(data) // 2] ^= 1
    return bytes(data)


def test_an_unreadable_file_that_is_deleted_leaves_the_card(place: Place) -> None:
    place.update()
    (ostrowald(place) / "02.flac").write_bytes(b"overwritten with text")
    place.update()
    assert len(names(place)) == 6
    (ostrowald(place) / "02.flac").unlink()
    assert place.update().plan.left_out == ()
    assert len(names(place)) == 5


def test_the_index_has_an_unreadable_track_still_after_it_is_opened_again(place: Place) -> None:
    with LibraryIndex(place.base / "library.db") as index:
        index.add_root(place.music)
        refresh(index)
        before = index.snapshot().tracks
    (ostrowald(place) / "02.flac").write_bytes(b"overwritten with text")
    with LibraryIndex(place.base / "library.db") as index:
        assert scan(index).unreadable == 1
    with LibraryIndex(place.base / "library.db") as index:
        assert index.snapshot().tracks == before
        assert [item.path for item in index.unreadable()] == [str(ostrowald(place) / "02.flac")]
