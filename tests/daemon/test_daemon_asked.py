"""A real daemon that is asked and told: by ``syncd status``, by commands, by a service manager."""

import fcntl
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
from update_kit import tag, tone

from syncd.daemon.asking import socket_file
from syncd.settings import Home, find_home

SECONDS = 90.0
ROOT = Path(__file__).resolve().parent.parent.parent


class Manager:
    """A service manager's side of sd_notify(3), and the daemon that it started."""

    def __init__(self, base: Path) -> None:
        self.home: Home = find_home(str(base / "home"), environment={})
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(base / "notify"))
        self.told: list[str] = []
        self.log = base / "log"
        self.environment = {
            **os.environ,
            "SYNCD_HOME": str(base / "home"),
            "NOTIFY_SOCKET": str(base / "notify"),
        }
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, *flags: str) -> None:
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "syncd", "run", *flags],
                stdout=log, stderr=log, cwd=ROOT, env=self.environment,
            )  # fmt: skip
        self.until("READY=1")

    def until(self, text: str) -> str:
        """Wait for a message that has *text*; it."""
        deadline = time.monotonic() + SECONDS
        while True:
            self.socket.settimeout(max(0.01, deadline - time.monotonic()))
            try:
                said = self.socket.recv(65536).decode()
            except TimeoutError:
                raise AssertionError(f"{text} did not come\n{self.log.read_text()}") from None
            self.told.append(said)
            if text in said:
                return said

    def syncd(self, *words: str | Path) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [sys.executable, "-m", "syncd", *map(str, words)],
            capture_output=True, text=True, timeout=SECONDS, cwd=ROOT, env=self.environment,
        )  # fmt: skip

    def status(self) -> tuple[int, Any]:
        done = self.syncd("status", "--json")
        return done.returncode, json.loads(done.stdout)

    def end(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(SECONDS)
        self.socket.close()


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    made = Manager(tmp_path)
    try:
        yield made
    finally:
        made.end()


def song(path: Path, hz: float) -> None:
    tone(path, hz)
    tag(path, artist="Marnesund Five", album="Ferry", title=path.stem, genre="Pop")
    os.utime(path, (1e9, 1e9))  # it has come to rest long ago


def test_without_a_daemon_status_tells_what_the_files_at_home_tell(
    manager: Manager, tmp_path: Path
) -> None:
    status, told = manager.status()
    assert (status, told["daemon"], told["cards"]) == (2, "not running", [])
    assert not manager.home.state.exists()  # only looking makes nothing
    (tmp_path / "music").mkdir()
    (tmp_path / "card").mkdir()
    assert manager.syncd("library", "add", tmp_path / "music").returncode == 0
    enrolled = manager.syncd("enrol", tmp_path / "card", "--profile", "mcu-mp3", "--name", "HALL")
    assert enrolled.returncode == 0, enrolled.stderr
    status, told = manager.status()
    assert (status, told["library"]["roots"]) == (2, [str(tmp_path / "music")])
    assert (told["cards"][0]["name"], told["cards"][0]["mount"]) == ("HALL", str(tmp_path / "card"))
    words = manager.syncd("status")
    assert words.returncode == 2
    assert "syncd run" in words.stdout
    assert f"HALL: plugged in, at {tmp_path / 'card'}" in words.stdout


def test_a_daemon_that_runs_is_asked_and_told(manager: Manager, tmp_path: Path) -> None:
    manager.start()
    status, told = manager.status()
    assert (status, told["daemon"]) == (0, "running")
    assert manager.process is not None
    assert told["pid"] == manager.process.pid
    assert f"process {told['pid']}" in manager.syncd("status").stdout
    assert manager.syncd("service", "pause").returncode == 0
    manager.until("STATUS=Paused")
    assert manager.status()[1]["paused"] is True
    assert "paused" in manager.syncd("status").stdout
    assert manager.syncd("service", "resume").returncode == 0
    manager.until("STATUS=Waiting")
    refused = manager.syncd("service", "update", "NOBODY")
    assert (refused.returncode, "No card is called" in refused.stderr) == (2, True)
    assert manager.syncd("service", "stop").returncode == 0
    manager.until("STOPPING=1")
    assert manager.process.wait(SECONDS) == 0
    assert not socket_file(manager.home).exists()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks Linux for the folder")
def test_a_daemon_holds_no_disk_by_the_folder_that_it_was_started_in(manager: Manager) -> None:
    manager.start()
    manager.until("STATUS=Waiting")
    assert manager.process is not None
    assert psutil.Process(manager.process.pid).cwd() == "/"


def test_a_second_daemon_of_one_home_does_not_start_and_spoils_nothing(manager: Manager) -> None:
    manager.start()
    second = manager.syncd("run")
    assert (second.returncode, "runs already" in second.stderr) == (2, True)
    assert manager.status()[0] == 0


def test_a_killed_daemon_is_told_from_a_running_one_and_followed(manager: Manager) -> None:
    manager.start()
    assert manager.process is not None
    manager.process.kill()
    manager.process.wait(SECONDS)
    assert socket_file(manager.home).exists()
    assert manager.status()[1]["daemon"] == "not running"
    manager.start()
    assert manager.status()[1]["daemon"] == "running"


def test_a_daemon_without_a_socket_is_told(manager: Manager) -> None:
    manager.start()
    socket_file(manager.home).unlink()
    status, told = manager.status()
    assert (status, told["daemon"]) == (2, "not answering")


def test_a_card_enrolled_while_it_runs_is_updated_at_once(manager: Manager, tmp_path: Path) -> None:
    """The command tells the daemon to look; by itself it would within a minute."""
    song(tmp_path / "music" / "one.flac", 440)
    card = tmp_path / "card"
    card.mkdir()
    manager.home.settings_file.parent.mkdir(parents=True)
    manager.home.settings_file.write_text(
        f"card_folders = {json.dumps([str(card)])}\ndesktop_notices = false\n"
    )
    assert manager.syncd("library", "add", tmp_path / "music").returncode == 0
    manager.start()
    begun = time.monotonic()
    enrolled = manager.syncd("enrol", card, "--profile", "mcu-mp3", "--name", "HALL")
    assert enrolled.returncode == 0, enrolled.stderr
    manager.until("STATUS=Updating HALL")
    manager.until("STATUS=Waiting")
    assert time.monotonic() - begun < 50, "it waited for its look round"
    status, told = manager.status()
    assert (status, told["cards"][0]["stage"]) == (0, "may be removed")
    assert len(list(card.rglob("*.mp3"))) == 1


@pytest.mark.parametrize("command", ["scan", "update"])
def test_a_command_is_given_way_and_the_daemon_goes_on_after_it(
    command: str, manager: Manager, tmp_path: Path
) -> None:
    """While the daemon presses ahead, it holds the lock; a command gets it all the same."""
    for number in range(40):
        song(tmp_path / "music" / f"{number:02}.flac", 300 + 10 * number)
    card = tmp_path / "card"
    card.mkdir()
    manager.home.settings_file.parent.mkdir(parents=True)
    manager.home.settings_file.write_text(
        f"card_folders = {json.dumps([str(card)])}\nworkers = 1\ndesktop_notices = false\n"
    )
    for words in (
        ("library", "add", tmp_path / "music"),
        ("enrol", card, "--profile", "mcu-mp3", "--name", "HALL"),
    ):
        assert manager.syncd(*words).returncode == 0
    manager.start()
    manager.until("STATUS=Updating HALL")
    done = manager.syncd(command, *(["HALL"] if command == "update" else []))
    assert done.returncode == 0, done.stderr
    assert "The daemon has stopped what it was doing" in done.stderr
    if command == "update":
        assert len(list(card.rglob("*.mp3"))) == 40
    else:
        assert "40 music files" in done.stdout
    deadline = time.monotonic() + SECONDS
    while manager.status()[1]["cards"][0]["stage"] != "may be removed":
        assert time.monotonic() < deadline, manager.log.read_text()
    assert len(list(card.rglob("*.mp3"))) == 40


def test_a_command_does_not_push_another_command_aside(manager: Manager) -> None:
    manager.start()
    deadline = time.monotonic() + SECONDS
    with (manager.home.state / "lock").open("a") as lock:
        while True:
            assert time.monotonic() < deadline
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                continue  # the daemon's first scan
        refused = manager.syncd("scan")
    assert (refused.returncode, "Another syncd is at work" in refused.stderr) == (2, True)


def test_the_log_for_the_journal_has_priorities_and_no_times(
    manager: Manager, tmp_path: Path
) -> None:
    manager.log.touch()
    facts = manager.log.stat()
    manager.environment["JOURNAL_STREAM"] = f"{facts.st_dev}:{facts.st_ino}"
    manager.start()
    manager.end()
    lines = manager.log.read_text().splitlines()
    assert lines
    assert all(line.startswith(("<6>", "<4>")) for line in lines)


def test_the_log_as_json_has_an_object_a_line(manager: Manager) -> None:
    manager.start("--json")
    manager.end()
    told = [json.loads(line) for line in manager.log.read_text().splitlines()]
    assert any("Stopping" in line["message"] for line in told)
