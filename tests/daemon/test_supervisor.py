"""What a service manager hears: sd_notify(3), with real datagram sockets."""

import socket
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from syncd.daemon.keeper import LOOK_ROUND_S
from syncd.daemon.service import template
from syncd.daemon.state import CardNow, CardStage, Doing, State
from syncd.daemon.supervisor import Supervisor, status_line
from syncd.settings import Supervision


@pytest.fixture(params=["path", "abstract"])
def ear(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[socket.socket, str]]:
    if request.param == "abstract" and not sys.platform.startswith("linux"):
        pytest.skip("only Linux has abstract names")
    name = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as made:
        made.bind("\0" + name if request.param == "abstract" else name)
        made.settimeout(30)
        yield made, "@" + name if request.param == "abstract" else name


def test_it_says_that_it_is_ready_alive_and_stopping(ear: tuple[socket.socket, str]) -> None:
    made, address = ear
    told = Supervisor(Supervision(address))
    told.ready()
    told.alive()
    told.stopping()
    assert [made.recv(100) for _ in range(3)] == [b"READY=1", b"WATCHDOG=1", b"STOPPING=1"]


def test_the_status_is_said_when_it_changes_and_in_steps(ear: tuple[socket.socket, str]) -> None:
    made, address = ear
    told = Supervisor(Supervision(address))
    for done in range(25):
        told.show(State(1, 0.0, jobs=(Doing("update", "HALL", done=done, total=100),)))
    told.stopping()
    heard = [made.recv(200).decode() for _ in range(4)]
    assert heard == [
        "STATUS=Updating HALL (0 %).",
        "STATUS=Updating HALL (10 %).",
        "STATUS=Updating HALL (20 %).",
        "STOPPING=1",
    ]


@pytest.mark.parametrize("address", ["", "/nowhere/at/all", "/" + "x" * 300, "vsock:2:1234"])
def test_where_nobody_listens_nothing_happens(address: str) -> None:
    Supervisor(Supervision(address)).ready()


def test_one_who_does_not_listen_is_not_waited_for(tmp_path: Path) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as deaf:
        deaf.bind(str(tmp_path / "deaf"))
        told = Supervisor(Supervision(str(tmp_path / "deaf")))
        for _ in range(5000):  # more than any queue of datagrams holds
            told.alive()


def test_a_name_from_outside_says_nothing_in_the_daemons_name() -> None:
    """A line break would begin another variable, such as MAINPID."""
    line = status_line(State(1, 0.0, (CardNow("i", "HALL\nMAINPID=1", CardStage.DONE),)))
    assert "\n" not in line


def test_problems_are_counted() -> None:
    assert "2 problems, see 'syncd status'" in status_line(State(1, 0.0, problems=("a", "b")))


def test_the_watchdog_is_fed_several_times_in_its_span() -> None:
    """sd_watchdog_enabled(3) recommends half of it or less."""
    (line,) = [x for x in template("syncd.service").splitlines() if x.startswith("WatchdogSec=")]
    assert line == "WatchdogSec=5min"
    assert LOOK_ROUND_S <= 5 * 60 / 2


def test_a_status_that_found_the_queue_full_is_said_again(tmp_path: Path) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear:
        ear.bind(str(tmp_path / "ear"))
        ear.setblocking(False)
        told = Supervisor(Supervision(str(tmp_path / "ear")))
        for _ in range(5000):  # more than the queue holds
            told.stopping()
        told.show(State(1, 0.0, paused=True))
        heard = drained(ear)
        assert heard and not any("Paused" in said for said in heard)
        told.alive()
        assert any("Paused" in said for said in drained(ear))


def drained(ear: socket.socket) -> list[str]:
    heard = []
    while True:
        try:
            heard.append(ear.recv(1000).decode())
        except BlockingIOError:
            return heard
