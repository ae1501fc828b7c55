"""What is away, cannot be read, changes under a scan or stops it costs nothing that was known."""

import os
import shutil
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from library_kit import ENCODERS, names

from syncd.library import audiohash, tags
from syncd.library.index import LibraryIndex
from syncd.library.scan import ScanResult, scan


@pytest.mark.parametrize("how", ["missing", "emptied", "a file"])
def test_a_root_that_is_away_keeps_its_files(index: LibraryIndex, music: Path, how: str) -> None:
    scan(index)
    before = index.snapshot().tracks
    music.rename(music.with_name("unplugged"))
    if how == "emptied":
        music.mkdir()
        (music / "desktop.ini").touch()
    elif how == "a file":
        music.touch()
    result = scan(index)
    assert result.away == (str(music),)
    assert (result.gone, len(result.notices)) == (0, 1)
    assert "is away" in result.notices[0] and "nothing under it is forgotten" in result.notices[0]
    snapshot = index.snapshot()
    assert (snapshot.tracks, snapshot.away) == (before, (str(music),))
    if how == "emptied":
        shutil.rmtree(music)
    elif how == "a file":
        music.unlink()
    music.with_name("unplugged").rename(music)
    assert scan(index) == ScanResult(seen=len(ENCODERS))
    assert index.snapshot().away == ()


def test_a_folder_that_cannot_be_looked_into_keeps_its_files(
    index: LibraryIndex, music: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (music / "second").mkdir()
    shutil.copyfile(music / "album" / "a.flac", music / "second" / "b.flac")
    scan(index)
    real = os.scandir

    def refusing(path):
        if os.fsencode(path).endswith(b"/album"):
            raise PermissionError(13, "Permission denied", path)
        return real(path)

    monkeypatch.setattr(os, "scandir", refusing)
    (music / "second" / "b.flac").rename(music / "second" / "c.flac")
    result = scan(index)
    assert (result.gone, result.moved, result.seen) == (0, 1, 1)
    (notice,) = result.notices
    assert str(music / "album") in notice and "Permission denied" in notice
    assert len(index.snapshot().tracks) == len(ENCODERS) + 1


def test_links_are_followed_but_loops_and_second_ways_are_told(
    index: LibraryIndex, music: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    shutil.copyfile(music / "album" / "a.flac", outside / "x.flac")
    (music / "a link").symlink_to(outside)
    (music / "album" / "up").symlink_to(music)
    (music / "again").symlink_to(music / "album")
    (music / "one.flac").symlink_to(music / "album" / "a.flac")
    (outside / "back").symlink_to(music / "a link")
    result = scan(index)
    assert result.seen == len(ENCODERS) + 2
    assert {"a link/x.flac", "one.flac"} <= set(names(index.snapshot(), music))
    assert sum("not followed" in notice for notice in result.notices) == 3
    assert len(result.notices) == 3


def test_what_lies_behind_a_link_whose_disk_is_away_is_kept(
    index: LibraryIndex, music: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    shutil.copyfile(music / "album" / "a.flac", outside / "x.flac")
    (music / "linked").symlink_to(outside)
    (music / "one.flac").symlink_to(outside / "x.flac")
    scan(index)
    outside.rename(tmp_path / "unplugged")
    result = scan(index)
    assert (result.gone, len(result.notices)) == (0, 2)
    assert {"linked/x.flac", "one.flac"} <= set(names(index.snapshot(), music))


def test_a_file_that_grows_while_it_is_read_is_left_for_the_next_scan(
    index: LibraryIndex, music: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = audiohash.hash_file

    def growing(path, container):
        if path.endswith("/a.mp3"):
            with Path(path).open("ab") as file:
                file.write(b"more")
        return real(path, container)

    monkeypatch.setattr(audiohash, "hash_file", growing)
    result = scan(index)
    (notice,) = result.notices
    assert "a.mp3 changed while it was read" in notice
    assert "album/a.mp3" not in names(index.snapshot(), music)
    monkeypatch.undo()
    assert scan(index).new == 1


def test_a_file_that_vanishes_during_the_scan_is_told(
    index: LibraryIndex, music: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = tags.read_file

    def vanishing(path):
        if path.endswith("/a.mp3"):
            Path(path).unlink()
        return real(path)

    monkeypatch.setattr(tags, "read_file", vanishing)
    result = scan(index)
    (notice,) = result.notices
    assert "a.mp3 went away during the scan" in notice
    assert len(index.snapshot().tracks) == len(ENCODERS) - 1


def test_a_file_that_cannot_be_opened_is_tried_again_by_the_next_scan(
    index: LibraryIndex, music: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def refusing(path, flags, *rest, **named):
        if str(path).endswith("/a.mp3"):
            raise PermissionError(13, "Permission denied", path)
        return real(path, flags, *rest, **named)

    monkeypatch.setattr(os, "open", refusing)
    assert scan(index).unreadable == 1
    (out,) = index.unreadable()
    assert "Permission denied" in out.reason
    monkeypatch.undo()
    assert (scan(index).read, index.unreadable()) == (1, ())


def test_a_stopped_scan_keeps_what_it_read(
    index: LibraryIndex, music: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = tags.read_file
    lock, count = threading.Lock(), 0

    def stopping(path):
        nonlocal count
        with lock:
            count += 1
            if count == 8:
                raise KeyboardInterrupt
        return real(path)

    monkeypatch.setattr(tags, "read_file", stopping)
    with pytest.raises(KeyboardInterrupt):
        scan(index, workers=1)
    kept = len(index.snapshot().tracks)
    assert kept >= 7
    monkeypatch.undo()
    assert scan(index).read == len(ENCODERS) - kept


def test_an_index_killed_in_the_middle_of_a_scan_is_whole(tmp_path: Path, music: Path) -> None:
    for number in range(400):
        os.link(music / "album" / "a.mp3", music / f"{number}.mp3")
    home = tmp_path / "killed.db"
    program = (
        "import sys\nfrom pathlib import Path\nfrom syncd.library.index import LibraryIndex\n"
        "from syncd.library.scan import scan\n"
        "index = LibraryIndex(Path(sys.argv[1]))\nindex.add_root(Path(sys.argv[2]))\n"
        "scan(index, report=lambda p: print(p.done, flush=True))\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program, home, music], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    for line in process.stdout:
        if int(line) >= 200:
            break
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    with LibraryIndex(home) as index:
        assert index.notices == ()
        (verdict,) = index._database.execute("PRAGMA integrity_check").fetchone()
        assert verdict == "ok"
        kept = len(index.snapshot().tracks)
        assert kept >= 64
        assert scan(index).read <= 400 + len(ENCODERS) - kept
        assert len(index.snapshot().tracks) == 400 + len(ENCODERS)


def test_a_rebuilt_index_tells_so_in_the_scan(tmp_path: Path, music: Path) -> None:
    home = tmp_path / "library.db"
    with LibraryIndex(home) as index:
        index.add_root(music)
        scan(index)
    home.write_bytes(b"not a database" * 1000)
    with LibraryIndex(home) as index:
        result = scan(index)
        assert result.new == len(ENCODERS)
        assert any("was damaged" in notice for notice in result.notices)


def test_a_link_that_leads_to_itself_is_told_with_its_remedy(
    index: LibraryIndex, music: Path
) -> None:
    (music / "one").symlink_to("other")
    (music / "other").symlink_to("one")
    told = sorted(scan(index).notices)
    assert [notice.split(" leads in a circle")[0] for notice in told] == [
        f"The link {music / name}" for name in ("one", "other")
    ]
    assert all("remove it" in notice for notice in told)
