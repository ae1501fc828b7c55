"""SIGTERM at moments drawn at random: the daemon ends soon, and the card is right next time.

That it ends within five seconds is a promise; here it may take longer, since the computer that
tests run on may have much else to do. With ``SYNCD_DEEP=1`` there are many more moments.
"""

import contextlib
import json
import os
import random
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest
from exfat_card import ExfatCard, no_exfat
from live_kit import SECONDS, Daemon, add_album, living, on_card

from syncd.cli.exits import INTERRUPTED
from syncd.daemon.asking import ask
from syncd.daemon.keeper import STOP_WITHIN_S
from syncd.errors import SetupProblem
from syncd.settings import find_home

DEEP = os.environ.get("SYNCD_DEEP") == "1"
ROUNDS = 60 if DEEP else 6
SLACK_S = 10.0


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    with living(tmp_path) as made:
        yield made


def ended(daemon: Daemon, send: Callable[[], None]) -> None:
    """SIGTERM; it is gone soon, and all that it started."""
    assert daemon.process is not None
    started = psutil.Process(daemon.process.pid).children(recursive=True)
    begun = time.monotonic()
    send()
    _, err = daemon.process.communicate(timeout=60)
    assert time.monotonic() - begun < STOP_WITHIN_S + SLACK_S
    daemon.log += err.decode()
    # Python itself may not have begun yet, or syncd not have said what SIGTERM means.
    assert daemon.process.returncode in (0, -signal.SIGTERM, INTERRUPTED), daemon.log
    assert "Traceback" not in daemon.log
    _, alive = psutil.wait_procs(started, timeout=30)
    assert not alive


def terminated(daemon: Daemon) -> None:
    assert daemon.process is not None
    ended(daemon, daemon.process.terminate)


def whole_or_absent(card: Path) -> int:
    """What the catalogue names is there, in its size (I1); how many files that are."""
    found = 0
    for catalogue in (card / "SYNCD").glob("cat-?.db"):
        if not catalogue.with_suffix(".rec").exists():
            continue  # one that is being written: its record comes last
        opened = sqlite3.connect(f"file:{catalogue}?immutable=1", uri=True)
        with contextlib.closing(opened):
            for path, size in opened.execute("SELECT path, size FROM tracks"):
                assert (card / path).stat().st_size == size
                found += 1
    return found


def any_file(folder: Path) -> bool:
    return folder.exists() and any(folder.iterdir())


def doing(daemon: Daemon) -> set[str]:
    """What it is busy with: the kinds of jobs, and their stages."""
    try:
        state = ask(find_home(str(daemon.home), environment={}), "status")
    except SetupProblem:
        return set()
    jobs = state["jobs"]
    return {job["what"] for job in jobs} | {job["stage"] for job in jobs} | {"up"}


def test_at_random_moments_it_ends_soon_and_the_card_is_right_next_time(
    daemon: Daemon, tmp_path: Path
) -> None:
    draw = random.Random(20)
    music, card, other = tmp_path / "music", tmp_path / "card", tmp_path / "other"
    card.mkdir()
    other.mkdir()
    music.mkdir()
    for number in range(300):  # something for the watch to survey
        (music / f"{number % 10}" / f"{number}").mkdir(parents=True)
    with (daemon.home / "syncd.toml").open("a") as settings:
        settings.write(f"card_folders = {json.dumps([str(card)])}\nworkers = 1\n")
    daemon.syncd("library", "add", music)
    daemon.syncd("enrol", card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    daemon.syncd("enrol", other, "--profile", "mcu-mp3", "--name", "SHED")
    incoming, journal = card / "SYNCD" / "incoming", card / "SYNCD" / "journal"
    beginnings: list[Callable[[], object]] = [
        lambda: "up" in doing(daemon),
        lambda: "scan" in doing(daemon),
        lambda: "press" in doing(daemon),
        lambda: "write" in doing(daemon) or not doing(daemon) - {"up", ""},
        lambda: "update" in doing(daemon) and journal.exists() and any_file(incoming),
        lambda: "update" in doing(daemon) and journal.exists() and not any_file(incoming),
    ]
    for number in range(ROUNDS):
        add_album(music, f"Low Tide {number}", 4, 300 + 40 * number)
        daemon.start()
        daemon.until(beginnings[number % len(beginnings)])
        moment = time.monotonic() + draw.choice([0.0, draw.uniform(0, 0.1), draw.uniform(0, 1)])
        daemon.until(lambda moment=moment: time.monotonic() >= moment)
        terminated(daemon)
        whole_or_absent(card)
    daemon.start()
    daemon.until(lambda: whole_or_absent(card) == 4 * ROUNDS and not journal.exists())
    daemon.until(lambda: not doing(daemon) - {"up"})
    terminated(daemon)
    daemon.syncd("update", "SHED")
    assert on_card(card) == on_card(other)
    home = daemon.home
    assert list((home / "store" / "parts").iterdir()) == []
    assert [path.name for path in (home / "state" / "scratch").rglob("*")] in ([], ["jobs"])


@pytest.mark.skipif(bool(no_exfat()), reason=no_exfat() or "")
def test_while_a_card_is_unmounted_that_takes_its_time(daemon: Daemon, tmp_path: Path) -> None:
    """Nothing of syncd's is at work on it then: whoever unmounts it may go on or not."""
    music, programs, asked = tmp_path / "music", tmp_path / "bin", tmp_path / "asked"
    music.mkdir()
    programs.mkdir()
    for name in ("udisksctl", "umount", "fusermount3"):
        slow = programs / name
        slow.write_text(f'#!/bin/sh\necho "$@" > "{asked}"\nexec sleep 20\n')
        slow.chmod(0o755)
    daemon.environment = {"PATH": f"{programs}:{os.environ['PATH']}"}
    add_album(music, "Low Tide", 2, 400)
    card = ExfatCard(tmp_path / "card.img", tmp_path / "slot")
    try:
        daemon.syncd("library", "add", music)
        daemon.syncd("enrol", card.point, "--profile", "mcu-mp3", "--name", "KITCHEN", "--unmount")
        daemon.start()
        daemon.until(asked.exists)
        terminated(daemon)
        assert whole_or_absent(card.point) == 2
        assert not (card.point / "SYNCD" / "journal").exists()
        card.take_out()
        card.fsck()
    finally:
        card.close()


@pytest.mark.skipif(bool(no_exfat()), reason=no_exfat() or "")
@pytest.mark.parametrize("moment", ["writing", "reading back"])
def test_while_a_card_answers_nothing_any_more(daemon: Daemon, tmp_path: Path, moment: str) -> None:
    """A job that waits in the kernel finds no safe point; it ends when the card answers or goes."""
    music = tmp_path / "music"
    music.mkdir()
    card = ExfatCard(tmp_path / "card.img", tmp_path / "slot")
    try:
        daemon.syncd("library", "add", music)
        daemon.syncd("enrol", card.point, "--profile", "mcu-mp3", "--name", "KITCHEN")
        daemon.start()
        incoming = card.point / "SYNCD" / "incoming"
        files = 8 if moment == "reading back" else 2
        albums = 0
        while not (incoming.exists() and len(list(incoming.iterdir())) >= files):
            if whole_or_absent(card.point) == 8 * albums:  # the moment was missed, or never was
                albums += 1
                add_album(music, f"Low Tide {albums}", 8, 400 + 60 * albums)
                settled = time.monotonic()
            assert time.monotonic() < settled + SECONDS, daemon.log
        (behind,) = [
            process for process in psutil.process_iter(["cmdline"])
            if card.device in (process.info["cmdline"] or []) and "exfat" in process.name()
        ]  # fmt: skip
        behind.suspend()
        try:
            assert daemon.process is not None
            begun = time.monotonic()
            daemon.process.send_signal(signal.SIGTERM)
            daemon.process.wait(60)
            assert time.monotonic() - begun < STOP_WITHIN_S + SLACK_S
        finally:
            behind.resume()
        daemon.start()
        daemon.until(lambda: whole_or_absent(card.point) == 8 * albums)
        daemon.until(lambda: not doing(daemon) - {"up"})
        terminated(daemon)
        daemon.syncd("verify", "KITCHEN")
        card.take_out()
        card.fsck()
    finally:
        card.close()
