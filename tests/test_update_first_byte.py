"""On a card with ample room nothing is built before the first byte; on a fuller one it is."""

from pathlib import Path

import pytest
from update_kit import Place, make_library

from syncd.applier import folder_volume
from syncd.applier.folder_volume import FolderVolume
from syncd.applier.volume import Space
from syncd.planner.capacity import EXFAT_FUSE, Geometry
from syncd.updating import carrying_out


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library with its pressings in the store."""
    place = Place(tmp_path_factory.mktemp("made"))
    make_library(place.music)
    place.new_card()
    place.update()
    return place.base


@pytest.fixture
def deeds(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is built and what is written to the card, in order; the card's rules are known."""
    done: list[str] = []
    build, append, geometry = carrying_out.build, FolderVolume.append, FolderVolume.geometry

    def building(*given):  # type: ignore[no-untyped-def]
        done.append("build")
        return build(*given)

    def appending(volume: FolderVolume, path: str, data: bytes) -> None:
        done.append("write")
        append(volume, path, data)

    def looking(volume: FolderVolume, folders) -> Geometry:  # type: ignore[no-untyped-def]
        done.append("geometry")
        return geometry(volume, folders)

    monkeypatch.setattr(carrying_out, "build", building)
    monkeypatch.setattr(FolderVolume, "append", appending)
    monkeypatch.setattr(FolderVolume, "geometry", looking)
    monkeypatch.setattr(folder_volume, "file_system", lambda fd: EXFAT_FUSE)
    return done


def with_free(monkeypatch: pytest.MonkeyPatch, free: int) -> None:
    def space(volume: FolderVolume) -> Space:
        taken = sum(-(-file.size // 4096) * 4096 for file in volume.listing().files)
        return Space(free - taken, free, 4096)

    monkeypatch.setattr(FolderVolume, "space", space)


def place_of(made_once: Path, base: Path) -> Place:
    place = Place(base)
    place.copy_from(made_once, "music", "store")
    place.new_card()
    return place


def test_with_ample_room_the_first_byte_waits_for_no_catalogue_and_no_folders(
    made_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, deeds: list[str]
) -> None:
    place = place_of(made_once, tmp_path)
    with_free(monkeypatch, 1 << 30)
    outcome = place.update()
    assert deeds[0] == "write"
    assert deeds.count("build") == 1 and "geometry" not in deeds
    with FolderVolume(place.card) as volume:
        assert (outcome.plan.bytes_free_after, outcome.plan.free_is_exact) == (
            volume.space().free,
            True,
        )
    place.check()


def test_with_little_room_it_is_reckoned_to_the_cluster_before_the_first_byte(
    made_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, deeds: list[str]
) -> None:
    place = place_of(made_once, tmp_path)
    with_free(monkeypatch, 1_250_000)
    place.update()
    before = deeds[: deeds.index("write")]
    assert "geometry" in before and "build" in before


def test_a_plan_is_reckoned_to_the_cluster_however_much_room_there_is(
    made_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, deeds: list[str]
) -> None:
    place = place_of(made_once, tmp_path)
    with_free(monkeypatch, 1 << 30)
    place.update()
    place.new_card()
    deeds.clear()
    assert place.plan().steps
    assert deeds == ["geometry", "build"]
