"""An update whose library is not the one that it knows any more says so: another one may do it."""

import shutil
from pathlib import Path

import pytest
from mutagen.id3 import ID3
from PIL import Image
from update_kit import Place, make_library, tag, tone

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


@pytest.mark.parametrize("suffix", ["flac", "mp3"])
def test_masters_that_changed_names_after_the_scan_are_not_taken_for_each_other(
    place: Place, suffix: str
) -> None:
    """Else each would be pressed, or carried over, under the other's hash, and stay so."""
    folder = place.music / "Popular" / "Low Tide"
    if suffix == "mp3":
        (folder / "03.mp3").write_bytes(other_song((folder / "02.mp3").read_bytes()))
        tag(folder / "03.mp3", title="Slack")
    else:
        tone(folder / "04.flac", 900)
        tag(folder / "04.flac", artist="Marnesund Five", album="Low Tide", title="Slack",
            tracknumber="4", genre="Pop")  # fmt: skip
    with LibraryIndex(place.base / "library.db") as index:
        refresh(index)
    one, two = sorted(folder.glob(f"*.{suffix}"))[-2:]
    aside = one.rename(place.base / one.name)
    two.rename(one)
    aside.rename(two)
    outcome, work = updated(place, scanned=False)
    assert work.shop.outdated
    outcome, work = updated(place)
    assert not outcome.plan.left_out and not work.shop.outdated
    place.new_card()
    updated(place)
    afresh = Place(place.base / "afresh")
    afresh.base.mkdir()
    place.music.rename(afresh.music)
    afresh.new_card()
    afresh.update()
    assert {name: data for name, data in place.files().items() if name.endswith(".mp3")} == {
        name: data for name, data in afresh.files().items() if name.endswith(".mp3")
    }


def test_a_cover_that_went_away_after_the_scan_asks_for_another_update(place: Place) -> None:
    """A file without it would bear the mark of one with it, and stay so."""
    cover = place.music / "Popular" / "Low Tide" / "cover.jpg"
    Image.new("RGB", (64, 64), (200, 30, 30)).save(cover, "JPEG")
    with LibraryIndex(place.base / "library.db") as index:
        refresh(index)
    hidden = cover.rename(place.base / cover.name)
    outcome, work = updated(place, scanned=False)
    assert outcome.plan.left_out and work.shop.outdated
    hidden.rename(cover)
    outcome, work = updated(place)
    assert not outcome.plan.left_out and not work.shop.outdated
    songs = [path for path in place.card.rglob("*.mp3") if "Low Tide" in str(path)]
    assert len(songs) == 2
    for song in songs:
        assert ID3(song).getall("APIC")


@pytest.mark.parametrize("what", ["the cover", "the master"])
def test_what_went_away_after_the_scan_takes_no_recording_from_the_card(
    place: Place, what: str
) -> None:
    """A tag changed, the store was cleared, and what the new file is made of is gone."""
    folder = place.music / "Classical" / "Quirin Ostrowald"
    cover = folder / "cover.jpg"
    Image.new("RGB", (64, 64), (200, 30, 30)).save(cover, "JPEG")
    updated(place)
    assert len(list(place.card.rglob("*.mp3"))) == 6
    tag(folder / "02.flac", date="1987")
    with LibraryIndex(place.base / "library.db") as index:
        refresh(index)
    shutil.rmtree(place.store)
    gone = cover if what == "the cover" else folder / "02.flac"
    hidden = gone.rename(place.base / gone.name)
    outcome, work = updated(place, scanned=False)
    assert work.shop.outdated
    assert [Path(item.path).name for item in outcome.plan.left_out] == ["02.flac"]
    left = [path for path in place.card.rglob("*.mp3") if "Ostrowald" in str(path)]
    assert len(left) == 2
    hidden.rename(gone)
    outcome, work = updated(place)
    assert not outcome.plan.left_out and not work.shop.outdated
    assert (outcome.applied.written, outcome.applied.removed) == (1, 0)


def test_a_disk_that_went_away_takes_one_more_plan_and_not_one_for_each_file(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = place.music / "Popular" / "Low Tide"
    for number in range(3, 8):
        data = (folder / "02.mp3").read_bytes()
        (folder / f"{number:02}.mp3").write_bytes(data[:-1] + bytes([number]))  # another song
        tag(folder / f"{number:02}.mp3", title=f"Song {number}", tracknumber=str(number))
    updated(place)
    before = {path: path.read_bytes() for path in place.card.rglob("*.mp3")}
    assert len(before) == 11
    for number in range(2, 8):
        tag(folder / f"{number:02}.mp3", album="High Tide")
    with LibraryIndex(place.base / "library.db") as index:
        refresh(index)
    tried = []
    real = updating.carry_out

    def counted(*all_of_it: object) -> object:
        tried.append(1)
        return real(*all_of_it)  # type: ignore[arg-type]

    monkeypatch.setattr(updating, "carry_out", counted)
    place.music.rename(place.base / "unmounted")
    outcome, work = updated(place, scanned=False)
    assert work.shop.outdated
    assert len(tried) <= 2
    assert any(f"{place.music} is not there any more" in notice for notice in outcome.notices)
    assert sorted(path.read_bytes() for path in place.card.rglob("*.mp3")) == sorted(
        before.values()
    )


def other_song(data: bytes) -> bytes:
    """The same MP3 file but for the last byte of its last frame: another song of the same size."""
    return data[:-1] + bytes([data[-1] ^ 0x55])


def test_a_master_that_was_being_retagged_is_not_taken_for_damaged(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is found damaged is remembered under its hash, whoever has it."""
    song = place.music / "Popular" / "Low Tide" / "01.flac"
    data = song.read_bytes()
    song.write_bytes(data[:-4000])
    outcome, work = updated(place, scanned=False)
    assert outcome.plan.left_out and work.shop.outdated
    song.write_bytes(data)
    outcome, work = updated(place)
    assert not outcome.plan.left_out and not work.shop.outdated


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
