"""The store: nothing half made is ever found in it, whatever ends a run."""

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import xxhash

from syncd.errors import SetupProblem
from syncd.model import AudioHash, ContentHash
from syncd.transcoder import store_files
from syncd.transcoder.store import Pressing, PressingKey, Store

A, B, C = (AudioHash(letter * 32) for letter in "abc")
KEY = "r1-mp3-44100-2ch-q2"


def put(store: Store, audio: AudioHash, data: bytes, key: str = KEY) -> Pressing:
    part = store.part(".mp3")
    part.write_bytes(data)
    return store.put(audio, key, part)


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


def test_what_was_put_in_is_found_with_its_hash(store: Store) -> None:
    kept = put(store, A, b"music")
    assert store.get(A, KEY) == kept
    assert kept.path.read_bytes() == b"music"
    assert kept.hash == xxhash.xxh3_128_hexdigest(b"music")
    assert store.sizes() == {(A, KEY): 5}
    assert store.get(B, KEY) is None
    assert store.get(A, "r1-other") is None


def test_a_second_run_finds_what_the_first_put_in(tmp_path: Path) -> None:
    with Store(tmp_path / "s") as store:
        kept = put(store, A, b"music")
    with Store(tmp_path / "s") as store:
        assert store.get(A, KEY) == kept
        assert not store.notices


def test_a_pressing_of_another_size_is_set_aside_and_made_again(store: Store) -> None:
    kept = put(store, A, b"music")
    kept.path.write_bytes(b"mus")
    assert store.get(A, KEY) is None
    assert "made again" in store.notices[0]
    assert (store.folder / "damaged" / kept.path.name).read_bytes() == b"mus"
    assert put(store, A, b"music") == kept


def test_a_pressing_with_a_changed_byte_is_found_by_its_hash(store: Store) -> None:
    kept = put(store, A, b"music")
    assert store.verify(kept)
    kept.path.write_bytes(b"musiq")
    assert store.get(A, KEY) == kept  # its size is right, which is believed
    assert not store.verify(kept)
    assert store.get(A, KEY) is None


def test_a_pressing_that_someone_deleted_is_made_again(store: Store) -> None:
    put(store, A, b"music").path.unlink()
    assert store.get(A, KEY) is None
    assert store.sizes() == {}


def test_a_file_without_a_row_is_taken_in_when_it_is_asked_for(tmp_path: Path) -> None:
    with Store(tmp_path / "s") as store:
        kept = put(store, A, b"music")
        damaged = put(store, B, b"other")
    with sqlite3.connect(tmp_path / "s" / "store.db") as db:  # killed between file and row
        db.execute("DELETE FROM pressings")
    db.close()
    damaged.path.write_bytes(b"othex")
    with Store(tmp_path / "s") as store:
        assert store.get(A, KEY) == kept
        assert store.get(B, KEY) is None
        assert store.sizes() == {(A, KEY): 5}


def test_a_damaged_index_is_set_aside_and_rebuilt(tmp_path: Path) -> None:
    with Store(tmp_path / "s") as store:
        kept = [put(store, audio, audio.encode()) for audio in (A, B)]
    index = tmp_path / "s" / "store.db"
    index.write_bytes(b"SQLite format 3\0" + os.urandom(5000))
    with Store(tmp_path / "s") as store:
        assert [store.get(audio, KEY) for audio in (A, B)] == kept
        assert "set aside" in store.notices[0]
    assert (tmp_path / "s" / "store.db.damaged-1").exists()


def test_an_index_that_fails_during_a_run_is_told_in_a_sentence(store: Store) -> None:
    store._index._db.execute("PRAGMA query_only = ON")  # as a full or read-only disk does
    with pytest.raises(SetupProblem, match="index of the store"):
        put(store, A, b"music")
    store._index._db.execute("PRAGMA query_only = OFF")
    found = store.get(A, KEY)  # the file itself is whole, so it is not lost
    assert found is not None
    assert store.verify(found)


def test_a_lost_index_is_rebuilt(tmp_path: Path) -> None:
    with Store(tmp_path / "s") as store:
        put(store, A, b"music")
    for path in (tmp_path / "s").glob("store.db*"):
        path.unlink()
    with Store(tmp_path / "s") as store:
        assert store.sizes() == {(A, KEY): 5}


def test_the_index_of_a_newer_syncd_is_refused_and_left_alone(tmp_path: Path) -> None:
    Store(tmp_path / "s").close()
    with sqlite3.connect(tmp_path / "s" / "store.db") as db:
        db.execute("PRAGMA user_version = 99")
    db.close()
    with pytest.raises(SetupProblem, match="newer syncd"):
        Store(tmp_path / "s")
    assert not list((tmp_path / "s").glob("*.damaged*"))


def test_a_folder_that_cannot_be_made_is_a_setup_problem(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(SetupProblem, match="cannot be used"):
        Store(tmp_path / "file" / "store")


def test_trimming_takes_the_longest_unused_first_and_never_what_is_kept(tmp_path: Path) -> None:
    now = [100.0]
    with Store(tmp_path / "s", clock=lambda: now[0]) as store:
        for number, audio in enumerate((A, B, C)):
            now[0] = 100.0 + number
            put(store, audio, bytes(1000))
        now[0] = 200.0
        store.get(A, KEY)
        assert sorted(store.last_used().values()) == [101.0, 102.0, 200.0]
        trimmed = store.trim(2000)
        assert (trimmed.removed, trimmed.bytes_removed, trimmed.bytes_left) == (1, 1000, 2000)
        assert set(store.sizes()) == {(A, KEY), (C, KEY)}
        keep: set[PressingKey] = {(C, KEY)}
        assert store.trim(0, keep).bytes_left == 1000
        assert set(store.sizes()) == {(C, KEY)}
        assert len(files(tmp_path / "s" / "pressings")) == 1


def test_use_is_remembered_over_runs(tmp_path: Path) -> None:
    with Store(tmp_path / "s", clock=lambda: 1.0) as store:
        put(store, A, b"music")
    with Store(tmp_path / "s", clock=lambda: 2.0) as store:
        store.get(A, KEY)
    with Store(tmp_path / "s") as store:
        assert store.last_used() == {(A, KEY): 2.0}


def test_making_the_same_again_with_other_bytes_leaves_one_file(store: Store) -> None:
    put(store, A, b"old")
    kept = put(store, A, b"new!")
    assert files(store.folder / "pressings") == [kept.path.name]
    assert store.sizes() == {(A, KEY): 4}


def test_leftovers_of_a_dead_run_are_swept_and_those_of_a_live_one_are_not(tmp_path: Path) -> None:
    ended = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"],
                           capture_output=True, text=True, check=True)  # fmt: skip
    with Store(tmp_path / "s") as store:
        mine = store.part(".mp3")
        mine.write_bytes(b"half")
        dead = mine.with_name(f"part-{ended.stdout.strip()}-1-0.mp3")
        dead.write_bytes(b"half")
        foreign = mine.with_name("notes.txt")
        foreign.write_text("not ours")
        with Store(tmp_path / "s"):
            assert mine.exists()
            assert foreign.exists()
            assert not dead.exists()


@pytest.mark.parametrize(("up_s", "stays"), [(3600.0, True), (2 * 86400.0, False)])
def test_a_clock_that_is_set_forward_after_the_start_takes_no_part_from_a_live_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, up_s: float, stays: bool
) -> None:
    """As on boards without a clock of their own. What bears a number used anew goes, though."""
    with Store(tmp_path / "s") as store:
        mine = store.part(".mp3")
        mine.write_bytes(b"half")
        os.utime(mine, (0.0, 0.0))
        monkeypatch.setattr(store_files.time, "monotonic", lambda: up_s)
        with Store(tmp_path / "s"):
            assert mine.exists() == stays


def test_two_writers_of_the_same_pressing_leave_one_whole_file(tmp_path: Path) -> None:
    data = bytes(range(256)) * 500
    with Store(tmp_path / "s") as one, Store(tmp_path / "s") as other:
        threads = [
            threading.Thread(target=put, args=(store, audio, data))
            for store in (one, other)
            for audio in (A, B, C)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert one.sizes() == other.sizes() == {(audio, KEY): len(data) for audio in (A, B, C)}
        for audio in (A, B, C):
            kept = one.get(audio, KEY)
            assert kept is not None
            assert one.verify(kept)
    assert len(files(tmp_path / "s" / "pressings")) == 3


WRITER = """
import os, signal, sys
from pathlib import Path
from syncd.model import AudioHash
from syncd.transcoder import store as module, store_index

stop_at, calls = int(sys.argv[2]), 0

def counted(function):
    def wrapper(*arguments, **named):
        global calls
        calls += 1
        if calls == stop_at:
            os.kill(os.getpid(), signal.SIGKILL)
        return function(*arguments, **named)
    return wrapper

os.fsync = counted(os.fsync)
Path.replace = counted(Path.replace)
Path.write_bytes = counted(Path.write_bytes)
Path.unlink = counted(Path.unlink)
module.hash_and_sync = counted(module.hash_and_sync)
store_index.StoreIndex.put = counted(store_index.StoreIndex.put)
store_index.StoreIndex.forget = counted(store_index.StoreIndex.forget)
with module.Store(Path(sys.argv[1])) as store:
    for letter in "ab":
        part = store.part(".mp3")
        part.write_bytes(letter.encode() * 1000)
        store.put(AudioHash(letter * 32), "r1-x", part)
    part = store.part(".mp3")
    part.write_bytes(b"A" * 1000)
    store.put(AudioHash("a" * 32), "r1-x", part)
    store.trim(1500)
print(calls)
"""


def test_a_kill_at_any_step_leaves_only_whole_pressings(tmp_path: Path) -> None:
    def run(folder: Path, stop_at: int) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", WRITER, str(folder), str(stop_at)]
        return subprocess.run(command, capture_output=True, text=True, check=False)

    steps = int(run(tmp_path / "whole", 0).stdout)
    assert steps > 10
    folders = {step: tmp_path / f"killed-{step}" for step in range(1, steps + 1)}
    with ThreadPoolExecutor(4) as pool:
        ran = list(pool.map(run, folders.values(), folders))
    assert {process.returncode for process in ran} == {-signal.SIGKILL}
    for folder in folders.values():
        with Store(folder) as store:
            assert not files(folder / "parts")
            for letter in "ab":
                kept = store.get(AudioHash(letter * 32), "r1-x")
                if kept is not None:
                    assert kept.path.read_bytes().lower() == letter.encode() * 1000
                    assert store.verify(kept)
            # What a kill has left beside the index is counted, and goes like the rest.
            store.trim(10_000)
            assert len(files(folder / "pressings")) == len(store.sizes())
            assert store.trim(0).bytes_left == 0
            assert files(folder / "pressings") == []


def test_an_index_of_the_first_format_keeps_its_rows(tmp_path: Path) -> None:
    with Store(tmp_path / "s") as store:
        kept = put(store, A, b"music")
    with sqlite3.connect(tmp_path / "s" / "store.db") as db:
        db.execute("ALTER TABLE pressings DROP COLUMN made_by")
        db.execute("PRAGMA user_version = 1")
    db.close()
    with Store(tmp_path / "s") as store:
        assert store.get(A, KEY) == kept
        assert [held.made_by for held in store.held()] == [""]


def test_what_made_a_pressing_is_remembered_and_its_pressings_can_be_removed(store: Store) -> None:
    for audio, version in ((A, "6.1"), (B, "7.0"), (C, "7.0")):
        part = store.part(".mp3")
        part.write_bytes(b"music")
        store.put(audio, KEY, part, version)
    assert {held.key[0]: held.made_by for held in store.held()} == {A: "6.1", B: "7.0", C: "7.0"}
    old = [held.key for held in store.held() if held.made_by != "7.0"]
    assert store.remove(old).removed == 1
    assert set(store.sizes()) == {(B, KEY), (C, KEY)}
    assert len(files(store.folder / "pressings")) == 2


def test_a_picture_is_made_once_and_a_bad_one_is_remembered(store: Store) -> None:
    asked = []

    def maker(result: bytes | None) -> bytes | None:
        asked.append(result)
        return result

    one, other = ContentHash("1" * 32), ContentHash("2" * 32)
    for _ in range(2):
        assert store.art(one, "240.jpg", lambda: maker(b"jpeg")) == b"jpeg"
        assert store.art(other, "240.jpg", lambda: maker(None)) is None
    assert store.art(one, "500.jpg", lambda: maker(b"larger")) == b"larger"
    assert asked == [b"jpeg", None, b"larger"]
    assert store.size().pictures == 3


def test_sizes_of_many_pressings_come_from_one_query(store: Store) -> None:
    rows = [(f"{number:032x}", KEY, "0" * 32, ".mp3", number, 0.0) for number in range(20_000)]
    with sqlite3.connect(store.folder / "store.db") as db:
        db.executemany("INSERT INTO pressings VALUES (?, ?, ?, ?, ?, ?, '')", rows)
    db.close()
    queries: list[str] = []
    store._index._db.set_trace_callback(queries.append)
    assert len(store.sizes()) == 20_000
    assert len(queries) == 1
