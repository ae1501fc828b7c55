"""Notices: by a real command, and on a real session bus with a notification server of our own."""

import asyncio
import importlib.util
import json
import os
import select
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest

from syncd.daemon import notices
from syncd.daemon.notice_command import CommandNotices
from syncd.daemon.notices import LogNotices, made_notices
from syncd.daemon.ports import Notice
from syncd.settings_file import Settings

SECONDS = 60.0


def heard(fifo: int, until: bytes = b"\n") -> bytes:
    got = b""
    deadline = time.monotonic() + SECONDS
    while not got.endswith(until):
        ready, _, _ = select.select([fifo], [], [], max(0, deadline - time.monotonic()))
        assert ready, got
        got += os.read(fifo, 65536)
    return got


@pytest.fixture
def fifo(tmp_path: Path) -> Iterator[int]:
    os.mkfifo(tmp_path / "fifo")
    fd = os.open(tmp_path / "fifo", os.O_RDWR | os.O_NONBLOCK)
    yield fd
    os.close(fd)


def teller(tmp_path: Path, script: str) -> list[str]:
    program = tmp_path / "tell"
    program.write_text(f"#!/bin/sh\n{script}\n")
    program.chmod(0o755)
    return [str(program), str(tmp_path / "fifo")]


def test_a_command_gets_the_notice_as_json_on_its_standard_input(tmp_path: Path, fifo: int) -> None:
    told = made_notices(Settings(notice_command=teller(tmp_path, 'cat > "$1"')))
    told.tell(Notice("K\udcffTCHEN", 'a "quoted" text; $HOME\nand more', urgent=True))
    assert json.loads(heard(fifo)) == {
        "title": "K�TCHEN", "text": 'a "quoted" text; $HOME\nand more', "urgent": True
    }  # fmt: skip
    told.close()


def test_the_last_two_arguments_are_title_and_text_and_no_shell_reads_them(
    tmp_path: Path, fifo: int
) -> None:
    told = CommandNotices(teller(tmp_path, 'printf "%s|%s\\n" "$2" "$3" > "$1"'))
    told.tell(Notice("$(touch owned)", "`id` ; rm *"))
    assert heard(fifo) == b"$(touch owned)|`id` ; rm *\n"


def test_a_command_that_reads_nothing_holds_up_nobody(tmp_path: Path, fifo: int) -> None:
    told = CommandNotices(teller(tmp_path, 'echo done > "$1"'))
    told.tell(Notice("long", "x" * 100_000))
    assert heard(fifo) == b"done\n"


def test_a_command_that_has_ended_is_no_zombie_until_the_next_notice(
    tmp_path: Path, fifo: int
) -> None:
    told = CommandNotices(teller(tmp_path, 'echo done > "$1"'))
    told.tell(Notice("a", "b"))
    ((process, _),) = told._running
    os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)  # it has ended; left as it is
    told.tidy()
    assert told._running == [] and process.returncode == 0


def test_a_command_that_is_missing_is_told_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    CommandNotices(["/nowhere/at-all"]).tell(Notice("a", "b"))
    assert "/nowhere/at-all cannot be called" in caplog.text


def ended(told: CommandNotices) -> None:
    """Wait until the command has ended; it is left for the notices to see."""
    ((process, _),) = told._running
    os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)


@pytest.mark.parametrize("tells", [False, True])
def test_a_command_that_fails_is_told_once_in_the_log(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, tells: bool
) -> None:
    told = CommandNotices(teller(tmp_path, "exit 3"), tells_failures=tells)
    told.tell(Notice("a", "b"))
    ended(told)
    told.tidy()
    told.tidy()
    assert caplog.text.count("failed (status 3)") == (0 if tells else 1)
    assert ("'notice_command' in the settings" in caplog.text) is not tells


def test_a_command_that_hangs_is_ended_with_all_that_it_started(
    tmp_path: Path, fifo: int, caplog: pytest.LogCaptureFixture
) -> None:
    now = [0.0]
    script = 'sleep 1000 & echo $! > "$1"; wait'
    told = CommandNotices(teller(tmp_path, script), clock=lambda: now[0])
    told.tell(Notice("a", "b"))
    started = psutil.Process(int(heard(fifo)))
    now[0] = 59.0
    told.tidy()
    assert started.is_running() and caplog.text == ""
    now[0] = 61.0
    told.tidy()
    started.wait(SECONDS)
    ended(told)
    told.tidy()
    assert caplog.text.count("did not end within 60 s") == 1 and told._running == []
    assert "failed" not in caplog.text


def test_without_the_library_the_log_says_where_notices_go(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    monkeypatch.setattr(notices, "LIBRARY", "syncd_no_such_module")
    assert isinstance(made_notices(Settings()), LogNotices)
    assert "syncd[desktop]" in caplog.text


def test_the_desktop_can_be_left_alone(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO")
    assert isinstance(made_notices(Settings(desktop_notices=False)), LogNotices)
    assert caplog.text == ""


@pytest.fixture
def bus(tmp_path: Path) -> Iterator[str]:
    """The address of a session bus of the test's own."""
    daemon = shutil.which("dbus-daemon")
    if daemon is None:
        pytest.skip("dbus-daemon (Debian package dbus-daemon) is not installed")
    if importlib.util.find_spec("desktop_notifier") is None:
        pytest.skip("desktop-notifier is not installed")
    process = subprocess.Popen(
        [daemon, "--session", "--nofork", "--print-address=1", f"--address=unix:dir={tmp_path}"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    address = process.stdout.readline().strip()
    try:
        yield address
    finally:
        process.terminate()
        process.wait(SECONDS)


INTERFACE = """<node><interface name="org.freedesktop.Notifications">
<method name="Notify"><arg type="s" direction="in"/><arg type="u" direction="in"/>
<arg type="s" direction="in"/><arg type="s" direction="in"/><arg type="s" direction="in"/>
<arg type="as" direction="in"/><arg type="a{sv}" direction="in"/><arg type="i" direction="in"/>
<arg type="u" direction="out"/></method>
<method name="CloseNotification"><arg type="u" direction="in"/></method>
<method name="GetCapabilities"><arg type="as" direction="out"/></method>
<method name="GetServerInformation"><arg type="s" direction="out"/><arg type="s" direction="out"/>
<arg type="s" direction="out"/><arg type="s" direction="out"/></method>
<signal name="NotificationClosed"><arg type="u"/><arg type="u"/></signal>
<signal name="ActionInvoked"><arg type="u"/><arg type="s"/></signal>
</interface></node>"""


class Desktop:
    """A notification server, by the Desktop Notifications Specification 1.2 (freedesktop.org)."""

    def __init__(self, address: str) -> None:
        self.shown: list[tuple[str, str, str, int]] = []
        self.came = threading.Event()
        self.ready = threading.Event()
        self._loop = asyncio.new_event_loop()
        self._address = address
        self._thread = threading.Thread(target=self._loop.run_until_complete, args=[self._serve()])
        self._thread.start()
        assert self.ready.wait(SECONDS)

    def close(self) -> None:
        self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join(SECONDS)

    async def _serve(self) -> None:
        from dbus_fast import Message, MessageType
        from dbus_fast.aio import MessageBus

        self._end = asyncio.Event()
        bus = await MessageBus(bus_address=self._address).connect()

        def answer(message: Any) -> Any:
            if message.message_type is not MessageType.METHOD_CALL:
                return None
            if message.member == "Notify":
                app, _, _, title, text, _, hints, _ = message.body
                self.shown.append((app, title, text, hints["urgency"].value))
                self.came.set()
                return Message.new_method_return(message, "u", [1])
            if message.member == "Introspect":
                return Message.new_method_return(message, "s", [INTERFACE])
            if message.member == "GetCapabilities":
                return Message.new_method_return(message, "as", [["body", "body-markup"]])
            if message.member == "GetServerInformation":
                return Message.new_method_return(message, "ssss", ["test", "none", "1", "1.2"])
            return None

        bus.add_message_handler(answer)
        await bus.request_name("org.freedesktop.Notifications")
        self.ready.set()
        await self._end.wait()
        bus.disconnect()


def test_a_notice_reaches_the_desktop_with_its_text_as_it_is(
    bus: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    desktop = Desktop(bus)
    try:
        monkeypatch.setenv("DBUS_SESSION_BUS_ADDRESS", bus)
        told = made_notices(Settings())
        told.tell(
            Notice("KITCHEN is not up to date", "<b>Dot & Dash</b> has no room.", urgent=True)
        )
        assert desktop.came.wait(SECONDS)
        app, title, text, urgency = desktop.shown[0]
        assert (app, title) == ("syncd", "KITCHEN is not up to date")
        # The body is markup by the specification: letters of markup are escaped in it.
        assert text == "&lt;b&gt;Dot &amp; Dash&lt;/b&gt; has no room."
        assert urgency == 2  # critical
    finally:
        desktop.close()


def test_a_desktop_that_is_away_is_told_and_ends_in_good_time(tmp_path: Path) -> None:
    if importlib.util.find_spec("desktop_notifier") is None:
        pytest.skip("desktop-notifier is not installed")
    environment = {**os.environ, "DBUS_SESSION_BUS_ADDRESS": f"unix:path={tmp_path}/none"}
    done = subprocess.run(
        [sys.executable, "-m", "syncd.daemon.desktop"],
        input='{"title": "a", "text": "b", "urgent": false}', env=environment,
        capture_output=True, text=True, timeout=SECONDS,
    )  # fmt: skip
    assert done.returncode == 1
    assert "The desktop shows no notice" in done.stderr
    assert len(done.stderr.splitlines()) == 1
