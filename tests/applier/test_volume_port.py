"""The port to a card, the real one and the one in memory held to the same tests; then the real
one's own dangers: links, pipes, folders closed to us, a card that goes."""

import contextlib
import errno
import os
import stat
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
import xxhash
from card_world import SCENES, assert_foreign_stays, dressed, named_by_catalogue, update
from counting_volume import CountingVolume

from syncd.applier import flushing, folder_volume, geometry, held
from syncd.applier.apply import apply
from syncd.applier.folder_volume import FolderVolume
from syncd.applier.locked import open_volume
from syncd.applier.reading import read_card
from syncd.applier.volume import Volume, content_hash
from syncd.errors import CardFull, CardGone, CardProblem
from syncd.planner.capacity import EXFAT_FUSE


@pytest.fixture(params=["folder", "memory", "blind memory"])
def volume(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Volume]:
    if request.param == "folder":
        (tmp_path / "card").mkdir()
        with FolderVolume(tmp_path / "card") as opened:
            yield opened
    else:
        yield CountingVolume(case_blind=request.param == "blind memory")


def paths(volume: Volume) -> list[str]:
    return [file.path for file in volume.listing().files]


def test_what_is_written_is_read_with_its_size_and_hash(volume: Volume) -> None:
    size, digest = volume.write("A/b/c.mp3", [b"one ", b"two"])
    assert (size, digest) == (7, xxhash.xxh3_128_hexdigest(b"one two"))
    assert volume.read("A/b/c.mp3") == b"one two"
    assert volume.size("A/b/c.mp3") == 7
    assert content_hash(volume.chunks("A/b/c.mp3")) == digest
    assert [(file.path, file.size) for file in volume.listing().files] == [("A/b/c.mp3", 7)]


def test_writing_again_replaces_the_whole(volume: Volume) -> None:
    volume.write("f", [b"a long content"])
    volume.write("f", [b"short"])
    assert volume.read("f") == b"short"


def test_what_is_appended_comes_behind(volume: Volume) -> None:
    volume.append("S/journal", b"one\n")
    volume.append("S/journal", b"two\n")
    assert volume.read("S/journal") == b"one\ntwo\n"


def test_what_is_not_there_has_no_size_and_no_content(volume: Volume) -> None:
    volume.write("A/file", [b"x"])
    for path in ("A/none", "none", "A/none/deeper", "A/file/below"):
        assert volume.size(path) is None
        assert volume.read(path) is None
        volume.remove(path)
    assert volume.size("A") is None
    assert paths(volume) == ["A/file"]


def test_a_rename_makes_folders_and_leaves_nothing_behind(volume: Volume) -> None:
    volume.write("in/x", [b"content"])
    volume.rename("in/x", "Music/New/x")
    assert paths(volume) == ["Music/New/x"]
    assert volume.read("Music/New/x") == b"content"


def test_renaming_what_is_not_there_is_a_card_problem(volume: Volume) -> None:
    with pytest.raises(CardProblem):
        volume.rename("none", "other")


def test_empty_folders_go_as_far_up_as_they_are_empty(volume: Volume) -> None:
    volume.write("A/b/c/x", [b""])
    volume.write("A/y", [b""])
    volume.remove_empty_folders("A/b/c")
    volume.remove("A/b/c/x")
    volume.remove_empty_folders("A/b/c")
    volume.write("A/b", [b"now a file may be there"])
    assert paths(volume) == ["A/b", "A/y"]
    volume.remove_empty_folders("none/at/all")


def test_files_come_in_order_of_their_paths(volume: Volume) -> None:
    for path in ("b", "a/z", "a b", "c/ä", "B2"):
        volume.write(path, [b""])
    assert paths(volume) == sorted(["b", "a/z", "a b", "c/ä", "B2"])
    volume.barrier()


def test_room_is_told_in_whole_clusters(volume: Volume) -> None:
    space = volume.space()
    assert space.cluster > 0
    assert 0 <= space.free <= space.total


@pytest.mark.parametrize(
    "name", [name for name, scene in SCENES.items() if not scene.case_blind and not scene.tight]
)
def test_the_folder_ends_like_the_card_in_memory(name: str, tmp_path: Path) -> None:
    scene = SCENES[name]
    memory = CountingVolume()
    with FolderVolume(tmp_path) as folder:
        for path, data in {"SYNCD/card.json": b"{}", **scene.foreign}.items():
            memory.put(path, data)
            folder.write(path, [data])
        for snapshot, wanted in (
            (scene.before, scene.profile_before),
            (scene.after, scene.profile_after),
        ):
            if snapshot is not None:
                for volume in (memory, folder):
                    update(volume, snapshot, wanted)
        assert {path: folder.read(path) for path in paths(folder)} == memory.content()
        found = {Path(at).relative_to(tmp_path).as_posix() for at, _, _ in os.walk(tmp_path)}
        assert found - {"."} == memory.folders()
        assert_foreign_stays(folder, scene.foreign)


# -- links, pipes and other traps on a card ------------------------------------------------------


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """A folder beside the card that nothing on the card may reach."""
    folder = tmp_path / "outside"
    (folder / "deep" / "empty").mkdir(parents=True)
    (folder / "precious.txt").write_text("precious")
    return folder


@pytest.fixture
def card(tmp_path: Path) -> Path:
    (tmp_path / "card").mkdir()
    return tmp_path / "card"


def state_of(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text() if path.is_file() else "folder"
        for path in folder.rglob("*")
    }


def test_a_linked_folder_is_never_followed(card: Path, outside: Path) -> None:
    (card / "link").symlink_to(outside)
    before = state_of(outside)
    with FolderVolume(card) as volume:
        assert [(file.path, file.size) for file in volume.listing().files] == [("link", 0)]
        assert volume.size("link/precious.txt") is None
        assert volume.read("link/precious.txt") is None
        volume.remove("link/precious.txt")
        volume.remove_empty_folders("link/deep/empty")
        for deed in (
            lambda: volume.write("link/new", [b"x"]),
            lambda: volume.append("link/precious.txt", b"x"),
            lambda: volume.write("link/made/new", [b"x"]),
            lambda: list(volume.chunks("link/precious.txt")),
            lambda: volume.rename("link/precious.txt", "here"),
        ):
            with pytest.raises(CardProblem):
                deed()
        volume.write("own", [b"x"])
        with pytest.raises(CardProblem):
            volume.rename("own", "link/own")
    assert state_of(outside) == before
    assert (card / "link").is_symlink()


def test_a_linked_file_is_never_written_through(card: Path, outside: Path) -> None:
    (card / "S").mkdir()
    (card / "S" / "file").symlink_to(outside / "precious.txt")
    (card / "S" / "journal").symlink_to(outside / "precious.txt")
    before = state_of(outside)
    with FolderVolume(card) as volume:
        assert volume.size("S/file") is None
        assert volume.read("S/file") is None
        with pytest.raises(CardProblem):
            list(volume.chunks("S/file"))
        volume.write("S/file", [b"ours"])
        volume.append("S/journal", b"ours")
        assert volume.read("S/file") == volume.read("S/journal") == b"ours"
    assert state_of(outside) == before


def test_a_path_that_leaves_the_card_is_refused(card: Path, outside: Path) -> None:
    with FolderVolume(card) as volume:
        for path in ("../outside/new", "/etc/passwd", "a/../../outside/new", "a//b", "./x", ""):
            with pytest.raises(CardProblem):
                volume.write(path, [b"x"])
            with pytest.raises(CardProblem):
                volume.remove(path)
    assert "new" not in state_of(outside)


def test_a_linked_syncd_folder_is_not_written_through(card: Path, outside: Path) -> None:
    """A hostile card: its own folder points at the listener's home."""
    (outside / "card.json").write_text("{}")
    (card / "SYNCD").symlink_to(outside)
    before = state_of(outside)
    with FolderVolume(card) as volume, pytest.raises(CardProblem):
        update(volume, SCENES["fresh"].after, SCENES["fresh"].profile_after)
    assert state_of(outside) == before


def test_a_link_in_the_way_of_a_folder_is_foreign_and_stays(card: Path, outside: Path) -> None:
    (card / "Music").mkdir()
    (card / "Music" / "Marnesund Five").symlink_to(outside)
    before = state_of(outside)
    with FolderVolume(card) as volume:
        plan, _ = update(volume, SCENES["fresh"].after, SCENES["fresh"].profile_after)
        assert "Music/Marnesund Five" in plan.foreign
        assert volume.size("Music/Marnesund Five (2)/Low Tide/01 Song 1.mp3") is not None
    assert state_of(outside) == before
    assert (card / "Music" / "Marnesund Five").is_symlink()


def test_pipes_on_a_card_hold_nothing_up(card: Path) -> None:
    (card / "SYNCD").mkdir()
    for name in ("manifest.gz", "journal", "cat-a.rec", "cat-a.db"):
        os.mkfifo(card / "SYNCD" / name)
    os.mkfifo(card / "pipe")
    with FolderVolume(card) as volume:
        update(volume, SCENES["fresh"].after, SCENES["fresh"].profile_after)
        named = named_by_catalogue(volume)
        assert named is not None
        assert len(named) == 6
    assert stat.S_ISFIFO((card / "pipe").stat().st_mode)


def test_a_rename_never_replaces_what_is_there(card: Path) -> None:
    (card / "there").write_text("the listener's own")
    (card / "folder").mkdir()
    with FolderVolume(card) as volume:
        volume.write("new", [b"ours"])
        for target in ("there", "folder"):
            with pytest.raises(CardProblem):
                volume.rename("new", target)
    assert (card / "there").read_text() == "the listener's own"


def test_a_file_that_comes_during_the_update_stays(card: Path) -> None:
    path = card / "Music" / "Marnesund Five" / "Low Tide" / "01 Song 1.mp3"
    scene = SCENES["fresh"]

    def meanwhile(step: object, size: int) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("the listener's own")

    with FolderVolume(card) as volume:
        with pytest.raises(CardProblem, match="came to the card card during the update"):
            update(volume, scene.after, scene.profile_after, meanwhile)
        assert path.read_text() == "the listener's own"
        plan, _ = update(volume, scene.after, scene.profile_after)
    assert path.read_text() == "the listener's own"
    assert list(plan.foreign) == ["Music/Marnesund Five/Low Tide/01 Song 1.mp3"]


@pytest.fixture
def closed(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Names of folders that may not be opened (root may open all, so it is made up)."""
    names: set[str] = set()
    true_open = os.open

    def opening(path, *arguments, **named):  # type: ignore[no-untyped-def]
        if path in names:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return true_open(path, *arguments, **named)

    monkeypatch.setattr(os, "open", opening)
    return names


def test_a_foreign_folder_that_is_closed_to_us_is_passed_by(card: Path, closed: set[str]) -> None:
    """Such as lost+found, which only root may look into."""
    (card / "lost+found").mkdir()
    closed.add("lost+found")
    with FolderVolume(card) as volume:
        update(volume, SCENES["fresh"].after, SCENES["fresh"].profile_after)
        assert "lost+found" in read_card(volume).state.foreign


def test_a_folder_of_ours_that_is_closed_to_us_stops_the_card(card: Path, closed: set[str]) -> None:
    with FolderVolume(card) as volume:
        update(volume, SCENES["fresh"].after, SCENES["fresh"].profile_after)
        closed.add("Marnesund Five")
        with pytest.raises(CardProblem, match="No permission to look into the folder Music/Marn"):
            update(volume, SCENES["fresh"].after, SCENES["fresh"].profile_after)


# -- errors are sentences ------------------------------------------------------------------------

CODES = {
    errno.ENOSPC: (CardFull, "is full"),
    errno.EDQUOT: (CardFull, "is full"),
    errno.ENODEV: (CardGone, "went away"),
    errno.ENXIO: (CardGone, "went away"),
    errno.ENOTCONN: (CardGone, "went away"),
    errno.EROFS: (CardProblem, "is read-only"),
    errno.EACCES: (CardProblem, "No permission to"),
    errno.EPERM: (CardProblem, "No permission to"),
    errno.EIO: (CardProblem, "input/output error"),
    errno.EFBIG: (CardProblem, "Check the card"),
}


@pytest.mark.parametrize("code", CODES, ids=lambda code: errno.errorcode[code])
@pytest.mark.parametrize("call", ["open", "write", "rename", "unlink", "fstatvfs", "scandir"])
def test_every_error_of_the_system_becomes_a_sentence_about_the_card(
    card: Path, monkeypatch: pytest.MonkeyPatch, call: str, code: int
) -> None:
    with FolderVolume(card, "KITCHEN") as volume:
        volume.write("there", [b"x"])

        def failing(*_: object, **__: object) -> None:
            raise OSError(code, os.strerror(code))

        monkeypatch.setattr(os, call, failing)
        kind, words = CODES[code]
        deeds = {
            "open": lambda: list(volume.chunks("there")),
            "write": lambda: volume.append("there", b"y"),
            "rename": lambda: volume.rename("there", "here"),
            "unlink": lambda: volume.remove("there"),
            "fstatvfs": volume.space,
            "scandir": volume.listing,
        }
        with pytest.raises(kind, match=words) as caught:
            deeds[call]()
        monkeypatch.undo()
    text = str(caught.value)
    assert "KITCHEN" in text
    assert text.endswith(".")
    assert isinstance(caught.value.__cause__, OSError)


def test_a_card_that_is_replaced_under_its_mount_point_is_not_written_to(tmp_path: Path) -> None:
    """Unmounting leaves an empty folder of the same name, which is not an empty card."""
    card = tmp_path / "card"
    card.mkdir()
    with FolderVolume(card) as volume:
        volume.write("before", [b"x"])
        card.rename(tmp_path / "moved")
        card.mkdir()
        volume.write("after", [b"x"])
    assert list(card.iterdir()) == []
    assert sorted(path.name for path in (tmp_path / "moved").iterdir()) == ["after", "before"]


def test_a_card_that_is_gone_says_so(tmp_path: Path) -> None:
    with pytest.raises(CardGone, match="Plug it in again"):
        FolderVolume(tmp_path / "none")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_write_permission_is_told(card: Path) -> None:
    card.chmod(0o555)
    try:
        with FolderVolume(card) as volume, pytest.raises(CardProblem, match="No permission"):
            volume.write("x", [b"x"])
    finally:
        card.chmod(0o755)


def test_two_cannot_lock_one_card(card: Path) -> None:
    (card / "lock").write_text("")
    with FolderVolume(card) as one, FolderVolume(card) as two:
        assert one.lock("lock")
        assert not two.lock("lock")
        one.close()
        assert two.lock("lock")


def test_a_plan_without_steps_opens_nothing_for_writing(card: Path) -> None:
    scene = SCENES["fresh"]
    with FolderVolume(card) as volume:
        plan, _ = update(volume, scene.after, scene.profile_after)
        times = {path: path.stat().st_mtime_ns for path in card.rglob("*")}
        again = read_card(volume)
        done = apply(type(plan)(end=plan.end), volume, again, dressed, lambda placed: card)
        assert done.bytes_written == 0
    assert {path: path.stat().st_mtime_ns for path in card.rglob("*")} == times


def test_a_barrier_tells_the_medium_too_to_empty_its_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """syncfs on FAT sends no flush, and reaches no daemon behind FUSE; fsync of a folder does."""
    told: list[tuple[str, int]] = []
    monkeypatch.setattr(flushing, "syncfs", lambda fd: told.append(("syncfs", os.fstat(fd).st_ino)))
    monkeypatch.setattr(os, "fsync", lambda fd: told.append(("fsync", os.fstat(fd).st_ino)))
    with FolderVolume(tmp_path) as volume:
        volume.barrier()
    root = tmp_path.stat().st_ino
    assert told == [("syncfs", root), ("fsync", root)]


def test_a_file_system_without_fsync_for_folders_is_no_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(fd: int) -> None:
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(os, "fsync", none)
    with FolderVolume(tmp_path) as volume:
        volume.barrier()


def test_on_fat_what_is_removed_is_held_open_until_a_barrier_has_passed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The driver writes FAT's table before its folders; no name may stay without clusters."""
    monkeypatch.setattr(flushing, "is_fat", lambda fd: True)
    monkeypatch.setattr(held, "MOST_HELD", 3)
    closed: list[int] = []
    close = os.close

    def told(fd: int) -> None:
        closed.append(os.fstat(fd).st_ino)
        close(fd)

    with FolderVolume(tmp_path) as volume:
        for name in "abcde":
            volume.write(f"F/{name}", [b"x"])
        inodes = {name: (tmp_path / "F" / name).stat().st_ino for name in "abcde"}
        monkeypatch.setattr(os, "close", told)
        volume.remove("F/a")
        volume.write("F/b", [b"anew"])  # another file under the same name
        assert not {inodes["a"], inodes["b"]} & set(closed)
        volume.barrier()
        assert {inodes["a"], inodes["b"]} <= set(closed)
        assert (tmp_path / "F" / "b").stat().st_ino != inodes["b"]
        closed.clear()
        for name in "bcde":
            volume.remove(f"F/{name}")
        assert {inodes["c"], inodes["d"]} <= set(closed)  # no more than three at a time
        assert inodes["e"] not in closed
        folder = (tmp_path / "F").stat().st_ino
        closed.clear()
        volume.remove_empty_folders("F")
        assert not (tmp_path / "F").exists()
    assert {folder, inodes["e"]} <= set(closed)


@pytest.mark.parametrize("magic", [flushing.FAT, flushing.EXFAT, 0])
def test_a_file_is_trimmed_to_its_own_size_and_only_on_fat(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, magic: int
) -> None:
    trimmed: list[int] = []
    monkeypatch.setattr(flushing, "magic", lambda fd: magic)
    monkeypatch.setattr(os, "ftruncate", lambda fd, size: trimmed.append(size))
    with FolderVolume(tmp_path) as volume:
        volume.write("F/a", [b"12345"])
        for path in ("F/a", "F/gone", "gone/a"):
            volume.trim(path)
        assert volume.read("F/a") == b"12345"
    assert trimmed == ([5] if magic == flushing.FAT else [])


@pytest.mark.parametrize("fat", [True, False])
def test_a_locked_file_keeps_its_lock_and_its_clusters_when_it_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fat: bool
) -> None:
    monkeypatch.setattr(flushing, "is_fat", lambda fd: fat)
    card = tmp_path / "SYNCD" / "card.json"

    def pieces() -> Iterator[bytes]:
        assert card.stat().st_size == len(b'{"name": "before"}'), "it was cut down"
        yield b'{"name": "X"}'

    with FolderVolume(tmp_path) as volume, FolderVolume(tmp_path) as other:
        volume.write("SYNCD/card.json", [b'{"name": "before"}'])
        assert volume.lock("SYNCD/card.json")
        volume.write("SYNCD/card.json", pieces())
        assert not other.lock("SYNCD/card.json")
    assert card.read_bytes() == b'{"name": "X"}'


@pytest.mark.parametrize(
    ("magic", "wanted"),
    [
        (flushing.EXFAT, ["fsync", "syncfs", "fsync"]),  # else names are written before the bitmap
        (flushing.FAT, ["fsync", "syncfs", "fsync"]),  # nor before the table
        (flushing.FUSE, ["syncfs", "fsync"]),
    ],
)
def test_a_barrier_writes_the_table_or_bitmap_of_clusters_before_the_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, magic: int, wanted: list[str]
) -> None:
    deeds: list[str] = []
    monkeypatch.setattr(flushing, "magic", lambda fd: magic)
    monkeypatch.setattr(flushing, "syncfs", lambda fd: deeds.append("syncfs"))
    monkeypatch.setattr(os, "fsync", lambda fd: deeds.append("fsync"))
    with FolderVolume(tmp_path) as volume:
        volume.barrier()
    assert deeds == wanted


@pytest.mark.parametrize("magic", [flushing.FAT, flushing.EXFAT])
def test_what_is_removed_is_held_on_both_of_the_kernels_drivers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, magic: int
) -> None:
    monkeypatch.setattr(flushing, "magic", lambda fd: magic)
    with FolderVolume(tmp_path) as volume:
        volume.write("a", [b"x"])
        inode = (tmp_path / "a").stat().st_ino
        volume.remove("a")
        assert inode in opened_here()
        volume.barrier()
        assert inode not in opened_here()


def test_on_exfat_fuse_each_removal_is_written_out_before_its_clusters_count_as_free(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """exfat-fuse writes the bitmap with what is done next; it cannot hold what was removed."""
    deeds: list[str] = []
    monkeypatch.setattr(folder_volume, "file_system", lambda fd: EXFAT_FUSE)
    monkeypatch.setattr(flushing, "syncfs", lambda fd: deeds.append("written out"))
    for name in ("open", "unlink", "rmdir"):
        told(monkeypatch, name, deeds)
    with FolderVolume(tmp_path) as volume:
        volume.write("F/a", [b"x"])
        deeds.clear()
        volume.write("F/a", [b"anew"])
        assert deeds[-3:] == ["unlink a", "written out", "open a"], "it is not cut down"
        deeds.clear()
        volume.remove("F/a")
        volume.remove_empty_folders("F")
        assert [deed for deed in deeds if not deed.startswith("open")] == [
            "unlink a", "written out", "rmdir F", "written out",
        ]  # fmt: skip
        deeds.clear()
        volume.remove("gone")
        assert "written out" not in deeds


def told(monkeypatch: pytest.MonkeyPatch, name: str, deeds: list[str]) -> None:
    """Have calls of the system's *name* told in *deeds*, but for folders that are opened."""
    call = getattr(os, name)

    def telling(path: str, *arguments: object, **named: object) -> object:
        if name != "open" or path == "a":
            deeds.append(f"{name} {path}")
        return call(path, *arguments, **named)

    monkeypatch.setattr(os, name, telling)


def opened_here() -> set[int]:
    """The inodes of all files that this process has open."""
    found = set()
    for fd in range(256):
        with contextlib.suppress(OSError):
            found.add(os.fstat(fd).st_ino)
    return found


def test_on_a_full_fat_card_what_was_removed_makes_room_before_it_counts_as_full(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(flushing, "is_fat", lambda fd: True)
    synced: list[int] = []
    monkeypatch.setattr(flushing, "syncfs", synced.append)
    write = os.write

    def filling(fd: int, data: bytes) -> int:
        if not synced:
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(fd, data)

    with FolderVolume(card, "KITCHEN") as volume:
        volume.write("old", [b"old"])
        volume.barrier()
        synced.clear()
        monkeypatch.setattr(os, "write", filling)
        with pytest.raises(CardFull):
            volume.write("new", [b"new"])  # nothing was removed
        volume.remove("old")
        volume.write("new", [b"new"])
        assert volume.read("new") == b"new"
        assert len(synced) == 1


@pytest.mark.parametrize("call", ["mkdir", "rename"])
def test_a_folder_that_must_grow_on_a_full_fat_card_gets_what_was_removed(
    card: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    monkeypatch.setattr(flushing, "is_fat", lambda fd: True)
    synced: list[int] = []
    monkeypatch.setattr(flushing, "syncfs", synced.append)
    real = getattr(os, call)

    def full(*arguments: object, **named: object) -> object:
        if not synced:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(*arguments, **named)

    with FolderVolume(card, "KITCHEN") as volume:
        volume.write("old", [b"old"])
        volume.write("aside", [b"new"])
        monkeypatch.setattr(os, call, full)
        target = "F/G/new" if call == "mkdir" else "new"
        with pytest.raises(CardFull):
            volume.rename("aside", target)  # nothing was removed
        volume.remove("old")
        volume.rename("aside", target)
        assert volume.read(target) == b"new"


def test_what_is_held_beyond_a_number_goes_past_a_whole_barrier(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On exFAT names of files that were written meanwhile must not come before the bitmap."""
    monkeypatch.setattr(flushing, "magic", lambda fd: flushing.EXFAT)
    monkeypatch.setattr(held, "MOST_HELD", 2)
    deeds: list[str] = []
    monkeypatch.setattr(flushing, "syncfs", lambda fd: deeds.append("syncfs"))
    monkeypatch.setattr(os, "fsync", lambda fd: deeds.append("fsync"))
    with FolderVolume(card) as volume:
        for name in "abc":
            volume.write(name, [b"x"])
        for name in "ab":
            volume.remove(name)
        assert deeds == []
        volume.remove("c")
        assert deeds == ["fsync", "syncfs", "fsync"]


@pytest.mark.parametrize("fails", [False, True])
def test_what_is_still_held_when_a_card_is_let_go_is_written_out_first(
    card: Path, monkeypatch: pytest.MonkeyPatch, fails: bool
) -> None:
    """An update that was stopped between two barriers: the card may be pulled at once."""
    monkeypatch.setattr(flushing, "is_fat", lambda fd: True)
    open_then: list[bool] = []
    with FolderVolume(card) as volume:
        volume.write("a", [b"x"])
        inode = (card / "a").stat().st_ino
        volume.remove("a")

        def syncfs(fd: int) -> None:
            open_then.append(inode in opened_here())
            if fails:
                raise OSError(errno.EIO, "Input/output error")

        monkeypatch.setattr(flushing, "syncfs", syncfs)
    assert open_then == [True]
    assert inode not in opened_here()


def test_a_card_that_nothing_was_removed_from_is_let_go_without_a_write(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(flushing, "is_fat", lambda fd: True)
    synced: list[int] = []
    monkeypatch.setattr(flushing, "syncfs", synced.append)
    with FolderVolume(card) as volume:
        volume.read("a")
    assert not synced


def test_a_card_that_was_let_go_closes_no_other_file_and_is_not_used_again(card: Path) -> None:
    with FolderVolume(card) as volume:
        volume.close()
        other = os.open(card, os.O_RDONLY)  # the system gives the same number again
        volume.close()
        os.close(other)
        with pytest.raises(CardProblem):
            volume.space()


@pytest.mark.parametrize("fault", ["lock", "look"])
def test_a_card_that_cannot_be_taken_in_hand_is_left_closed(
    card: Path, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    if fault == "look":

        def gone(fd: int) -> None:
            raise OSError(errno.ENOTCONN, "Transport endpoint is not connected")

        monkeypatch.setattr(folder_volume, "file_system", gone)
    # There is no SYNCD/card.json to lock.
    with pytest.raises(CardProblem):
        open_volume(card, "KITCHEN")
    assert card.stat().st_ino not in opened_here()


def test_folders_without_end_are_passed_by(card: Path) -> None:
    """A card is hostile input: a way of a thousand folders would take as many open files."""
    fds = [os.open(card, os.O_RDONLY)]
    for _ in range(1100):
        os.mkdir("d", dir_fd=fds[-1])
        fds.append(os.open("d", os.O_RDONLY, dir_fd=fds[-1]))
        os.close(fds.pop(-2))
    os.close(fds.pop())
    try:
        scene = SCENES["fresh"]
        with FolderVolume(card) as volume:
            update(volume, scene.after, scene.profile_after)
            assert update(volume, scene.after, scene.profile_after)[0].steps == ()
            assert [file.path for file in volume.listing().files if file.closed] == [
                "/".join("d" * (folder_volume.DEEPEST + 1))
            ]
    finally:
        subprocess.run(["rm", "-rf", str(card / "d")], check=True)


def test_a_mount_point_whose_name_is_no_text_hides_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    image = tmp_path / "image"
    image.write_bytes(b"\xeb\x76\x90EXFAT   ")  # exFAT specification 3.1.1, 3.1.2
    mounts = tmp_path / "mountinfo"
    line = f"36 35 250:7 / /media/x rw - fuseblk {image} rw\n".encode()
    mounts.write_bytes(b"35 1 250:6 / /media/M\xfcll\x85er rw - vfat /dev/x rw\n" + line)
    monkeypatch.setattr(geometry, "_MOUNTS", mounts)
    monkeypatch.setattr(flushing, "magic", lambda fd: flushing.FUSE)
    monkeypatch.setattr(
        os, "fstat", lambda fd: os.stat_result([0, 0, os.makedev(250, 7)] + [0] * 7)
    )
    assert geometry.file_system(0) is EXFAT_FUSE
