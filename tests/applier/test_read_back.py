"""New files are read back before a catalogue names them; what differs is written once more."""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from card_world import (
    assert_same_end,
    assert_whole_or_absent,
    built,
    dressed,
    end_of,
    library,
    make,
    movement,
    named_by_catalogue,
    profile,
    song,
    update,
)
from counting_volume import CountingVolume
from failing_volumes import BadSectorVolume, FlippingVolume, LyingVolume

from syncd.applier import uncached
from syncd.applier.applied import Applied
from syncd.applier.apply import apply
from syncd.applier.folder_volume import FolderVolume
from syncd.applier.reading import read_card
from syncd.applier.verify import verify
from syncd.applier.volume import Volume
from syncd.errors import CardFailing
from syncd.model import CardPath, LibrarySnapshot

SONGS = library(*(song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2, 3)))
MORE = library(
    *SONGS.tracks, *(movement("Sonata", n, t) for n, t in ((1, "Allegro"), (2, "Lento")))
)


def aside(path: str) -> bool:
    return path.startswith("SYNCD/incoming/")


def updated(
    volume: Volume,
    snapshot: LibrarySnapshot,
    *,
    read_back: bool = True,
    compared: Callable[[CardPath, int], None] | None = None,
) -> Applied:
    plan, reading = make(volume, snapshot, profile())
    with built() as build:
        return apply(plan, volume, reading, dressed, build, read_back=read_back, compared=compared)


def good_end(*snapshots: LibrarySnapshot) -> CountingVolume:
    volume = CountingVolume()
    for snapshot in snapshots:
        update(volume, snapshot, profile())
    return volume


def test_all_new_files_are_read_back_and_no_others() -> None:
    volume = good_end(SONGS)
    read: list[str] = []
    done = updated(volume, MORE, compared=lambda path, size: read.append(path))
    new = {e.path for e in read_card(volume).state.entries} - {
        e.path for e in read_card(good_end(SONGS)).state.entries
    }
    assert len(new) == 2
    assert set(read) == new
    assert (done.read_back, done.from_memory, done.mended) == (2, 0, 0)


def test_reading_back_costs_no_barrier_and_no_byte() -> None:
    with_it, without = CountingVolume(), CountingVolume()
    first = updated(with_it, MORE)
    second = updated(without, MORE, read_back=False)
    assert with_it.barriers == without.barriers
    assert first.bytes_written == second.bytes_written
    assert with_it.log == without.log
    assert (second.read_back, second.from_memory) == (0, 0)


def test_nothing_takes_its_place_before_all_was_read_back() -> None:
    volume = CountingVolume()
    seen: list[list[str]] = []
    updated(volume, MORE, compared=lambda path, size: seen.append(list(volume.content())))
    assert len(seen) == 5
    assert not [path for listed in seen for path in listed if path.startswith("Music/")]


def test_a_bit_that_flips_once_is_mended_and_the_card_ends_alike() -> None:
    volume = FlippingVolume(aside, times=1)
    done = updated(volume, MORE)
    assert done.mended == 1
    assert done.written == 5
    assert_whole_or_absent(volume)
    assert_same_end(end_of(volume), end_of(good_end(MORE)))


def test_without_reading_back_the_flipped_bit_stays_and_verify_finds_it() -> None:
    volume = FlippingVolume(aside, times=1)
    updated(volume, MORE, read_back=False)
    found = verify(volume, read_card(volume))
    assert len(found.faults) == 1
    assert found.failing


def test_a_file_that_cannot_be_read_back_is_written_once_more() -> None:
    volume = BadSectorVolume(times=1)
    assert updated(volume, MORE).mended == 1
    assert_same_end(end_of(volume), end_of(good_end(MORE)))


@pytest.mark.parametrize("times", [2, 100])
def test_a_card_that_fails_twice_is_told_to_be_replaced_and_names_nothing_new(times: int) -> None:
    volume = FlippingVolume(aside, times=0)
    update(volume, SONGS, profile())
    before = named_by_catalogue(volume)
    volume.hits, volume.times = aside, times
    # Twice: one new file, when it is written first and when it is written again.
    snapshot = library(*SONGS.tracks, song("A", "B", 1, "C")) if times == 2 else MORE
    with pytest.raises(CardFailing, match=r"Replace the card"):
        updated(volume, snapshot)
    assert named_by_catalogue(volume) == before
    assert_whole_or_absent(volume)
    volume.times = 0
    updated(volume, snapshot)
    assert_same_end(end_of(volume), end_of(good_end(SONGS, snapshot)))


@pytest.mark.parametrize("own", ["SYNCD/cat-", "SYNCD/manifest.new", "SYNCD/manifest.gz"])
def test_our_own_files_are_read_back_too(own: str) -> None:
    volume = FlippingVolume(lambda path: path.startswith(own), times=1)
    updated(volume, MORE)
    assert_same_end(end_of(volume), end_of(good_end(MORE)))
    failing = FlippingVolume(lambda path: path.startswith(own), times=100)
    with pytest.raises(CardFailing, match=own):
        updated(failing, MORE)


def test_a_catalogue_that_cannot_be_kept_leaves_the_old_one_in_force() -> None:
    volume = FlippingVolume(lambda path: path.startswith("SYNCD/cat-"), times=0)
    update(volume, SONGS, profile())
    before = named_by_catalogue(volume)
    volume.times = 100
    with pytest.raises(CardFailing):
        updated(volume, MORE)
    assert named_by_catalogue(volume) == before
    assert_whole_or_absent(volume)


def test_a_stop_while_reading_back_ends_alike_and_writes_nothing_twice() -> None:
    for at in range(1, 6):
        volume = CountingVolume()
        count = 0

        def stop(path: CardPath, size: int, at: int = at) -> None:
            nonlocal count
            count += 1
            if count == at:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            updated(volume, MORE, compared=stop)
        again = updated(volume, MORE)
        assert (again.written, again.kept_from_before, again.read_back) == (0, 5, 5)
        assert_same_end(end_of(volume), end_of(good_end(MORE)))


def test_what_memory_may_have_answered_is_counted() -> None:
    volume = CountingVolume()
    volume.forgets = False
    assert updated(volume, MORE).from_memory == 5


def test_a_card_smaller_than_it_says_is_found_by_its_first_files_being_lost() -> None:
    fits = LyingVolume(real=5 * 5)  # five files of five clusters
    updated(fits, MORE)
    assert not verify(fits, read_card(fits)).faults
    small = LyingVolume(real=5 * 5 - 1)
    with pytest.raises(CardFailing, match="smaller than it says"):
        updated(small, MORE)
    assert named_by_catalogue(small) is None


def test_a_lie_that_shows_only_in_a_later_update_is_found_by_verify_and_named() -> None:
    volume = LyingVolume(real=4 * 5)
    updated(volume, SONGS)
    updated(volume, MORE)  # its own two files are well: the last one written wins
    found = verify(volume, read_card(volume))
    (fault,) = found.faults
    (new,) = {
        str(entry.path)
        for entry in read_card(volume).state.entries
        if entry.path.startswith("Music/Viremsk") and "02" in entry.path.rpartition("/")[2]
    }
    assert new in fault.reason
    assert found.failing


# -- the real port -------------------------------------------------------------------------------


def test_what_was_written_is_read_past_the_systems_memory(tmp_path: Path) -> None:
    with FolderVolume(tmp_path) as volume:
        volume.write("a.bin", [bytes(range(256)) * 4096])
        volume.barrier()
        with (tmp_path / "a.bin").open("rb") as file:
            if uncached._kind(file.fileno()) in uncached._IN_MEMORY_OR_AFAR:
                pytest.skip("the test folder lies in memory or on another computer")
            file.read()
            assert uncached._resident(file.fileno(), 1 << 20)
            assert volume.forget(["a.bin"]) == 0
            assert not uncached._resident(file.fileno(), 1 << 20)
        assert b"".join(volume.chunks("a.bin")) == bytes(range(256)) * 4096


def test_a_file_that_lives_in_memory_is_not_said_to_come_from_a_card() -> None:
    shared = Path("/dev/shm")
    if not shared.is_dir() or not os.access(shared, os.W_OK):
        pytest.skip("no /dev/shm, or none that may be written to")
    with tempfile.TemporaryDirectory(dir=shared) as folder, FolderVolume(Path(folder)) as volume:
        volume.write("a.bin", [b"x" * 5000])
        volume.barrier()
        assert volume.forget(["a.bin"]) == 1
