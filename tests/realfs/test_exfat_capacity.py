"""On exFAT by exfat-fuse: what a plan says will be free is what statvfs says afterwards."""

import contextlib
import os
import random
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from card_world import SCENES, Scene, library, movement, profile, retagged, song
from exfat_card import ExfatCard, no_exfat
from ordered_world import Library, entries_in_order, ordered_plan, ordered_update, shuffled
from reckoned_world import reckoned_update
from update_kit import Place, make_library

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import new_identity, write_identity
from syncd.planner.capacity import EXFAT_FUSE
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.plan import Action

REASON = no_exfat()
pytestmark = pytest.mark.skipif(REASON is not None, reason=REASON or "")


@contextlib.contextmanager
def card_of(base: Path, size: int, cluster: str) -> Iterator[ExfatCard]:
    card = ExfatCard(base / "card.img", base / "card", size, "-c", cluster)
    try:
        yield card
        card.take_out()
        card.fsck()
    finally:
        card.close()


@contextlib.contextmanager
def mounted(base: Path, size: int, cluster: str) -> Iterator[Path]:
    with card_of(base, size, cluster) as card:
        yield card.point


def free(place: Path) -> int:
    facts = os.statvfs(place)
    return facts.f_bavail * facts.f_frsize


@pytest.mark.parametrize("name", ["add", "change places", "playlists", "in the way", "remove all"])
def test_what_a_plan_says_will_be_free_on_exfat_is_free(tmp_path: Path, name: str) -> None:
    scene = SCENES[name]
    with mounted(tmp_path, 16 << 20, "4K") as place, FolderVolume(place) as volume:
        assert volume.geometry([""]).system is EXFAT_FUSE
        volume.write("SYNCD/card.json", [b"{}"])
        for path, data in scene.foreign.items():
            volume.write(path, [data])
        for wanted, wanted_profile in _updates(scene):
            told = reckoned_update(volume, wanted, wanted_profile)
            assert (told.free_after, told.exact) == (free(place), True)


@pytest.mark.parametrize("room", [1_100_000, 1_130_000, 1_160_000, 1_250_000])
def test_a_whole_update_of_a_nearly_full_card_leaves_what_it_says(
    tmp_path: Path, made_once: Path, room: int
) -> None:
    home = Place(tmp_path)
    shutil.copytree(made_once / "music", home.music)
    shutil.copytree(made_once / "store", home.store)
    with mounted(tmp_path, 16 << 20, "4K") as place:
        with FolderVolume(place) as volume:
            write_identity(volume, new_identity("KITCHEN"))
            volume.write("filler.bin", [bytes(free(place) - room)])
            volume.barrier()
        planned = home.plan()  # reckons always: an update with ample room would only measure
        assert planned.free_is_exact and planned.steps
        outcome = home.update()
        assert outcome.plan.free_is_exact
        assert planned.bytes_free_after == outcome.plan.bytes_free_after == free(place)
        assert bool(outcome.plan.not_fitting) == (room < 1_150_000)
        assert planned.not_fitting == outcome.plan.not_fitting
        assert outcome.plan.bytes_free_after >= RESERVE_BYTES
        assert home.update().plan.steps == ()
        (place / "photos.bin").write_bytes(bytes(free(place) - 8192))
        full = home.update().plan
        assert full.steps == (), "what lies there stays, whatever became of the reserve"
        told = [(item.title, "reserve of 1.0 MB" in item.reason) for item in full.not_fitting]
        assert told == [(item.title, True) for item in planned.not_fitting]


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library with its pressings in the store."""
    home = Place(tmp_path_factory.mktemp("made"))
    make_library(home.music)
    home.new_card()
    home.update()
    return home.base


def _updates(scene: Scene):  # type: ignore[no-untyped-def]
    if scene.before is not None:
        yield scene.before, scene.profile_before
    yield scene.after, scene.profile_after
    yield scene.after, scene.profile_after


def test_folders_of_several_clusters_are_reckoned_exactly_or_said_to_be_about(
    tmp_path: Path,
) -> None:
    draw = random.Random(7)
    flat = profile(work="{composer}/{number} {movement}, which has a rather long name of its own")
    whole = [
        song("Band", f"Album {n // 40}", n, f"Song {n} " + "x" * draw.randint(0, 80), size=3000)
        for n in range(120)
    ] + [movement("Sonata", n, "y" * draw.randint(1, 90), size=2000) for n in range(1, 60)]
    exact, offs = [], []
    with mounted(tmp_path, 24 << 20, "512") as place, FolderVolume(place) as volume:
        volume.write("SYNCD/card.json", [b"{}"])
        for _ in range(4):
            some = [entry for entry in whole if draw.random() < 0.6]
            some = [
                retagged(entry, title=entry.track.title + " again")
                if draw.random() < 0.2
                else entry
                for entry in some
            ]
            told = reckoned_update(volume, library(*some), flat)
            exact.append(told.exact)
            offs.append(abs(told.free_after - free(place)))
            assert offs[-1] <= (0 if told.exact else 16 * 512)
    assert offs[0] == 0, "in new folders the model knows every entry"
    assert not all(exact), "exfat-fuse does not tell where the gaps are"


def test_directories_come_in_playing_order_as_another_mount_lists_them(tmp_path: Path) -> None:
    """exfat-fuse lists a folder that it has just read as its entries stand."""
    draw = random.Random(5)
    whole: Library = [
        song(f"Band {n % 3}", f"Album {n // 12}", n, "Song " + "x" * draw.randint(1, 60), size=900)
        for n in range(60)
    ] + [movement(f"Sonata {n // 4}", n % 4 + 1, "y" * draw.randint(1, 60)) for n in range(24)]
    with card_of(tmp_path, 16 << 20, "4K") as card:
        place = card.point
        for turn in range(5):
            with FolderVolume(place) as volume:
                if turn == 0:
                    volume.write("SYNCD/card.json", [b"{}"])
                some = shuffled(whole, draw)
                plan, done = ordered_update(volume, some, profile())
                again, _ = ordered_plan(volume, some, profile())
                assert again.steps == ()
            assert done.written == plan.count(Action.WRITE), "renames put it right, not copies"
            card.take_out()
            card.plug_in()
            wanted = entries_in_order([placement.path for placement in plan.end])
            for folder, names in wanted.items():
                lying = next(
                    (at for at in place.rglob("*") if str(at.relative_to(place)).lower() == folder),
                    place,
                )
                listed = [name for name in os.listdir(lying) if name != "SYNCD"]
                assert listed == names, folder
