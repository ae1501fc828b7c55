"""Working processes: heard, stopped, killed, and what they inherit."""

import errno
import fcntl
import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import psutil
import pytest
from daemon_kit import run_until
from update_kit import tone

from syncd.daemon import child as child_module
from syncd.daemon import logs, work
from syncd.daemon.child import Child, order_of
from syncd.daemon.loop import Loop
from syncd.daemon.process import Forked, Process, Spawned, can_fork
from syncd.library.index import LibraryIndex
from syncd.settings import Home, find_home

MAKERS = [Spawned, *([Forked] if can_fork() else [])]


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return find_home(str(tmp_path / "home"), environment={}).made()


class Heard:
    """What a job said."""

    def __init__(
        self,
        order: str,
        make: Callable[[str, Sequence[int]], Process],
        keeps: Sequence[int] = (),
    ) -> None:
        self.loop = Loop()
        self.events: list[dict[str, Any]] = []
        self.last: list[dict[str, Any]] = []
        self.child = Child(
            self.loop, order, self.events.append, self.last.append, keeps=keeps, make=make
        )

    def to_its_end(self) -> dict[str, Any]:
        run_until(self.loop, lambda: bool(self.last))
        self.loop.close()
        (last,) = self.last
        return last


@pytest.mark.parametrize("make", MAKERS)
def test_a_scan_in_a_process_of_its_own_tells_what_it_found(
    home: Home, tmp_path: Path, make: Any
) -> None:
    music = tmp_path / "music"
    music.mkdir()
    with LibraryIndex(home.index_file) as index:
        index.add_root(music)
    heard = Heard(order_of("scan", home), make)
    last = heard.to_its_end()
    assert last["event"] == "done" and last["roots"] == [str(music)] and not last["changed"]
    assert [event["event"] for event in heard.events[:2]] == ["up", "begun"]


@pytest.mark.parametrize("make", MAKERS)
def test_another_cover_is_a_change_of_the_library(home: Home, tmp_path: Path, make: Any) -> None:
    """Cards hold it, too: the soak found some that kept the old one."""
    cover = tmp_path / "music" / "cover.jpg"
    tone(cover.with_name("01.flac"), 440)
    with LibraryIndex(home.index_file) as index:
        index.add_root(cover.parent)
    assert Heard(order_of("scan", home), make).to_its_end()["new"] == 1
    cover.write_bytes(b"\xff\xd8\xff\xe0 one")
    assert Heard(order_of("scan", home), make).to_its_end()["changed"]
    assert not Heard(order_of("scan", home), make).to_its_end()["changed"]
    cover.unlink()
    assert Heard(order_of("scan", home), make).to_its_end()["changed"]


@pytest.mark.parametrize("make", MAKERS)
def test_a_problem_is_told_with_its_kind(home: Home, tmp_path: Path, make: Any) -> None:
    order = order_of("update", home, card_id="x", name="KITCHEN", mount=str(tmp_path))
    last = Heard(order, make).to_its_end()
    assert (last["event"], last["kind"]) == ("failed", "setup")
    assert "syncd library add" in last["message"]


@pytest.mark.parametrize("make", MAKERS)
def test_a_fault_in_a_job_is_told_and_ends_nothing_else(home: Home, make: Any) -> None:
    last = Heard(order_of("no such job", home), make).to_its_end()
    assert (last["event"], last["kind"]) == ("failed", "fault")


def waiting(home: Home, order: dict[str, Any], say: Any) -> dict[str, Any]:
    """A job that goes on until it is asked to stop."""
    while True:
        signal.pause()


def deaf(home: Home, order: dict[str, Any], say: Any) -> dict[str, Any]:
    """A job that never finds a safe point."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    say("deaf")
    while True:
        signal.pause()


forking = pytest.mark.skipif(not can_fork(), reason="no forking here")


@forking
def test_a_job_that_is_asked_to_stop_says_so(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(work.JOBS, "wait", waiting)
    heard = Heard(order_of("wait", home), Forked)
    run_until(heard.loop, lambda: bool(heard.events))
    heard.child.stop()
    assert heard.to_its_end()["event"] == "stopped"


@forking
def test_a_job_that_is_stopped_at_once_is_stopped(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(work.JOBS, "wait", waiting)
    heard = Heard(order_of("wait", home), Forked)
    heard.child.stop()
    assert heard.to_its_end()["event"] == "stopped"


@forking
def test_a_job_that_does_not_stop_is_killed(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(work.JOBS, "deaf", deaf)
    monkeypatch.setattr(child_module, "PATIENCE_S", 0.05)
    heard = Heard(order_of("deaf", home), Forked)
    run_until(heard.loop, lambda: {"event": "deaf"} in heard.events)
    heard.child.stop()
    assert heard.to_its_end()["event"] == "stopped"


@forking
def test_a_job_that_is_killed_from_outside_is_told_as_a_failure(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(work.JOBS, "wait", waiting)
    heard = Heard(order_of("wait", home), Forked)
    run_until(heard.loop, lambda: bool(heard.events))
    os.kill(heard.child.pid, signal.SIGKILL)
    last = heard.to_its_end()
    assert last["kind"] == "fault" and "signal 9" in last["message"]


@forking
def test_a_job_that_lingers_after_its_last_word_holds_up_nobody_and_is_no_zombie(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    def lingering(home: Home, order: dict[str, Any], say: Any) -> dict[str, Any]:
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        say("done", last=True, at="once")
        os.close(say._fd)  # as it is by ending
        while True:
            signal.pause()

    monkeypatch.setitem(work.JOBS, "linger", lingering)
    monkeypatch.setattr(child_module, "_LINGERS", 3)
    heard = Heard(order_of("linger", home), Forked)
    pid = heard.child.pid
    waited: list[float] = []
    wait = heard.child._process.wait

    def watched(patience_s: float) -> int | None:
        waited.append(patience_s)
        return wait(patience_s)

    monkeypatch.setattr(heard.child._process, "wait", watched)
    assert heard.to_its_end() == {"event": "done", "last": True, "at": "once"}
    assert len(waited) > 3 and sum(waited) < 0.1  # the loop goes on meanwhile
    assert not psutil.pid_exists(pid)


@forking
def test_a_fork_holds_the_lock_and_no_other_descriptor(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    def telling(home: Home, order: dict[str, Any], say: Any) -> dict[str, Any]:
        links = {}
        for name in os.listdir("/proc/self/fd"):
            try:
                links[name] = str(Path(f"/proc/self/fd/{name}").readlink())
            except OSError:
                continue
        return {"links": links}

    monkeypatch.setitem(work.JOBS, "tell", telling)
    lock = home.try_lock()
    assert lock is not None
    secret_r, secret_w = os.pipe()
    secret = str(Path(f"/proc/self/fd/{secret_w}").readlink())
    last = Heard(order_of("tell", home), Forked, [lock]).to_its_end()
    links = last["links"]
    assert links[str(lock)].endswith("/lock")
    assert secret not in links.values()
    assert links[str(secret_w)] == os.devnull
    for fd in (lock, secret_r, secret_w):
        os.close(fd)


@forking
def test_the_lock_stays_until_the_last_job_has_ended(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(work.JOBS, "wait", waiting)
    lock = home.try_lock()
    assert lock is not None
    heard = Heard(order_of("wait", home), Forked, [lock])
    run_until(heard.loop, lambda: bool(heard.events))
    os.close(lock)
    assert home.try_lock() is None
    heard.child.stop()
    heard.to_its_end()
    again = home.try_lock()
    assert again is not None
    fcntl.flock(again, fcntl.LOCK_UN)
    os.close(again)


@forking
def test_a_fork_that_hangs_before_its_first_word_is_replaced_by_a_new_python(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(child_module, "MUTE_S", 0.05)
    monkeypatch.setattr(work, "main", lambda arguments: signal.pause())
    heard = Heard(order_of("scan", home), Forked)
    hung = heard.child.pid
    assert heard.to_its_end()["event"] == "done"
    assert not psutil.pid_exists(hung)


def test_a_job_ends_with_the_daemon_that_began_it(home: Home, tmp_path: Path) -> None:
    """Its standard input closes, however the daemon ends."""
    order = json.loads(order_of("scan", home))
    fifo = tmp_path / "library"
    os.mkfifo(fifo)
    program = (
        "import sys, signal\n"
        "from syncd.daemon import work\n"
        "work.JOBS['scan'] = lambda *_: signal.pause()\n"
        "work.main(sys.argv[1:])\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program, json.dumps(order)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert process.stdin is not None and process.stdout is not None
    assert b'"up"' in process.stdout.readline()
    process.stdin.close()
    assert b'"stopped"' in process.stdout.read()
    process.stdout.close()
    assert process.wait(60) == 0


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere names are text")
@pytest.mark.parametrize("make", MAKERS)
def test_names_with_odd_bytes_come_back_as_they_were(home: Home, tmp_path: Path, make: Any) -> None:
    """PEP 383: bytes that are not UTF-8 are lone surrogates in texts, which plain JSON refuses."""
    music = Path(os.fsdecode(os.fsencode(tmp_path) + b"/m\xfcsik \xe4"))
    music.mkdir()
    with LibraryIndex(home.index_file) as index:
        index.add_root(music)
    order = order_of("scan", home, leave=[os.fsdecode(b"/left \xff/")])
    assert json.loads(order)["leave"] == ["/left \udcff/"]
    heard = Heard(order, make)
    last = heard.to_its_end()
    assert last["event"] == "done", last
    assert last["roots"] == heard.events[1]["roots"] == [str(music)]


@pytest.mark.parametrize("as_json", [False, True])
def test_a_new_python_writes_the_kind_of_log_that_the_daemon_does(
    home: Home, as_json: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    called: list[list[str]] = []

    class Popen(subprocess.Popen[bytes]):
        def __init__(self, words: list[str], **more: Any) -> None:
            called.append(words)
            super().__init__(words, **more)

    monkeypatch.setattr(subprocess, "Popen", Popen)
    monkeypatch.setattr(logs, "as_json", lambda: as_json)
    assert Heard(order_of("scan", home), Spawned).to_its_end()["event"] == "done"
    assert ("--json" in called[0]) == as_json


@pytest.mark.parametrize("words", [[], ["--json"]])
def test_a_job_in_a_new_python_logs_a_fault_as_it_is_told_to(home: Home, words: list[str]) -> None:
    order = json.dumps({"kind": "no such job", "home": json.loads(order_of("", home))["home"]})
    job = subprocess.Popen(
        [sys.executable, "-m", "syncd.daemon.work", order, *words],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert job.stderr is not None
    first = job.stderr.readline()
    job.communicate(timeout=60)
    assert "A fault in syncd itself" in first
    if words:
        assert json.loads(first)["priority"] == 3
    else:
        assert not first.startswith("{")


@pytest.mark.parametrize("make", MAKERS)
def test_files_of_just_now_are_left_and_how_long_they_wait_is_told(
    home: Home, tmp_path: Path, make: Any
) -> None:
    tone(tmp_path / "music" / "rip" / "01.flac", 440)
    tone(tmp_path / "music" / "done" / "01.flac", 550)
    os.utime(tmp_path / "music" / "done" / "01.flac", (1e9, 1e9))
    with LibraryIndex(home.index_file) as index:
        index.add_root(tmp_path / "music")
    last = Heard(order_of("scan", home, young_s=1e6), make).to_its_end()
    assert last["new"] == 1
    assert 0 < last["waits_s"] <= 1e6
    last = Heard(order_of("scan", home, young_s=0.0), make).to_its_end()
    assert (last["new"], last["waits_s"]) == (1, 0.0)


@pytest.mark.skipif(not can_fork(), reason="jobs are forked on Linux only")
def test_a_fork_that_finds_no_descriptors_left_takes_none(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    pipe = os.pipe
    left = [1]

    def scarce() -> tuple[int, int]:
        if not left:
            raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))
        left.pop()
        return pipe()

    before = set(os.listdir("/proc/self/fd"))
    monkeypatch.setattr(os, "pipe", scarce)
    with pytest.raises(OSError, match="Too many open files"):
        Forked(order_of("scan", home), ())
    assert set(os.listdir("/proc/self/fd")) == before
