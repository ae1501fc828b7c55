"""A real syncd, ended in the middle of pressing: no process stays behind, and no half file."""

import contextlib
import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from update_kit import tag

from syncd.cli.exits import INTERRUPTED
from syncd.transcoder.ffmpeg_port import find_ffmpeg
from syncd.transcoder.store import Store

SECONDS = 20


@pytest.fixture(scope="module")
def masters(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three songs that take an encoder a second or more."""
    folder = tmp_path_factory.mktemp("long") / "music" / "Album"
    folder.mkdir(parents=True)
    noise = np.random.default_rng(3).normal(0, 0.1, (SECONDS * 44100, 2))
    for number in (1, 2, 3):
        path = folder / f"{number:02}.flac"
        soundfile.write(path, np.roll(noise, number * 1000, axis=0), 44100, format="FLAC")
        tag(path, artist="Marnesund Five", album="Low Tide", title=f"Song {number}",
            tracknumber=str(number), genre="Pop")  # fmt: skip
    return folder.parent


def slow_ffmpeg(folder: Path) -> Path:
    """An ffmpeg that reads at no more than real time, so that it is at work when we look."""
    path = folder / "slow-ffmpeg"
    path.write_text(f'#!/bin/sh\nexec {find_ffmpeg()} -readrate 1 "$@"\n')
    path.chmod(0o755)
    return path


def syncd(home: Path, *arguments: str | Path) -> list[str]:
    return [sys.executable, "-m", "syncd", "--home", str(home), *map(str, arguments)]


def encoders_in(folder: Path) -> dict[int, int]:
    """The processes whose command names *folder*'s parts, and descriptors that watch them."""
    found = {}
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit() or int(entry.name) == os.getpid():
            continue
        with contextlib.suppress(OSError):
            if str(folder / "parts").encode() in (entry / "cmdline").read_bytes():
                found[int(entry.name)] = os.pidfd_open(int(entry.name))
    return found


def has_ended(watched: int, timeout_ms: int) -> bool:
    poll = select.poll()
    poll.register(watched, select.POLLIN)
    return bool(poll.poll(timeout_ms))


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_an_end_in_the_middle_of_pressing_leaves_no_process_and_no_half_file(
    masters: Path, tmp_path: Path, number: signal.Signals
) -> None:
    if not Path("/proc/self/cmdline").exists() or not hasattr(os, "pidfd_open"):
        pytest.skip("there is no /proc here to look for processes in")
    home, card = tmp_path / "home", tmp_path / "card"
    home.mkdir()
    card.mkdir()
    (home / "syncd.toml").write_text(f'ffmpeg = "{slow_ffmpeg(tmp_path)}"\nworkers = 2\n')
    quiet = {"check": True, "stdout": subprocess.DEVNULL}
    subprocess.run(syncd(home, "library", "add", masters), **quiet)  # type: ignore[call-overload]
    enrol = syncd(home, "enrol", card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    subprocess.run(enrol, **quiet)  # type: ignore[call-overload]
    running = subprocess.Popen(
        syncd(home, "update", "KITCHEN"), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    encoders: dict[int, int] = {}
    try:
        deadline = time.monotonic() + 60
        while len(encoders) < 2 and running.poll() is None and time.monotonic() < deadline:
            for watched in encoders.values():
                os.close(watched)
            encoders = encoders_in(home / "store")
        assert len(encoders) == 2
        running.send_signal(number)
        status = running.wait(30)
    finally:
        running.kill()
        running.wait()
    assert status == (-number if number is signal.SIGKILL else INTERRUPTED)
    for watched in encoders.values():
        # After SIGKILL an encoder meets the broken pipe with what it writes next.
        assert has_ended(watched, 20_000)
        os.close(watched)
    left = list((home / "store" / "parts").iterdir())
    assert number is signal.SIGKILL or left == []
    with Store(home / "store") as store:
        assert list((home / "store" / "parts").iterdir()) == []
        assert store.sizes() == {}
    assert [path.name for path in card.rglob("*.mp3")] == []


PRESSER = """
import sys
from pathlib import Path
from syncd.library.audiohash import hash_file
from syncd.library.tags import read_file
from syncd.model import Codec, Track
from syncd.planner.recipe import Recipe
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

path = sys.argv[2]
audio = read_file(path).audio
track = Track(path, hash_file(path, "flac").audio, audio, 1)
recipe = Recipe("encode", Codec.MP3, "mp3", 44100, 2, quality=9)
with Store(Path(sys.argv[1])) as store:
    print("ready", flush=True)
    sys.stdin.readline()
    print(press(track, recipe, store, Ffmpeg(find_ffmpeg())).hash)
"""


def test_two_processes_that_press_the_same_leave_one_whole_pressing(
    masters: Path, tmp_path: Path
) -> None:
    song = str(masters / "Album" / "01.flac")
    command = [sys.executable, "-c", PRESSER, str(tmp_path / "store"), song]
    both = [
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    for process in both:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in both:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    hashes = {process.communicate(timeout=120)[0].strip() for process in both}
    assert [process.returncode for process in both] == [0, 0]
    assert len(hashes) == 1
    with Store(tmp_path / "store") as store:
        ((audio, recipe),) = store.sizes()
        kept = store.get(audio, recipe)
        assert kept is not None
        assert kept.hash in hashes
        assert store.verify(kept)
        assert list((tmp_path / "store" / "parts").iterdir()) == []
