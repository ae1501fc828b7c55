"""Folders in which something is going on are left alone by a scan."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from syncd.library.index import LibraryIndex
from syncd.library.scan import scan
from syncd.library.unsettled import Unsettled


@pytest.fixture
def music(tmp_path: Path, masters: Path) -> Path:
    root = tmp_path / "music"
    for name in ("done", "going on/cd1"):
        (root / name).mkdir(parents=True)
        shutil.copyfile(masters / "a.flac", root / name / "1.flac")
    return root.resolve()


@pytest.fixture
def index(tmp_path: Path, music: Path) -> Iterator[LibraryIndex]:
    with LibraryIndex(tmp_path / "library.db") as made:
        made.add_root(music)
        yield made


def known(index: LibraryIndex, root: Path) -> set[str]:
    return {os.path.relpath(each.track.path, root) for each in index.snapshot().tracks}


def test_what_is_new_in_such_a_folder_waits_for_the_next_scan(
    index: LibraryIndex, music: Path
) -> None:
    going_on = Unsettled([os.fsencode(music / "going on" / "cd1")])
    assert scan(index, leave=going_on).new == 1
    assert known(index, music) == {"done/1.flac"}
    assert scan(index).new == 1
    assert known(index, music) == {"done/1.flac", "going on/cd1/1.flac"}


def test_a_folder_within_is_another_folder_unless_the_tree_is_named(
    index: LibraryIndex, music: Path
) -> None:
    outer = os.fsencode(music / "going on")
    assert scan(index, leave=Unsettled([outer + b"/"])).new == 1
    assert known(index, music) == {"done/1.flac"}
    assert scan(index, leave=Unsettled([outer])).new == 1
    assert known(index, music) == {"done/1.flac", "going on/cd1/1.flac"}


def test_what_is_gone_from_such_a_folder_is_kept_until_the_next_scan(
    index: LibraryIndex, music: Path
) -> None:
    scan(index)
    (music / "done" / "1.flac").unlink()
    left = scan(index, leave=Unsettled([os.fsencode(music / "done")]))
    assert (left.gone, left.away) == (0, ())
    assert "done/1.flac" in known(index, music)
    assert scan(index).gone == 1


def test_a_tree_that_moves_is_a_move_when_both_its_places_are_left_alone(
    index: LibraryIndex, music: Path
) -> None:
    scan(index)
    (music / "going on").rename(music / "moved")
    places = [music, music / "going on", music / "going on" / "cd1"]
    places += [music / "moved", music / "moved" / "cd1"]
    left = scan(index, leave=Unsettled(map(os.fsencode, places)))
    assert (left.new, left.gone, left.moved) == (0, 0, 0)
    after = scan(index)
    assert (after.new, after.gone, after.moved, after.read) == (0, 0, 1, 0)


def test_covers_and_sheets_of_such_folders_wait_too(index: LibraryIndex, music: Path) -> None:
    (music / "done" / "cover.jpg").write_bytes(b"\xff\xd8\xff\xe0" + bytes(100))
    (music / "done" / "x.cue").write_text('FILE "1.flac" WAVE\n')
    folder = os.fsencode(music / "done")
    scan(index, leave=Unsettled([folder]))
    assert folder not in index.folders(str(music))
    scan(index)
    row = index.folders(str(music))[folder]
    assert row.cover is not None
    assert row.sheets is not None


def test_folders_with_files_of_just_now_wait_if_that_is_asked_for(
    index: LibraryIndex, music: Path
) -> None:
    """What a rip in progress wrote last, when nobody watched while it began."""
    now_ns = 10**18
    for name, age_s in (("done", 61), ("going on/cd1", 20)):
        os.utime(music / name / "1.flac", ns=(now_ns, now_ns - age_s * 10**9))
    leave = Unsettled(young_s=60, now_ns=now_ns)
    assert scan(index, leave=leave).new == 1
    assert known(index, music) == {"done/1.flac"}
    assert leave.waits_s == pytest.approx(40)
    later = Unsettled(young_s=60, now_ns=now_ns + 41 * 10**9)
    assert scan(index, leave=later).new == 1
    assert later.waits_s == 0


def test_a_file_from_the_future_does_not_wait_for_it(index: LibraryIndex, music: Path) -> None:
    now_ns = 10**18
    for path in music.rglob("*.flac"):
        os.utime(path, ns=(now_ns, now_ns + 3600 * 10**9))
    leave = Unsettled(young_s=60, now_ns=now_ns)
    assert scan(index, leave=leave).new == 2
    assert leave.waits_s == 0


def test_what_is_known_and_unchanged_does_not_hold_up_its_folder(
    index: LibraryIndex, music: Path
) -> None:
    scan(index)
    leave = Unsettled(young_s=10**9)
    assert scan(index, leave=leave).new == 0
    assert leave.waits_s == 0
