"""A scan finds what is there, believes what did not change, and takes no absence for deletion."""

# Names that are not UTF-8 are handled as bytes, which pathlib does not take.
# ruff: noqa: PTH102, PTH104, PTH119, PTH120

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from library_kit import DRAWN, ENCODERS, JPEG, names
from mutagen.flac import FLAC

from syncd.library.index import LibraryIndex
from syncd.library.scan import Progress, ScanResult, scan
from syncd.model import LibrarySnapshot


def hash_of(index: LibraryIndex, name: str) -> str:
    return next(
        each.track.audio_hash for each in index.snapshot().tracks if each.track.path.endswith(name)
    )


def test_the_first_scan_reads_all_and_the_second_only_stats(
    index: LibraryIndex, music: Path, reads: list[str]
) -> None:
    first = scan(index)
    assert (first.seen, first.new, first.read, first.notices) == (len(ENCODERS),) * 3 + ((),)
    assert names(index.snapshot(), music) == sorted(f"album/{name}" for name in ENCODERS)
    reads.clear()
    assert scan(index) == ScanResult(seen=len(ENCODERS))
    assert reads == []


def test_an_empty_library_is_no_trouble(tmp_path: Path) -> None:
    with LibraryIndex(tmp_path / "library.db") as index:
        assert scan(index) == ScanResult()
        (tmp_path / "empty").mkdir()
        index.add_root(tmp_path / "empty")
        assert scan(index) == ScanResult()
        assert index.snapshot() == LibrarySnapshot(())


def test_files_that_are_not_audio_are_passed_by(index: LibraryIndex, music: Path) -> None:
    for name in ("notes.txt", "scan.pdf", "disc.cue", "list.m3u", "._a.flac", "flac"):
        (music / "album" / name).write_text("x")
    (music / ".Trash-1000").mkdir()
    shutil.copyfile(music / "album" / "a.flac", music / ".Trash-1000" / "old.flac")
    assert scan(index).seen == len(ENCODERS)
    assert index.unreadable() == ()


def test_what_claims_to_be_audio_and_is_not_is_listed_and_the_scan_goes_on(
    index: LibraryIndex, music: Path, reads: list[str]
) -> None:
    (music / "album" / "text.flac").write_text("not music")
    (music / "album" / "empty.mp3").touch()
    (music / "album" / "other.wma").write_bytes(b"x" * 50)
    result = scan(index)
    assert (result.unreadable, result.new) == (3, len(ENCODERS) + 3)
    assert len(index.snapshot().tracks) == len(ENCODERS)
    listed = {os.path.basename(out.path): out.reason for out in index.unreadable()}
    assert set(listed) == {"text.flac", "empty.mp3", "other.wma"}
    assert all(reason.endswith(".") for reason in listed.values())
    reads.clear()
    scan(index)
    assert reads == []  # nor are they read again before they change
    shutil.copyfile(music / "album" / "a.flac", music / "album" / "text.flac")
    assert (scan(index).changed, len(index.unreadable())) == (1, 2)


def test_a_changed_tag_is_seen_and_the_audio_hash_stays(index: LibraryIndex, music: Path) -> None:
    scan(index)
    index.settle()
    before = hash_of(index, "/a.flac")
    tagged = FLAC(music / "album" / "a.flac")
    tagged["TITLE"] = "Adagio"
    tagged.save()
    result = scan(index)
    assert (result.changed, result.new, result.read) == (1, 0, 1)
    assert hash_of(index, "/a.flac") == before
    assert index.stale_folders() == [os.fsencode(music / "album")]


def test_a_touched_file_is_read_but_counts_as_unchanged(index: LibraryIndex, music: Path) -> None:
    scan(index)
    index.settle()
    os.utime(music / "album" / "a.flac", ns=(1, 1_234_567_891))
    result = scan(index)
    assert (result.read, result.changed) == (1, 0)
    assert index.stale_folders() == []
    assert scan(index).read == 0


def test_a_new_way_of_reading_has_every_file_read_once_more(
    index: LibraryIndex, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan(index)
    index.settle()
    monkeypatch.setattr("syncd.library.scan.READING", "later")
    result = scan(index)
    assert (result.read, result.changed) == (len(ENCODERS), 0)
    assert index.stale_folders() != []
    assert scan(index).read == 0


def test_a_file_written_within_the_tick_of_its_reading_is_read_when_the_tick_is_over(
    tmp_path: Path, masters: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux stamps a file with the last tick: a second write within it leaves the same time."""
    root = tmp_path / "ripping"
    root.mkdir()
    whole = (masters / "a.flac").read_bytes()
    file = root / "a.flac"
    written_ns = 1_750_000_000_123_456_789

    def put(data: bytes) -> None:
        file.write_bytes(data)
        os.utime(file, ns=(written_ns, written_ns))

    put(b"\0" * len(whole))
    monkeypatch.setattr("syncd.library.scan.time.sleep", lambda seconds: put(whole))
    with LibraryIndex(tmp_path / "ticks.db") as index:
        index.add_root(root)
        scan(index, workers=1, now_ns=lambda: written_ns + 3_000_000)
        snapshot = index.snapshot()
        assert [track.track.path for track in snapshot.tracks] == [str(file)]
        assert snapshot.unreadable == ()


def test_deep_finds_what_a_stat_does_not_show(index: LibraryIndex, music: Path) -> None:
    scan(index)
    path = music / "album" / "a.wav"
    status = path.stat()
    raw = bytearray(path.read_bytes())
    raw[-10] ^= 1
    path.write_bytes(raw)
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert scan(index).read == 0
    result = scan(index, deep=True)
    assert (result.read, result.changed) == (len(ENCODERS), 1)


def test_a_moved_file_keeps_its_audio_hash_and_is_not_read(
    index: LibraryIndex, music: Path, reads: list[str]
) -> None:
    scan(index)
    before = {each.track.path: each.track.audio_hash for each in index.snapshot().tracks}
    (music / "album").rename(music / "other name")
    (music / "deeper" / "down").mkdir(parents=True)
    (music / "other name" / "a.mp3").rename(music / "deeper" / "down" / "b.mp3")
    reads.clear()
    result = scan(index)
    assert (result.moved, result.new, result.gone) == (len(ENCODERS), 0, 0)
    assert reads == []
    after = {each.track.path: each.track.audio_hash for each in index.snapshot().tracks}
    assert sorted(after.values()) == sorted(before.values())
    assert after[str(music / "deeper" / "down" / "b.mp3")] == before[str(music / "album" / "a.mp3")]
    assert scan(index) == ScanResult(seen=len(ENCODERS))


def test_a_move_to_another_root_is_followed(
    index: LibraryIndex, music: Path, tmp_path: Path, reads: list[str]
) -> None:
    (tmp_path / "second").mkdir()
    index.add_root(tmp_path / "second")
    scan(index)
    (music / "album" / "a.flac").rename(tmp_path / "second" / "a.flac")
    reads.clear()
    assert (scan(index).moved, reads) == (1, [])


def test_a_file_copied_elsewhere_and_removed_counts_as_moved(
    index: LibraryIndex, music: Path
) -> None:
    scan(index)
    shutil.copyfile(music / "album" / "a.flac", music / "b.flac")
    (music / "album" / "a.flac").unlink()
    result = scan(index)
    assert (result.moved, result.new, result.gone, result.read) == (1, 0, 0, 1)


def test_a_file_that_is_gone_is_forgotten(index: LibraryIndex, music: Path) -> None:
    scan(index)
    (music / "album" / "a.flac").unlink()
    assert scan(index).gone == 1
    assert "album/a.flac" not in names(index.snapshot(), music)
    assert index.stale_folders() == [os.fsencode(music / "album")]


def test_names_that_are_not_utf8_are_found_and_kept_byte_for_byte(
    index: LibraryIndex, music: Path
) -> None:
    odd = os.fsencode(music) + b"/caf\xe9 \xff\n'\"%s/\xfcber.flac"
    os.mkdir(os.path.dirname(odd))
    shutil.copyfile(music / "album" / "a.flac", odd)
    scan(index)
    assert odd in {os.fsencode(each.track.path) for each in index.snapshot().tracks}
    assert scan(index).read == 0
    os.rename(os.path.dirname(odd), os.fsencode(music) + b"/\xe9")
    assert scan(index).moved == 1


def test_a_fresh_file_on_a_coarse_clock_is_read_once_more(index: LibraryIndex, music: Path) -> None:
    """FAT tells times in steps of two seconds: a second change within one would not show."""
    os.utime(music / "album" / "a.mp3", ns=(0, 1_700_000_000_000_000_000))
    scan(index, now_ns=lambda: 1_700_000_001_000_000_000)
    assert scan(index, now_ns=lambda: 1_700_000_009_000_000_000).read == 1
    assert scan(index, now_ns=lambda: 1_700_000_009_000_000_000).read == 0


def test_no_file_of_the_library_is_opened_for_writing(index: LibraryIndex, music: Path) -> None:
    opened: list[tuple[str, int]] = []
    watching = True

    def hook(event: str, arguments: tuple) -> None:
        if watching and event == "open" and str(arguments[0]).startswith(str(music)):
            opened.append((str(arguments[0]), arguments[2]))

    sys.addaudithook(hook)
    (music / "album" / "cover.jpg").write_bytes(JPEG)
    opened.clear()
    scan(index)
    scan(index, deep=True)
    watching = False
    assert len(opened) >= 2 * len(ENCODERS)
    writing = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
    assert [path for path, flags in opened if flags & writing] == []


def test_covers_are_found_by_name_else_as_the_only_picture(
    index: LibraryIndex, music: Path
) -> None:
    album = music / "album"
    (album / "booklet.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(20))

    def art() -> str:
        scan(index)
        found = index.snapshot().tracks[0].track.art
        return os.path.basename(found.path) if found else ""

    assert art() == "booklet.png"
    (album / "Folder.JPG").write_bytes(JPEG)
    assert art() == "Folder.JPG"
    (album / "cover.jpeg").write_bytes(JPEG + b"1")
    assert art() == "cover.jpeg"
    before = index.snapshot().tracks[0].track.art
    (album / "cover.jpeg").write_bytes(JPEG + b"22")
    assert art() == "cover.jpeg"
    assert index.snapshot().tracks[0].track.art != before
    (album / "cover.jpeg").unlink()
    (album / "Folder.JPG").unlink()
    (album / "second.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    assert art() == ""


def test_a_picture_that_is_none_is_told_once_and_not_taken(
    index: LibraryIndex, music: Path
) -> None:
    (music / "album" / "cover.jpg").write_text("<html>")
    (notice,) = scan(index).notices
    assert "neither JPEG nor PNG" in notice
    assert index.snapshot().tracks[0].track.art is None
    assert scan(index).notices == ()


def test_progress_is_reported_up_to_the_end(index: LibraryIndex) -> None:
    told: list[Progress] = []
    scan(index, report=told.append)
    assert told[-1].stage == "read"
    assert told[-1].done == told[-1].total == len(ENCODERS)


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["add", "remove", "rename", "retag", "touch", "swap", "break", "scan"]),
        st.integers(0, 5),
        st.integers(0, 5),
    ),
    min_size=1,
    max_size=12,
)


@settings(DRAWN, max_examples=40)
@given(steps=STEPS)
def test_scanning_step_by_step_comes_to_what_one_fresh_scan_finds(
    masters: Path, tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, int, int]]
) -> None:
    base = tmp_path_factory.mktemp("steps")
    root = base / "music"
    place: Callable[[int], Path] = lambda n: root / f"folder {n % 2}" / f"{n}.flac"  # noqa: E731
    for number in range(2):
        (root / f"folder {number}").mkdir(parents=True)
    shutil.copyfile(masters / "a.flac", root / "stays.flac")
    with LibraryIndex(base / "step.db") as index, LibraryIndex(base / "fresh.db") as fresh:
        index.add_root(root)
        fresh.add_root(root)
        for kind, first, second in steps:
            one, two = place(first), place(second)
            if kind == "add":
                shutil.copyfile(masters / ("a.flac" if first % 2 else "a24.flac"), one)
            elif kind == "scan":
                scan(index, workers=1)
            elif not one.exists():
                continue
            elif kind == "remove":
                one.unlink()
            elif kind == "rename":
                one.rename(two)
            elif kind == "touch":
                os.utime(one)
            elif kind == "break":
                one.write_text("broken" * second)
            elif kind == "swap" and two.exists():
                one.rename(root / "aside")
                two.rename(one)
                (root / "aside").rename(two)
            elif kind == "retag" and one.read_bytes()[:4] == b"fLaC":
                tagged = FLAC(one)
                tagged["TITLE"] = f"Title {second}"
                tagged.save()
        scan(index, workers=1)
        scan(fresh, workers=1)
        stepped, at_once = index.snapshot(), fresh.snapshot()
        assert stepped.unreadable == at_once.unreadable
        # What cannot be read now but could be once is the one thing that a fresh scan cannot know.
        lost = {item.path for item in stepped.unreadable}
        readable = tuple(each for each in stepped.tracks if each.track.path not in lost)
        assert readable == at_once.tracks
