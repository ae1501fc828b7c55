"""The port to ffmpeg: how it is found, fenced in, and how it fails."""

import os
import stat
import threading
from pathlib import Path

import ffmpeg
import imageio_ffmpeg
import pytest
from transcoder_kit import master, music

from syncd.errors import ItemProblem, SetupProblem
from syncd.transcoder.ffmpeg_port import Ffmpeg, Stopped, find_ffmpeg, last_words, source


def script(path: Path, text: str) -> Ffmpeg:
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return Ffmpeg(str(path))


def silence() -> object:
    return ffmpeg.input("file:none", f="wav").output("-", f="null")


def test_the_ffmpeg_of_the_settings_is_taken(tmp_path: Path) -> None:
    tool = script(tmp_path / "mine", "echo 'ffmpeg version 7.1 Copyright (c)'")
    assert find_ffmpeg(tool.executable) == tool.executable


def test_a_program_that_is_no_ffmpeg_is_a_setup_problem(tmp_path: Path) -> None:
    tool = script(tmp_path / "other", "exit 0")
    with pytest.raises(SetupProblem, match="does not answer as ffmpeg"):
        find_ffmpeg(tool.executable)


def test_a_missing_ffmpeg_is_a_setup_problem(tmp_path: Path) -> None:
    with pytest.raises(SetupProblem, match="no such program"):
        find_ffmpeg(str(tmp_path / "none"))
    with pytest.raises(SetupProblem, match="does not start"):
        Ffmpeg(str(tmp_path / "none")).run(silence(), item="x", limit_s=5)


def test_the_ffmpeg_that_syncd_brings_is_looked_for_when_it_is_first_used(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def none() -> str:
        raise RuntimeError("no binary for this machine")

    with monkeypatch.context() as without:
        without.setattr(imageio_ffmpeg, "get_ffmpeg_exe", none)
        tool = Ffmpeg()
        with pytest.raises(SetupProblem, match="No ffmpeg was found"):
            tool.run(silence(), item="x", limit_s=5)
        with pytest.raises(SetupProblem, match="No ffmpeg was found"):
            tool.another()
    assert tool.executable == find_ffmpeg()


def test_the_last_words_are_in_the_problem(tmp_path: Path) -> None:
    tool = script(
        tmp_path / "failing", "echo 'frame=1' >&2; echo 'the disk of music broke' >&2; exit 3"
    )
    with pytest.raises(ItemProblem, match="the disk of music broke") as caught:
        tool.run(silence(), item="a.flac", limit_s=5)
    assert caught.value.item == "a.flac"
    assert "frame=" not in str(caught.value)


def test_words_without_end_do_not_fill_the_memory(tmp_path: Path) -> None:
    tool = script(tmp_path / "talking", "yes words | head -c 20000000 >&2; echo >&2; echo end >&2")
    run = tool.run(silence(), item="x", limit_s=60)
    assert len(run.lines) <= 400
    assert "end" in run.lines[-2:]


def test_a_run_that_takes_too_long_is_ended_with_its_children(tmp_path: Path) -> None:
    pid_file = tmp_path / "pid"
    tool = script(tmp_path / "slow", f"sleep 100 & echo $! > {pid_file}; wait")
    with pytest.raises(ItemProblem, match="given up"):
        tool.run(silence(), item="x", limit_s=1)
    child = int(pid_file.read_text())
    state = Path(f"/proc/{child}/stat")
    assert not state.exists() or state.read_text().split(")")[1].split()[0] == "Z"


def test_after_a_stop_nothing_starts(tmp_path: Path) -> None:
    tool = script(tmp_path / "slow", "sleep 100")
    timer = threading.Timer(0.3, tool.stop)
    timer.start()
    with pytest.raises(Stopped):
        tool.run(silence(), item="x", limit_s=60)
    with pytest.raises(Stopped):
        tool.run(silence(), item="x", limit_s=60)
    script(tmp_path / "quick", "exit 0").another().run(silence(), item="x", limit_s=60)


def test_ffmpeg_gets_no_input_and_a_lower_priority(tmp_path: Path) -> None:
    out = tmp_path / "said"
    tool = script(
        tmp_path / "asking", f'read line && exit 9; sleep 0.2; nice > {out}; echo "$@" >> {out}'
    )
    stream = source("/some where/a.flac", "flac").output("-", f="null")
    tool.run(stream, item="x", limit_s=20)
    nice, arguments = out.read_text().splitlines()
    assert int(nice) == max(os.nice(0), 10)
    assert "-nostdin" in arguments
    assert "-protocol_whitelist file,pipe" in arguments
    assert arguments.index("-f flac") < arguments.index("-i file:/some where/a.flac")


@pytest.mark.skipif(not hasattr(os, "SCHED_BATCH"), reason="this system has no batch processes")
def test_ffmpeg_runs_as_a_batch(tmp_path: Path) -> None:
    # proc(5), /proc/PID/stat, field 41: the scheduling policy; sched(7): SCHED_BATCH is 3.
    out = tmp_path / "policy"
    asking = script(tmp_path / "asking", f"sleep 0.2; cut -d' ' -f41 /proc/self/stat > {out}")
    asking.run(silence(), item="x.flac", limit_s=60)
    assert int(out.read_text()) == os.SCHED_BATCH == 3


def test_a_nul_in_a_path_is_an_item_problem(tool: Ffmpeg) -> None:
    with pytest.raises(ItemProblem, match="cannot be opened"):
        tool.run(source("a\0b", "flac").output("-", f="null"), item="a", limit_s=5)


def test_standard_output_is_handed_over(tmp_path: Path, tool: Ffmpeg) -> None:
    made = master(tmp_path / "m.wav", music(1000))
    stream = source(made.track.path, "wav").output("-", f="md5")
    assert tool.run(stream, item="m", limit_s=20, want_stdout=True).stdout.startswith(b"MD5=")


def test_last_words_say_so_when_there_are_none() -> None:
    assert last_words(("size=1", "  Stream #0")) == "ffmpeg gave no reason"
