"""The log's lines: for a terminal, for the journal, as JSON."""

import io
import json
import logging
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from syncd.daemon import logs
from syncd.settings import Supervision, supervision

LOG = logging.getLogger("syncd.daemon.test_logs")


@pytest.fixture(autouse=True)
def _handlers_as_before() -> Iterator[None]:
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:], root.level = handlers, level


def connected(file: io.TextIOBase) -> Supervision:
    facts = os.fstat(file.fileno())
    return Supervision(journal_stream=f"{facts.st_dev}:{facts.st_ino}")


def test_a_line_on_a_terminal_begins_with_the_time() -> None:
    out = io.StringIO()
    logs.begin(Supervision(), stream=out)
    LOG.info("%s is up to date.", "KITCHEN")
    LOG.warning("No room.")
    stamp = r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d"
    assert re.fullmatch(
        rf"{stamp} KITCHEN is up to date\.\n{stamp} warning: No room\.\n", out.getvalue()
    )


def test_a_line_for_the_journal_begins_with_its_priority_alone(tmp_path: Path) -> None:
    """sd-daemon(3): SD_ERR "<3>", SD_WARNING "<4>", SD_INFO "<6>"."""
    with (tmp_path / "log").open("w+", encoding="utf-8") as file:
        logs.begin(connected(file), stream=file)
        LOG.info("one")
        LOG.warning("two")
        LOG.error("three")
        file.seek(0)
        assert file.read() == "<6>one\n<4>two\n<3>three\n"


def test_each_line_of_a_fault_has_its_priority(tmp_path: Path) -> None:
    with (tmp_path / "log").open("w+", encoding="utf-8") as file:
        logs.begin(connected(file), stream=file)
        try:
            raise RuntimeError("a\nb")
        except RuntimeError:
            LOG.exception("A fault.")
        file.seek(0)
        lines = file.read().splitlines()
    assert len(lines) > 4
    assert all(line.startswith("<3>") for line in lines)


def test_another_stream_than_the_journals_gets_the_time(tmp_path: Path) -> None:
    """systemd.exec(5): JOURNAL_STREAM is inherited by programs whose output goes elsewhere."""
    with (tmp_path / "a").open("w+") as journal, (tmp_path / "b").open("w+") as other:
        assert logs.goes_to_the_journal(connected(journal), journal)
        assert not logs.goes_to_the_journal(connected(journal), other)
    assert not logs.goes_to_the_journal(Supervision(), io.StringIO())


def test_json_is_an_object_a_line_with_the_fault_in_it() -> None:
    out = io.StringIO()
    logs.begin(Supervision(), as_json=True, stream=out)
    LOG.info("K\udcffTCHEN is here.")
    try:
        raise RuntimeError("why")
    except RuntimeError:
        LOG.exception("A fault.")
    first, second = map(json.loads, out.getvalue().splitlines())
    assert (first["priority"], first["message"]) == (6, "K?TCHEN is here.")
    assert second["fault"][-1] == "RuntimeError: why"


@pytest.mark.parametrize("as_json", [False, True])
def test_a_name_from_outside_cannot_begin_a_line_of_its_own(as_json: bool) -> None:
    out = io.StringIO()
    logs.begin(Supervision(), as_json=as_json, stream=out)
    LOG.info("%s", "KITCHEN\n<0>forged\x1b[2J\r\x85\u2028next")
    assert out.getvalue().count("\n") == 1
    assert len(out.getvalue().splitlines()) == 1
    assert "\x1b" not in out.getvalue()


def test_what_a_service_manager_says_is_read_once() -> None:
    told = supervision(
        {"NOTIFY_SOCKET": "/run/n", "WATCHDOG_USEC": "300000000", "JOURNAL_STREAM": "8:1"}
    )
    assert told == Supervision("/run/n", 300.0, "8:1")
    other = {"WATCHDOG_USEC": "300000000", "WATCHDOG_PID": "1"}
    assert supervision(other, pid=2).watchdog_s is None  # sd_watchdog_enabled(3)
    assert supervision({"WATCHDOG_USEC": "soon"}) == Supervision()


def test_the_daemons_standard_output_has_nothing(tmp_path: Path) -> None:
    """With a settings file that is wrong it does not even start: status 2, a sentence, no trace."""
    (tmp_path / "syncd.toml").write_text("rescan_minutes = 0\n")
    done = subprocess.run(
        [sys.executable, "-m", "syncd", "--home", str(tmp_path), "run", "--json"],
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "rescan_minutes" in done.stderr
    assert "Traceback" not in done.stderr
