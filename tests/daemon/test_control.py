"""The daemon's socket: real ones, with the keeper's side as a double, and clients of all kinds."""

import json
import os
import socket
import stat
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from daemon_kit import run_until

from syncd.daemon import asking, control
from syncd.daemon.asking import NoAnswer, NoDaemon, Refused, ask, socket_file
from syncd.daemon.control import Control
from syncd.daemon.loop import Loop
from syncd.daemon.state import CardNow, State
from syncd.errors import CardProblem, SetupProblem
from syncd.settings import Home, find_home

SECONDS = 30.0


class Asked:
    """A keeper that keeps what it was asked."""

    def __init__(self) -> None:
        self.state = State(7, 1.0, (CardNow("id", "K\udcffTCHEN"),))
        self.heard: list[Any] = []
        self.way: list[Callable[[], None]] = []

    def look_round(self) -> None:
        self.heard.append("look")

    def refresh(self) -> None:
        self.heard.append("rescan")

    def update_card(self, card: str, /) -> str:
        if card == "AWAY":
            raise CardProblem("The card AWAY is not plugged in.")
        if card == "FAULT":
            raise RuntimeError("a fault")
        self.heard.append(("update", card))
        return card

    def pause(self, wanted: bool) -> None:
        self.heard.append(("pause", wanted))

    def give_way(self, given: Callable[[], None]) -> None:
        self.way.append(given)

    def stop(self) -> None:
        self.heard.append("stop")


class Daemon:
    """A control with a loop that runs in a thread of its own until it is ended."""

    def __init__(self, home: Home) -> None:
        self.home = home
        self.loop = Loop()
        self.asked = Asked()
        self.control = Control(self.loop, home, self.asked)
        self.thread = threading.Thread(target=self.loop.run)
        self.thread.start()

    def end(self) -> None:
        self.loop.soon(self.loop.stop)
        self.thread.join(SECONDS)
        assert not self.thread.is_alive()
        self.control.close()
        self.loop.close()

    def connect(self) -> socket.socket:
        connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        connection.settimeout(SECONDS)
        connection.connect(str(socket_file(self.home)))
        return connection

    def say(self, data: bytes) -> Any:
        with self.connect() as connection:
            connection.sendall(data)
            got = b"".join(iter(lambda: connection.recv(65536), b""))
        return json.loads(got)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return find_home(str(tmp_path / "home"), environment={})


@pytest.fixture
def daemon(home: Home) -> Iterator[Daemon]:
    made = Daemon(home)
    try:
        yield made
    finally:
        made.end()


def test_only_its_user_can_open_the_socket(daemon: Daemon) -> None:
    path = socket_file(daemon.home)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_folder_that_others_can_enter_is_closed_to_them(home: Home) -> None:
    folder = socket_file(home).parent
    folder.mkdir(parents=True, mode=0o777)
    folder.chmod(0o777)
    daemon = Daemon(home)
    daemon.end()
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_link_in_place_of_the_folder_is_refused(home: Home, tmp_path: Path) -> None:
    home.made()
    (tmp_path / "elsewhere").mkdir()
    socket_file(home).parent.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(SetupProblem, match="not a folder of your own"):
        Control(Loop(), home, Asked())
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_status_is_the_keepers_state_with_odd_names_made_plain(daemon: Daemon) -> None:
    told = ask(daemon.home, "status")
    assert (told["pid"], told["cards"][0]["name"]) == (7, "K?TCHEN")
    assert told["version"]


def test_each_wish_reaches_the_keeper(daemon: Daemon) -> None:
    for do in ("rescan", "look", "pause", "resume", "stop"):
        assert ask(daemon.home, do)["ok"] is True
    assert ask(daemon.home, "update", card="KITCHEN")["card"] == "KITCHEN"
    assert daemon.asked.heard == [
        "rescan", "look", ("pause", True), ("pause", False), "stop", ("update", "KITCHEN")
    ]  # fmt: skip


def test_what_cannot_be_done_is_told_with_its_cause(daemon: Daemon) -> None:
    with pytest.raises(Refused, match="not plugged in"):
        ask(daemon.home, "update", card="AWAY")
    with pytest.raises(Refused, match="which card"):
        ask(daemon.home, "update", card=["KITCHEN"])
    with pytest.raises(Refused, match="another version"):
        ask(daemon.home, "dance")


def test_a_fault_is_told_and_ends_nothing(daemon: Daemon, caplog: pytest.LogCaptureFixture) -> None:
    with pytest.raises(Refused, match="fault in syncd"):
        ask(daemon.home, "update", card="FAULT")
    assert ask(daemon.home, "status")["pid"] == 7
    assert "a fault" in caplog.text


@pytest.mark.parametrize(
    "garbage",
    [
        b"\n",
        b"status\n",
        b"[1, 2]\n",
        b'"status"\n',
        b"null\n",
        b"\xff\xfe\x00\n",
        b'{"do": \n',
        b'{"do": {"do": 1}}\n',
        b"{}\n",
        b"[" * 20_000 + b"\n",
        b"GET / HTTP/1.1\r\n\r\n",
    ],
    ids=range(11),
)
def test_garbage_is_answered_in_words(daemon: Daemon, garbage: bytes) -> None:
    told = daemon.say(garbage)
    assert told["ok"] is False
    assert told["message"]
    assert daemon.asked.heard == []
    assert ask(daemon.home, "status")["pid"] == 7


def test_a_question_without_end_is_cut_short(daemon: Daemon) -> None:
    with daemon.connect() as connection, pytest.raises((BrokenPipeError, ConnectionResetError)):
        while True:
            connection.sendall(b"x" * 65536)
    assert ask(daemon.home, "status")["pid"] == 7


def test_a_question_that_comes_letter_by_letter_is_understood(daemon: Daemon) -> None:
    with daemon.connect() as connection:
        for letter in b'{"do": "rescan"}\n':
            connection.sendall(bytes([letter]))
        assert json.loads(connection.recv(65536))["ok"] is True


def test_clients_that_say_nothing_hold_up_nobody(daemon: Daemon) -> None:
    silent = [daemon.connect() for _ in range(control.MOST_CLIENTS - 1)]
    assert ask(daemon.home, "status")["pid"] == 7
    for connection in silent:
        connection.close()


def test_more_clients_than_are_heard_are_sent_away_and_room_comes_back(daemon: Daemon) -> None:
    silent = [daemon.connect() for _ in range(control.MOST_CLIENTS)]
    with pytest.raises(NoAnswer):
        ask(daemon.home, "status", patience_s=SECONDS)
    for connection in silent:
        connection.close()
    deadline = time.monotonic() + SECONDS
    while True:
        assert time.monotonic() < deadline
        try:
            assert ask(daemon.home, "status")["pid"] == 7
            break
        except NoAnswer:
            continue


def test_a_silent_client_is_let_go_after_a_while(home: Home) -> None:
    now = [0.0]
    loop = Loop(lambda: now[0])
    made = Control(loop, home, Asked())
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.connect(str(socket_file(home)))
        loop.once()
        assert len(made._clients) == 1
        now[0] += control.PATIENCE_S + 1
        loop.soon(lambda: None)
        loop.once()
        assert made._clients == set()
        assert connection.recv(10) == b""
    made.close()
    loop.close()


def test_a_client_that_does_not_read_gets_the_rest_when_it_does(daemon: Daemon) -> None:
    many = tuple(CardNow(f"{n:032}", "C" * 50, message="m" * 200) for n in range(5000))
    daemon.asked.state = State(7, 1.0, many)
    with daemon.connect() as slow:
        slow.sendall(b'{"do": "status"}\n')
        assert len(ask(daemon.home, "status")["cards"]) == 5000  # meanwhile others are served
        got = b"".join(iter(lambda: slow.recv(65536), b""))
    assert len(json.loads(got)["cards"]) == 5000


def test_giving_way_is_answered_when_it_is_given(daemon: Daemon) -> None:
    with daemon.connect() as connection:
        connection.sendall(b'{"do": "give way"}\n')
        while not daemon.asked.way:
            pass
        connection.setblocking(False)
        with pytest.raises(BlockingIOError):
            connection.recv(100)
        connection.settimeout(SECONDS)
        daemon.loop.soon(daemon.asked.way[0])
        assert json.loads(connection.recv(100))["ok"] is True


def test_one_who_leaves_before_the_way_is_given_is_forgotten(daemon: Daemon) -> None:
    with daemon.connect() as connection:
        connection.sendall(b'{"do": "give way"}\n')
        while not daemon.asked.way:
            pass
    deadline = time.monotonic() + SECONDS
    while daemon.control._clients:
        assert time.monotonic() < deadline
    daemon.loop.soon(daemon.asked.way[0])
    assert ask(daemon.home, "status")["pid"] == 7


def test_without_a_daemon_that_is_said(home: Home) -> None:
    with pytest.raises(NoDaemon, match="syncd run"):
        ask(home, "status")


def test_a_socket_left_behind_is_told_from_a_daemon_and_taken_over(home: Home) -> None:
    socket_file(home).parent.mkdir(parents=True)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as dead:
        dead.bind(str(socket_file(home)))
    with pytest.raises(NoDaemon):
        ask(home, "status")
    daemon = Daemon(home)
    assert ask(home, "status")["pid"] == 7
    daemon.end()
    assert not socket_file(home).exists()


def test_a_file_of_another_kind_in_its_place_stays(home: Home) -> None:
    socket_file(home).parent.mkdir(parents=True)
    socket_file(home).write_text("mine")
    with pytest.raises(SetupProblem, match="in the way"):
        Control(Loop(), home, Asked())
    assert socket_file(home).read_text() == "mine"


def test_a_daemon_that_ends_leaves_the_socket_of_its_successor(home: Home) -> None:
    first = Daemon(home)
    second = Daemon(home)
    first.end()
    assert ask(home, "status")["pid"] == 7
    second.end()


def test_a_home_deep_down_is_reached_all_the_same(tmp_path: Path) -> None:
    deep = find_home(str(tmp_path / ("d" * 120) / ("e" * 120)), environment={})
    assert len(os.fsencode(socket_file(deep))) > 108  # sun_path, unix(7)
    made = Control(loop := Loop(), deep, Asked())
    answers: list[Any] = []
    thread = threading.Thread(target=lambda: answers.append(ask(deep, "status")))
    thread.start()
    run_until(loop, lambda: bool(answers), SECONDS)
    thread.join(SECONDS)
    assert answers[0]["pid"] == 7
    made.close()
    assert not socket_file(deep).exists()
    loop.close()


def test_a_daemon_that_hangs_is_not_waited_for(home: Home) -> None:
    made = Control(loop := Loop(), home, Asked())  # its loop does not turn
    with pytest.raises(NoAnswer, match="did not answer"):
        ask(home, "status", patience_s=0.05)
    made.close()
    loop.close()


def test_the_system_tells_who_is_at_the_other_end() -> None:
    one, other = socket.socketpair(socket.AF_UNIX, socket.SOCK_STREAM)
    with one, other:
        assert asking.peer_uid(one) == os.getuid()


def test_another_user_is_sent_away(
    home: Home, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(control, "peer_uid", lambda connection: os.getuid() + 1)
    daemon = Daemon(home)
    try:
        with pytest.raises(NoAnswer):
            ask(home, "stop")
        assert daemon.asked.heard == []
        assert "Another user" in caplog.text
    finally:
        daemon.end()


def test_no_descriptors_are_left_after_many_questions(daemon: Daemon) -> None:
    ask(daemon.home, "status")
    before = len(os.listdir("/proc/self/fd")) if Path("/proc/self/fd").is_dir() else 0
    for _ in range(200):
        ask(daemon.home, "status")
    deadline = time.monotonic() + SECONDS
    while daemon.control._clients:
        assert time.monotonic() < deadline
    after = len(os.listdir("/proc/self/fd")) if Path("/proc/self/fd").is_dir() else 0
    assert after <= before
