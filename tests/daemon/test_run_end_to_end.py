"""The daemon as a user starts it: its own home, a real exFAT card that is plugged in and pulled.

Only the desktop is a double: a program named in the settings, which hands each notice to the test.
What is on the card is judged by other programs: flac, ffprobe, sqlite3, fsck.exfat.
"""

import json
import os
import shutil
import signal
import sqlite3
import subprocess
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
from exfat_card import ExfatCard, no_exfat
from live_kit import SECONDS, Daemon, add_album, living, on_card
from update_kit import make_library

from syncd.cli.exits import INTERRUPTED
from syncd.daemon.keeper import STOP_WITHIN_S

PROGRAMS = {"flac": "flac", "ffprobe": "ffmpeg", "sqlite3": "sqlite3"}


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    with living(tmp_path) as made:
        yield made


def judged_sound(card: Path, tracks: int) -> None:
    """Other programs find *tracks* whole files, all of them named by the catalogue."""
    for program, package in PROGRAMS.items():
        if shutil.which(program) is None:
            pytest.skip(f"needs {program} (Debian package {package})")
    (catalogue,) = (card / "SYNCD").glob("cat-?.db")
    listed = subprocess.run(
        ["sqlite3", "-readonly", f"file:{catalogue}?immutable=1", "SELECT path FROM tracks"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout.splitlines()
    music = (card / "Music").rglob("*")
    files = {path.relative_to(card).as_posix() for path in music if path.is_file()}
    assert set(listed) == files and len(listed) == tracks
    for path in files:
        if path.endswith(".flac"):
            subprocess.run(["flac", "--test", "--silent", str(card / path)], check=True)
        said = subprocess.run(
            ["ffprobe", "-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0",
             str(card / path)],
            check=True, capture_output=True, text=True,
        )  # fmt: skip
        assert 0.4 < float(said.stdout) < 0.7 and not said.stderr
    assert not (card / "SYNCD" / "journal").exists()
    integrity = sqlite3.connect(f"file:{catalogue}?immutable=1", uri=True)
    assert integrity.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    integrity.close()


@pytest.mark.skipif(bool(no_exfat()), reason=no_exfat() or "")
def test_a_card_is_filled_pulled_in_the_middle_and_ends_right(
    daemon: Daemon, tmp_path: Path
) -> None:
    music = tmp_path / "music"
    make_library(music)
    card = ExfatCard(tmp_path / "card.img", tmp_path / "slot")
    try:
        daemon.syncd("library", "add", music)
        daemon.syncd(
            "enrol", card.point, "--profile", "mcu-flac16", "--name", "KITCHEN", "--unmount"
        )
        card.take_out()
        daemon.start()
        daemon.logs("The library changed: 6 new")
        add_album(music, "High Tide", 3, 700, bits=24)
        daemon.logs("3 pressings were made ahead of time")
        card.plug_in()
        assert "KITCHEN is up to date | 9 files written" in (said := daemon.notice())
        assert "unmounted and may be removed" in said
        assert not os.path.ismount(card.point)
        card.fsck()

        add_album(music, "Spring Tide", 12, 900)
        daemon.logs("The library changed: 12 new")
        card.plug_in()
        daemon.until((card.point / "SYNCD" / "journal").exists)
        stopped = daemon.workers()
        for worker in stopped:
            worker.suspend()
        card.pull()
        for worker in stopped:
            worker.resume()
        assert "KITCHEN is not up to date | The card KITCHEN went away" in daemon.notice()
        assert list(card.point.iterdir()) == []  # nothing was written where it had been

        card.plug_in()
        assert "KITCHEN is up to date" in daemon.notice()
        assert daemon.stop() < STOP_WITHIN_S + 5
        card.fsck()
        card.plug_in()
        judged_sound(card.point, 21)
        daemon.syncd("verify", "KITCHEN")
        assert json.loads(daemon.syncd("plan", "KITCHEN", "--json"))["steps"] == []
        card.take_out()
    finally:
        card.close()
    assert "Traceback" not in daemon.log


def test_ended_by_sigterm_at_any_moment_it_goes_on_next_time_and_ends_alike(
    daemon: Daemon, tmp_path: Path
) -> None:
    music, card, other = tmp_path / "music", tmp_path / "card", tmp_path / "other"
    card.mkdir()
    other.mkdir()
    add_album(music.parent, "music", 8, 400)
    with (daemon.home / "syncd.toml").open("a") as settings:
        settings.write(f"card_folders = {json.dumps([str(card)])}\n")
    daemon.syncd("library", "add", music)
    daemon.syncd("enrol", card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    daemon.syncd("enrol", other, "--profile", "mcu-mp3", "--name", "SHED")
    parts = daemon.home / "store" / "parts"
    moments = (
        lambda: True,
        lambda: bool(daemon.workers()),
        lambda: parts.exists() and any(parts.iterdir()),
        lambda: bool(list((daemon.home / "store").rglob("*.mp3"))),
        (card / "SYNCD" / "journal").exists,
        (card / "SYNCD" / "incoming").exists,
    )
    for moment in moments:
        daemon.start()
        assert daemon.process is not None
        daemon.until(moment)
        # Python itself may not have begun yet, or syncd not have said what SIGTERM means.
        daemon.stop(0, -signal.SIGTERM, INTERRUPTED)
    daemon.start()
    assert "KITCHEN is up to date" in daemon.notice()
    daemon.stop()
    daemon.syncd("update", "SHED")
    assert on_card(card) == on_card(other)
    assert list(parts.iterdir()) == []
    scratch = daemon.home / "state" / "scratch"
    assert [path.name for path in scratch.rglob("*")] in ([], ["jobs"])
    assert "Traceback" not in daemon.log


def test_there_is_one_daemon_and_commands_work_beside_it(daemon: Daemon, tmp_path: Path) -> None:
    music, card = tmp_path / "music", tmp_path / "card"
    card.mkdir()
    add_album(music.parent, "music", 2, 400)
    with (daemon.home / "syncd.toml").open("a") as settings:
        settings.write(f"card_folders = {json.dumps([str(card)])}\n")
    daemon.start()
    daemon.until(lambda: (daemon.home / "state" / "library.db").exists() and not daemon.workers())
    daemon.syncd("run", status=2)
    daemon.syncd("library", "add", music)
    daemon.syncd("scan")
    daemon.syncd("enrol", card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    daemon.scanned()
    assert "KITCHEN is up to date | 2 files written" in daemon.notice()
    daemon.stop()


def test_killed_outright_it_leaves_no_job_behind_and_goes_on_next_time(
    daemon: Daemon, tmp_path: Path
) -> None:
    music, card = tmp_path / "music", tmp_path / "card"
    card.mkdir()
    add_album(music.parent, "music", 6, 400)
    with (daemon.home / "syncd.toml").open("a") as settings:
        settings.write(f"card_folders = {json.dumps([str(card)])}\n")
    daemon.syncd("library", "add", music)
    daemon.syncd("enrol", card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    daemon.start()
    daemon.until((card / "SYNCD" / "journal").exists)
    left = daemon.workers()
    assert daemon.process is not None
    daemon.process.kill()
    daemon.process.wait()
    _, alive = psutil.wait_procs(left, timeout=SECONDS)
    assert not alive
    daemon.start()
    assert "KITCHEN is up to date" in daemon.notice()
    assert daemon.syncd("verify", "KITCHEN")
    daemon.stop()


def test_two_cards_that_come_at_once_share_the_store_and_are_both_right(
    daemon: Daemon, tmp_path: Path
) -> None:
    music, places = tmp_path / "music", [tmp_path / "one", tmp_path / "two"]
    add_album(music.parent, "music", 6, 400)
    with (daemon.home / "syncd.toml").open("a") as settings:
        settings.write(f"card_folders = {json.dumps([str(place) for place in places])}\n")
    daemon.syncd("library", "add", music)
    for place in places:
        place.mkdir()
        daemon.syncd("enrol", place, "--profile", "mcu-mp3", "--name", place.name)
    daemon.start()
    told = sorted([daemon.notice(), daemon.notice()])
    assert [text.split(" | ")[0] for text in told] == ["one is up to date", "two is up to date"]
    daemon.stop()
    assert on_card(places[0]) == on_card(places[1])
    for place in places:
        assert len(list(place.rglob("*.mp3"))) == 6
        daemon.syncd("verify", place.name)


@pytest.mark.skipif(os.geteuid() != 0, reason="needs root, to mount a volume read-only")
def test_a_read_only_card_is_told_with_the_remedy_and_updated_when_it_is_writable(
    daemon: Daemon, tmp_path: Path
) -> None:
    music, card, slot = tmp_path / "music", tmp_path / "card", tmp_path / "slot"
    card.mkdir()
    slot.mkdir()
    add_album(music.parent, "music", 2, 400)
    for path in music.iterdir():
        os.utime(path, (1e9, 1e9))  # it has come to rest long ago, however fast all begins
    daemon.syncd("library", "add", music)
    daemon.syncd("enrol", card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    hidden = card.rename(tmp_path / "hidden")
    mounting = ["mount", "--bind", str(hidden), str(slot)]
    if subprocess.run(mounting, capture_output=True).returncode != 0:
        pytest.skip("mounting is not allowed here")
    try:
        subprocess.run(["mount", "-o", "remount,bind,ro", str(slot)], check=True)
        daemon.start()
        told = daemon.notice()
        assert "KITCHEN is not up to date | The card KITCHEN is read-only" in told
    finally:
        subprocess.run(["umount", "--lazy", str(slot)], check=True)
    subprocess.run(mounting, check=True)
    try:
        assert "KITCHEN is up to date | 2 files written" in daemon.notice()
        daemon.stop()
    finally:
        subprocess.run(["umount", "--lazy", str(slot)], check=True)
