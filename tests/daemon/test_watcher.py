"""The watch of the library on real folders with real inotify events; the clock is put forward."""

import errno
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from watch_kit import SETTLE_S, Scene, folders
from watchdog.observers import inotify_c

from syncd.daemon.inotify_tree import InotifyTree, Reader
from syncd.daemon.mounts import Mount, parse_mountinfo
from syncd.daemon.watcher import is_remote, mounts_of

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="inotify is Linux's")


@pytest.fixture
def scene() -> Iterator[Scene]:
    made = Scene()
    yield made
    made.close()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    made = tmp_path / "music"
    (made / "a" / "cd1").mkdir(parents=True)
    (made / "b").mkdir()
    return made


def tree_of(scene: Scene, root: Path) -> InotifyTree:
    tree = scene.watch._roots[os.fsencode(root)]._tree
    assert isinstance(tree, InotifyTree)
    return tree


def test_a_root_is_scanned_once_it_is_watched(scene: Scene, root: Path) -> None:
    scene.watch.watch([root])
    hints = scene.watch.settled()
    assert hints is not None
    assert hints.paths == (str(root),)
    assert scene.watch.next_s() is None
    assert tree_of(scene, root).watched == 4


def test_a_new_file_is_told_of_when_it_has_settled(scene: Scene, root: Path) -> None:
    scene.watching(root)
    (root / "b" / "1.flac").write_bytes(b"x")
    scene.pump()
    assert scene.wakes > 0
    assert scene.watch.restless() == (os.fsencode(root / "b"),)
    found = scene.settled_in(200)
    assert set(found) == folders(root / "b")
    assert SETTLE_S <= found[str(root / "b")] <= SETTLE_S * 1.1
    assert scene.watch.restless() == ()
    assert scene.watch.next_s() is None


def test_a_rip_in_progress_is_left_alone_until_it_is_done(scene: Scene, root: Path) -> None:
    scene.watching(root)
    rip = root / "b" / "new"
    rip.mkdir()
    told: dict[str, float] = {}
    for number in range(8):
        with (rip / f"{number}.flac").open("wb") as file:
            for _ in range(5):  # each track takes 100 s, and no event tells that it grows
                file.write(b"x" * 1000)
                file.flush()
                told |= scene.settled_in(20, stop=False)
                assert os.fsencode(rip) in scene.watch.restless()
    assert str(rip) not in told
    assert set(scene.settled_in(200)) == folders(rip)


def test_a_finished_album_does_not_wait_for_a_rip(scene: Scene, root: Path) -> None:
    scene.watching(root)
    (root / "a" / "1.flac").write_bytes(b"x")
    with (root / "b" / "1.flac").open("wb") as file:
        found: dict[str, float] = {}
        for _ in range(10):
            file.write(b"x" * 100)
            file.flush()
            found |= scene.settled_in(15, stop=False)
    assert set(found) == folders(root / "a")


def test_reading_the_library_is_no_change_of_it(scene: Scene, root: Path) -> None:
    (root / "b" / "1.flac").write_bytes(b"x")
    scene.watching(root)
    (root / "b" / "1.flac").read_bytes()
    list(root.rglob("*"))
    scene.pump()
    assert scene.watch.next_s() is None


def test_files_that_are_no_music_ask_for_no_scan(scene: Scene, root: Path) -> None:
    scene.watching(root)
    (root / "b" / "player.log").write_bytes(b"x")
    (root / ".Trash-1000").mkdir()
    scene.pump()
    assert scene.watch.next_s() is None


def test_what_comes_into_new_folders_is_told_of(scene: Scene, root: Path) -> None:
    scene.watching(root)
    deep = root / "new" / "cd1" / "more"
    deep.mkdir(parents=True)  # all of it before the watch hears of the first
    (deep / "1.flac").write_bytes(b"x")
    found = scene.settled_in(200, stop=False)
    assert folders(root, deep, deep.parent) <= set(found)
    (deep / "2.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(deep)


def test_a_tree_that_moves_within_the_root_is_heard_under_its_new_name(
    scene: Scene, root: Path
) -> None:
    scene.watching(root)
    (root / "a").rename(root / "b" / "c")
    found = scene.settled_in(200, stop=False)
    new = root / "b" / "c"
    # old and new places together: the scan sees a move, nothing that is gone and nothing new
    assert set(found) == folders(root, root / "b", root / "a", root / "a" / "cd1", new, new / "cd1")
    assert tree_of(scene, root).watched == 4
    (new / "cd1" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(new / "cd1")


def test_a_tree_that_moves_out_of_the_root_is_watched_no_more(
    scene: Scene, root: Path, tmp_path: Path
) -> None:
    scene.watching(root)
    (root / "a").rename(tmp_path / "elsewhere")
    assert folders(root, root / "a") <= set(scene.settled_in(200, stop=False))
    assert tree_of(scene, root).watched == 2
    (tmp_path / "elsewhere" / "cd1" / "1.flac").write_bytes(b"x")
    scene.pump()
    assert scene.watch.next_s() is None


def test_a_tree_that_moves_into_the_root_is_watched(
    scene: Scene, root: Path, tmp_path: Path
) -> None:
    scene.watching(root)
    (tmp_path / "from" / "x").mkdir(parents=True)
    (tmp_path / "from").rename(root / "from")
    assert folders(root / "from", root / "from" / "x") <= set(scene.settled_in(200, stop=False))
    (root / "from" / "x" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(root / "from" / "x")


def test_removed_folders_are_told_of_and_forgotten(scene: Scene, root: Path) -> None:
    scene.watching(root)
    shutil.rmtree(root / "a")
    found = scene.settled_in(200, stop=False)
    assert str(root) in found
    assert tree_of(scene, root).watched == 2


def test_ten_thousand_events_wake_the_keeper_once_and_keep_few_folders(
    scene: Scene, root: Path
) -> None:
    scene.watching(root)
    scene.wakes = 0
    kept = 0
    for number in range(3_400):  # create, close, attributes: three events each
        path = root / "b" / f"{number}.flac"
        path.touch()
        path.chmod(0o644)
        if number % 500 == 0:
            scene.pump()
            scene.watch.next_s()
            kept = max(kept, len(scene.watch.restless()))
    scene.pump()
    assert scene.wakes == 1
    assert kept == 1
    assert set(scene.settled_in(200)) == folders(root / "b")


def test_a_root_that_is_a_link_is_watched_where_it_leads(
    scene: Scene, root: Path, tmp_path: Path
) -> None:
    link = tmp_path / "link"
    link.symlink_to(root)
    scene.watching(link)
    (root / "b" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(link / "b")


def test_a_link_that_leads_elsewhere_is_noticed_at_the_next_look_round(
    scene: Scene, root: Path, tmp_path: Path
) -> None:
    link, other = tmp_path / "link", tmp_path / "other"
    link.symlink_to(root)
    other.mkdir()
    scene.watching(link)
    link.unlink()
    link.symlink_to(other)
    scene.watch.look_round()
    assert set(scene.settled_in(200)) == folders(link)
    (other / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(link)


def test_links_to_folders_are_followed_once_and_loops_end(
    scene: Scene, root: Path, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    (root / "linked").symlink_to(tmp_path / "other")
    (root / "b" / "loop").symlink_to(root)
    scene.watching(root)
    assert tree_of(scene, root).watched == 5
    (tmp_path / "other" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(root / "linked")
    (root / "b" / "later").symlink_to(tmp_path / "other")
    scene.passes(200)
    assert tree_of(scene, root).watched == 5


def test_a_root_that_disappears_pauses_and_comes_back(
    scene: Scene, root: Path, tmp_path: Path
) -> None:
    scene.watching(root)
    root.rename(tmp_path / "gone")
    scene.pump()
    assert "is away" in scene.watch.problems()[0]
    assert "mount its disk" in scene.watch.problems()[0]
    assert set(scene.settled_in(10)) == folders(root)  # the scan keeps what it knows of it
    assert scene.watch.next_s() is None
    scene.watch.look_round()
    assert scene.watch.settled() is None
    (tmp_path / "gone").rename(root)
    scene.watch.look_round()
    assert scene.watch.problems() == ()
    assert set(scene.settled_in(10)) == folders(root)
    (root / "b" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(root / "b")


def test_a_root_that_is_not_there_at_first_is_taken_up_when_it_comes(
    scene: Scene, tmp_path: Path
) -> None:
    scene.watching(tmp_path / "later")
    assert len(scene.watch.problems()) == 1
    (tmp_path / "later").mkdir()
    scene.watch.look_round()
    assert scene.watch.problems() == ()


def test_another_volume_under_the_root_has_it_surveyed_anew(scene: Scene, root: Path) -> None:
    scene.watching(root)
    scene.watch.look_round()
    assert scene.watch.settled() is None
    scene.mounted.append(Mount(str(root / "b"), "ext4", "8:2 /", "2"))
    scene.watch.look_round()
    assert set(scene.settled_in(10)) == folders(root)


def test_a_lost_queue_is_followed_by_a_scan_of_all(scene: Scene, root: Path) -> None:
    """Real overflow: more events than fs.inotify.max_queued_events while nobody reads."""
    scene.watching(root)
    reader = scene.readers[0]
    limit = int(Path("/proc/sys/fs/inotify/max_queued_events").read_text())
    if limit > 100_000:
        pytest.skip(f"fs.inotify.max_queued_events is {limit}: too many events to make")
    for number in range(limit + 100):
        (root / "b" / str(number % 50)).touch()  # unlike the last: no two are merged
    (root / "lost").mkdir()  # this event finds no room
    scene.pump()
    assert not reader._closed
    assert os.fsencode(root) + b"/" in scene.watch.restless()
    assert tree_of(scene, root).watched == 5
    assert set(scene.settled_in(200)) == folders(root)
    (root / "lost" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(root / "lost")


def test_too_few_watches_are_told_with_the_remedy_and_the_root_is_polled(
    scene: Scene, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A double of the system call; the real limit is met in test_watcher_limits."""
    real = inotify_c.inotify_add_watch
    left = [2]

    def add(fd: int, path: bytes, mask: int) -> int:
        if left[0] <= 0:
            inotify_c.ctypes.set_errno(errno.ENOSPC)
            return -1
        left[0] -= 1
        return int(real(fd, path, mask))

    monkeypatch.setattr(inotify_c, "inotify_add_watch", add)
    scene.watching(root)
    (problem,) = scene.watch.problems()
    assert "sudo sysctl fs.inotify.max_user_watches=" in problem
    assert str(root) in problem
    assert not scene.readers[0]._watch_for_wd, "the watches that it had are given back"
    (root / "b" / "1.flac").write_bytes(b"x")
    found = scene.settled_in(300 + 200, stop=False)
    assert found.keys() >= folders(root / "b")
    left[0] = 100  # the limit is raised
    scene.passes(3700)
    assert scene.watch.problems() == ()
    assert tree_of(scene, root).watched == 4


def test_a_folder_that_comes_later_and_finds_no_watch_is_told_too(
    scene: Scene, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene.watching(root)

    def full(fd: int, path: bytes, mask: int) -> int:
        inotify_c.ctypes.set_errno(errno.ENOSPC)
        return -1

    monkeypatch.setattr(inotify_c, "inotify_add_watch", full)
    (root / "new").mkdir()
    scene.pump()
    assert "max_user_watches" in scene.watch.problems()[0]


def test_a_folder_that_may_not_be_read_is_no_problem_of_the_watch(
    scene: Scene, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """inotify_add_watch(2): EACCES. watchdog returns a watch of number -1 for it."""
    real = inotify_c.inotify_add_watch

    def add(fd: int, path: bytes, mask: int) -> int:
        if path.endswith(b"/b"):
            inotify_c.ctypes.set_errno(errno.EACCES)
            return -1
        return int(real(fd, path, mask))

    monkeypatch.setattr(inotify_c, "inotify_add_watch", add)
    scene.watching(root)
    assert scene.watch.problems() == ()
    assert tree_of(scene, root).watched == 3


def test_a_reader_that_fails_is_begun_anew_and_in_the_end_the_root_is_polled(
    scene: Scene, root: Path, caplog: pytest.LogCaptureFixture
) -> None:
    scene.watching(root)
    for round_ in range(3):
        reader = scene.readers[-1]
        assert len(scene.readers) == round_ + 1
        os.close(reader._inotify_fd)
        reader._inotify_fd = os.open("/proc/self/mem", os.O_RDONLY)  # reading it at 0 gives EIO
        reader.run()
        assert reader.failed
        assert reader._closed
    assert "reading the system's notices failed" in scene.watch.problems()[0]
    assert set(scene.settled_in(100)) == folders(root)


def test_roots_that_are_watched_no_more_give_their_watches_back(scene: Scene, root: Path) -> None:
    scene.watching(root / "a", root / "b")
    scene.watch.watch([root / "b"])
    assert len(scene.readers[0]._watch_for_wd) == 1
    (root / "a" / "1.flac").write_bytes(b"x")
    scene.pump()
    assert scene.watch.next_s() is None


def test_roots_within_one_another_both_hear(scene: Scene, root: Path) -> None:
    scene.watching(root, root / "b")
    (root / "b" / "1.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(root / "b")
    scene.watch.watch([root])
    (root / "b" / "2.flac").write_bytes(b"x")
    assert set(scene.settled_in(200)) == folders(root / "b")


def test_a_root_on_a_share_is_polled_by_the_times_of_its_folders(scene: Scene, root: Path) -> None:
    scene.mounted.append(Mount(str(root), "nfs4", "0:50 /", "2"))
    scene.watching(root)
    assert scene.readers == []
    assert scene.watch.problems() == ()
    assert scene.watch.next_s() == 300.0
    (root / "b" / "new").mkdir()
    (root / "b" / "new" / "1.flac").write_bytes(b"x")
    found = scene.settled_in(600, stop=False)
    assert set(found) == folders(root / "b", root / "b" / "new")
    shutil.rmtree(root / "a" / "cd1")
    assert folders(root / "a") <= set(scene.settled_in(600, stop=False))


def test_a_polled_root_is_scanned_now_and_then_since_times_do_not_tell_all(root: Path) -> None:
    scene = Scene(polled=[root])
    (root / "b" / "1.flac").write_bytes(b"x")
    scene.watching(root)
    assert scene.readers == []
    (root / "b" / "1.flac").write_bytes(b"yy")  # in place: no folder's time changes
    found = scene.settled_in(3700, stop=False)
    assert found.keys() == folders(root)
    assert 3600 <= found[str(root)] <= 3660
    scene.close()


def test_a_rip_onto_a_share_is_left_alone_while_it_grows(scene: Scene, root: Path) -> None:
    scene.mounted.append(Mount(str(root), "cifs", "0:50 /", "2"))
    scene.watching(root)
    with (root / "b" / "1.flac").open("wb") as file:
        scene.passes(310)
        for _ in range(20):
            file.write(b"x" * 1000)
            file.flush()
            assert str(root / "b") not in scene.settled_in(25, stop=False)
    assert str(root / "b") in scene.settled_in(200)


def test_a_polled_root_that_disappears_pauses_and_comes_back(root: Path, tmp_path: Path) -> None:
    scene = Scene(polled=[root])
    scene.watching(root)
    root.rename(tmp_path / "gone")
    found = scene.settled_in(310, stop=False)
    assert found.keys() == folders(root)
    assert "is away" in scene.watch.problems()[0]
    (tmp_path / "gone").rename(root)
    scene.watch.look_round()
    assert scene.watch.problems() == ()
    assert scene.watch.next_s() is not None
    scene.close()


def test_asking_never_waits_for_a_disk(scene: Scene, root: Path) -> None:
    scene.waiting = []  # a disk that does not answer: what is begun does not end
    scene.watch.watch([root])
    assert scene.watch.settled() is None
    assert scene.watch.next_s() is None
    scene.watch.look_round()
    assert scene.watch.restless() == scene.watch.problems() == ()
    assert len(scene.waiting) == 1, "one thread a root, however often it is asked"


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "fuse.sshfs", "9p", "fuse.rclone"])
def test_shares_are_remote(kind: str) -> None:
    """inotify(7), Limitations and caveats: it does not report events of network file systems."""
    assert is_remote(kind)


@pytest.mark.parametrize("kind", ["ext4", "btrfs", "xfs", "exfat", "fuseblk", "fuse.exfat", "zfs"])
def test_disks_are_not_remote(kind: str) -> None:
    assert not is_remote(kind)


def test_the_mounts_that_matter_are_the_one_below_and_those_within() -> None:
    table = parse_mountinfo(
        "1 0 8:1 / / rw - ext4 /dev/a rw\n"
        "2 1 0:5 / /home/x/mus rw - tmpfs t rw\n"
        "3 1 0:6 / /home/x/music rw - nfs4 host:/m rw\n"
        "4 3 0:7 / /home/x/music/in\\040side rw - ext4 /dev/b rw\n"
    )
    assert [m.place for m in mounts_of(b"/home/x/music", table)] == [
        "/home/x/music",
        "/home/x/music/in side",
    ]
    assert [m.place for m in mounts_of(b"/home/x/music/deep", table)] == ["/home/x/music"]
    assert [m.place for m in mounts_of(b"/home/x/musical", table)] == ["/"]


def test_without_inotify_the_daemon_is_loaded_all_the_same() -> None:
    """Elsewhere watchdog's module for inotify raises when it is imported."""
    program = (
        "import sys; sys.modules['watchdog.observers.inotify_c'] = None\n"
        "import syncd.daemon.watcher, syncd.cli.run_command\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_reader_of_watchdog_still_has_what_is_used_of_it() -> None:
    for name in ("_create_inotify_fd", "_get_or_create_watch", "remove_callbacks", "close"):
        assert callable(getattr(Reader, name))
