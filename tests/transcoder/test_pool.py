"""Many pressings at once: order of completion, failures, stops."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from transcoder_kit import Master, encoders_of, has_ended, master, music, recipe_for, track_of

from syncd.errors import SetupProblem
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.pool import Pressed, press_all
from syncd.transcoder.store import Store


def masters(folder: Path, count: int, samples: int = 20_000) -> list[Master]:
    return [
        master(folder / f"m{number}.flac", music(samples, level=0.1 + number / 50))
        for number in range(count)
    ]


def test_every_item_has_one_outcome_and_one_failure_stops_no_other(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    made = masters(tmp_path, 6)
    Path(made[2].track.path).write_bytes(b"not audio")
    tracks = [track_of(Path(one.track.path), one.track.audio) for one in made]
    items = [(track, recipe_for(track.audio, codec="mp3", quality=2)) for track in tracks]
    told: list[Pressed] = []
    outcomes = list(press_all(items, store, tool, workers=2, report=told.append))
    assert told == outcomes
    assert {one.track.path for one in outcomes} == {track.path for track in tracks}
    failed = [one for one in outcomes if one.problem is not None]
    assert [one.track.path for one in failed] == [tracks[2].path]
    assert len(store.sizes()) == 5
    again = list(press_all(items, store, tool, workers=2))
    assert sum(one.made for one in outcomes) == 5
    assert sum(one.made for one in again) == 0


def test_equal_work_is_done_once(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    one = masters(tmp_path, 1, 200_000)[0]
    recipe = recipe_for(one.track.audio, codec="mp3", quality=2)
    outcomes = list(press_all([(one.track, recipe)] * 4, store, tool, workers=4))
    assert len(outcomes) == 4
    assert sum(outcome.made for outcome in outcomes) == 1


def test_a_full_store_ends_the_run_with_the_stores_sentence(
    tmp_path: Path, store: Store, tool: Ffmpeg, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    one = masters(tmp_path, 1)[0]
    items = [(one.track, recipe_for(one.track.audio, codec="mp3", quality=2))]
    with pytest.raises(SetupProblem, match="No space left"):
        list(press_all(items, store, tool))
    assert not list((store.folder / "parts").iterdir())


def long_items(folder: Path, store: Store) -> list[tuple[object, object]]:
    one = master(folder / "long.flac", np.tile(music(44100, channels=1), (120, 1)))
    return [
        (one.track, recipe_for(one.track.audio, codec="mp3", quality=quality))
        for quality in range(8)
    ]


def test_a_stop_ends_the_encoders_and_yields_no_more(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    stop = threading.Event()
    outcomes = press_all(long_items(tmp_path, store), store, tool, workers=2, stop=stop)  # type: ignore[arg-type]
    next(outcomes)
    stop.set()
    assert list(outcomes) == []
    assert not encoders_of(os.getpid())
    assert not list((store.folder / "parts").iterdir())
    assert 1 <= len(store.sizes()) < 8


def test_breaking_off_leaves_no_process_and_no_leftover(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    with contextlib.closing(
        press_all(long_items(tmp_path, store), store, tool, workers=2)  # type: ignore[arg-type]
    ) as outcomes:
        next(outcomes)  # type: ignore[call-overload]
    assert not encoders_of(os.getpid())
    assert not list((store.folder / "parts").iterdir())


RUN = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from transcoder_kit import facts, recipe_for, track_of
from syncd.model import Codec
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.pool import press_all
from syncd.transcoder.store import Store
folder = Path(sys.argv[1])
audio = facts("flac", Codec.FLAC, 44100 * 1200, channels=1)
track = track_of(folder / "long.flac", audio)
items = [(track, recipe_for(audio, codec="mp3", quality=q)) for q in range(4)]
with Store(folder / "store") as store:
    print("begun", flush=True)
    for outcome in press_all(items, store, Ffmpeg(find_ffmpeg()), workers=2):
        print(outcome.problem, flush=True)
"""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_ctrl_c_and_a_kill_leave_no_encoder_behind(how: signal.Signals, tmp_path: Path) -> None:
    master(tmp_path / "long.flac", np.tile(music(44100, channels=1), (1200, 1)))
    kit = str(Path(__file__).parent)
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, str(tmp_path), kit],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    try:
        assert process.stdout is not None
        assert process.stdout.readline() == b"begun\n"
        deadline = time.monotonic() + 30
        encoders: list[int] = []
        while len(encoders) < 2 and time.monotonic() < deadline:
            encoders = encoders_of(process.pid)
        assert len(encoders) == 2
        watched = [os.pidfd_open(pid) for pid in encoders]
        process.send_signal(how)
        process.wait(timeout=30)
        assert all(has_ended(pidfd, 10) for pidfd in watched)
    finally:
        process.kill()
        process.wait()
    with Store(tmp_path / "store") as store:
        assert not list((tmp_path / "store" / "parts").iterdir())
        for path in (tmp_path / "store" / "pressings").rglob("*.mp3"):
            assert path.stat().st_size in store.sizes().values()
