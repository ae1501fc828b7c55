"""What watching a library costs: beginning, a burst of events, and nothing at all while idle.

    unshare -m python tests/bench/watch_bench.py [FOLDERS] [--minutes 10] [--tracks 100000]

In a mount namespace of its own, so that what else is mounted on the computer wakes nobody.

Beside beginning stands ``find -type d`` in the same tree, beside the burst a bare Python that reads
the same events from inotify by ``os.read`` and does nothing with them. Then ``syncd run`` is left
alone with an index of 100,000 tracks: its wake-ups are the voluntary context switches of each of
its threads, from /proc/PID/task/*/status, its processor time is from /proc/PID/stat (these do not
depend on what else is going on). And a rip is written file after file, until its pressings are
ready. Budgets: one wake-up a minute, 0.1 % of a core, 80 MB.
"""

import argparse
import ctypes
import json
import os
import re
import select
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "bench")]

import numpy as np  # noqa: E402
import psutil  # noqa: E402
import soundfile  # noqa: E402
from scan_bench import fill, make_tree  # noqa: E402

from syncd.daemon.inotify_tree import MASK  # noqa: E402
from syncd.daemon.watcher import LibraryWatcher, Watching  # noqa: E402
from syncd.settings import find_home  # noqa: E402
from syncd.transcoder.ffmpeg_port import find_ffmpeg  # noqa: E402

EVENTS = 10_000


def cpu_s() -> float:
    times = os.times()
    return times.user + times.system


def rss_mb() -> float:
    return float(psutil.Process().memory_info().rss) / 1e6


def until(woken: threading.Event, watch: LibraryWatcher, holds: object) -> None:
    while not holds():  # type: ignore[operator]
        assert woken.wait(60)
        woken.clear()


def burst(folder: Path) -> None:
    for number in range(EVENTS // 2):
        (folder / f"{number}.flac").write_bytes(b"")  # comes, and is closed
        (folder / f"{number}.flac").unlink(missing_ok=True) if number % 2 else None


def bare(folder: Path) -> float:
    """Processor seconds of making the burst and reading its events bare."""
    libc = ctypes.CDLL(None)
    fd = libc.inotify_init1(os.O_CLOEXEC | os.O_NONBLOCK)
    libc.inotify_add_watch(fd, os.fsencode(folder), int(MASK))
    began = cpu_s()
    burst(folder)
    while select.select([fd], [], [], 0)[0]:
        os.read(fd, 65536)
    spent = cpu_s() - began
    os.close(fd)
    return spent


def watching(made: Path, folders: int) -> None:
    """Beginning to watch so many folders, and a burst of events."""
    music = made / "music"
    for number in range(folders):
        (music / f"{number % 100}" / f"{number}").mkdir(parents=True)
    for folder, _, _ in os.walk(music, topdown=False):
        os.utime(folder, (1e9, 1e9))  # else all of it would have to settle first
    began = time.perf_counter()
    subprocess.run(["find", music, "-type", "d"], stdout=subprocess.DEVNULL, check=True)
    found_s = time.perf_counter() - began
    woken = threading.Event()
    before_mb = rss_mb()
    watch = LibraryWatcher(woken.set, Watching())
    began = time.perf_counter()
    watch.watch([music])
    until(woken, watch, watch.settled)
    begun_s = time.perf_counter() - began
    print(
        f"begin: {folders} folders in {begun_s:.2f} s, find -type d {found_s:.2f} s "
        f"({begun_s / found_s:.1f} times); {rss_mb() - before_mb:.1f} MB"
    )
    baseline_s = bare(Path(tempfile.mkdtemp(dir=made)))
    before_mb, began_cpu = rss_mb(), cpu_s()
    burst(music / "0" / "0")
    (music / "1" / "1" / "last").mkdir()
    last = os.fsencode(music / "1" / "1" / "last")
    until(woken, watch, lambda: watch.next_s() is not None and woken.wait(0.2) is False)
    spent = cpu_s() - began_cpu
    print(
        f"burst: {EVENTS} events made and taken in {spent:.2f} s of processor, bare "
        f"{baseline_s:.2f} s ({spent / baseline_s:.1f} times); "
        f"{rss_mb() - before_mb:.1f} MB, {len(watch.restless())} folders kept"
        f"{'' if last in watch.restless() else ', the last one missing'}"
    )
    watch.close()


def sampled(daemon: psutil.Process) -> tuple[dict[str, int], float, float, float]:
    """Voluntary switches by thread, seconds of processor, resident and proportional MB.

    Of the daemon and of all that it started. Both figures of memory count shared pages, the latter
    by the share.
    """
    woken: dict[str, int] = {}
    spent = resident = proportional = 0.0
    for process in (daemon, *daemon.children(recursive=True)):
        place = Path(f"/proc/{process.pid}")
        for task in (place / "task").iterdir():
            name = (task / "comm").read_text().strip()
            text = (task / "status").read_text()
            seen = re.search(r"\nvoluntary_ctxt_switches:\s+(\d+)", text)
            assert seen is not None
            woken[f"{process.pid}/{task.name} {name}"] = int(seen[1])
        ticks = (place / "stat").read_text().rpartition(")")[2].split()
        spent += sum(map(int, ticks[11:15])) / os.sysconf("SC_CLK_TCK")  # its children's, too
        memory = process.memory_full_info()
        resident += memory.rss / 1e6
        proportional += memory.pss / 1e6
    return woken, spent, resident, proportional


def idle(base: Path, tracks: int, minutes: int) -> None:
    """What the daemon takes while nothing happens, with *tracks* in its index and a card there.

    Made in *base*, where what an earlier run has made is taken as it is. One card is away, another
    one is plugged in, in a folder that is looked at, and is up to date.
    """
    home, music, card = base / "home", base / "music", base / "card"
    command = [sys.executable, "-m", "syncd", "--home", str(home)]
    if not home.exists():
        make_tree(music, tracks)
        fill(find_home(str(home), environment={}).made().index_file, music)
        for medium in (card, base / "away"):
            medium.mkdir()
            (base / "few.toml").write_text('[[clause]]\nkind = "popular"\n')
            more = ("--profile", "mcu-mp3", "--programme", base / "few.toml", "--name", medium.name)
            subprocess.run([*command, "enrol", medium, *more], check=True, cwd=ROOT)
        (base / "away").rename(base / "hidden")
        (home / "syncd.toml").write_text(f"card_folders = [{json.dumps(str(card))}]\n")
    popen = subprocess.Popen([*command, "run"], cwd=ROOT, stderr=subprocess.DEVNULL)
    daemon = psutil.Process(popen.pid)
    try:
        quiet = 0
        while quiet < 70:  # seconds without a job, nor what has shown a notice
            time.sleep(1)
            quiet = 0 if daemon.children() else quiet + 1
        first = before = sampled(daemon)
        for _ in range(minutes):
            time.sleep(60)
            now = sampled(daemon)
            woken = {name: count - before[0].get(name, 0) for name, count in now[0].items()}
            told = ", ".join(f"{name}: {count}" for name, count in woken.items())
            print(f"  a minute: {told}; {now[1] - before[1]:.2f} s of processor", flush=True)
            before = now
        spent = before[1] - first[1]
        print(
            f"idle for {minutes} minutes, {tracks} tracks: {spent:.2f} s of processor "
            f"({100 * spent / (60 * minutes):.3f} % of a core), {before[2]:.1f} MB resident, "
            f"{before[3]:.1f} MB proportional"
        )
    finally:
        popen.send_signal(signal.SIGTERM)
        popen.wait()


def rip(base: Path, settle_s: int, files: int = 6, seconds: float = 120.0) -> None:
    """From the end of a rip to its pressings, which a card that is away will need.

    Files are written one after another, a second each, in pieces. Beside it the time in which bare
    ffmpegs encode them, one a core. What is left besides that and the settling time is syncd's.
    """
    home, music, card = base / "home", base / "music", base / "card"
    command = [sys.executable, "-m", "syncd", "--home", str(home)]
    for folder in (home, music, card):
        folder.mkdir(parents=True)
    (home / "syncd.toml").write_text(f"settle_seconds = {settle_s}\n")
    rate = 44100
    noise = np.random.default_rng(1)
    song = music / "Old" / "01.flac"
    song.parent.mkdir()
    soundfile.write(song, noise.normal(0, 0.1, (rate, 2)), rate)
    quiet = {"check": True, "cwd": ROOT, "stdout": subprocess.DEVNULL}
    subprocess.run([*command, "library", "add", music], **quiet)
    subprocess.run([*command, "scan"], **quiet)
    subprocess.run([*command, "enrol", card, "--profile", "mcu-mp3", "--name", "CARD"], **quiet)
    subprocess.run([*command, "update", "CARD"], **quiet)
    card.rename(base / "hidden")
    ripped = []
    for number in range(files):
        path = base / f"{number}.flac"
        soundfile.write(path, noise.normal(0, 0.1, (int(rate * seconds), 2)), rate)
        ripped.append(path)
    listed = b"\0".join(os.fsencode(path) for path in ripped)
    began, before = time.monotonic(), os.times()
    one = f"{find_ffmpeg()} -v error -y -i {{}} -q:a 2 {{}}.mp3"
    encoding = ["xargs", "-0", "-I", "{}", "-P", str(os.cpu_count()), *one.split()]
    subprocess.run(encoding, input=listed, check=True)
    bare_s = time.monotonic() - began
    after = os.times()
    bare_cpu_s = sum(after[2:4]) - sum(before[2:4])
    popen = subprocess.Popen([*command, "run"], cwd=ROOT, stderr=subprocess.PIPE, text=True)
    told: dict[str, float] = {}
    spent: dict[str, float] = {}
    words = ("library changed", "pressings were made")

    def hear() -> None:
        assert popen.stderr is not None
        for line in popen.stderr:
            for word in words:
                if word in line:
                    heard = time.monotonic()
                    times = psutil.Process(popen.pid).cpu_times()
                    spent[word] = times.children_user + times.children_system
                    told[word] = heard

    hearing = threading.Thread(target=hear)
    hearing.start()
    try:
        time.sleep(5)
        (music / "New").mkdir()
        for path in ripped:
            data = path.read_bytes()
            with (music / "New" / path.name).open("wb") as file:
                for piece in range(10):
                    file.write(data[piece * len(data) // 10 : (piece + 1) * len(data) // 10])
                    file.flush()
                    time.sleep(0.1)
        ended = time.monotonic()
        while len(told) < len(words):
            assert popen.poll() is None and time.monotonic() - ended < settle_s + 20 * bare_s + 120
            time.sleep(0.01)
        known_s, pressed_s = (told[word] - ended for word in words)
        print(
            f"rip: known {known_s:.1f} s after its end ({settle_s} s to settle; scans took "
            f"{spent[words[0]]:.2f} s of processor), pressed in {pressed_s - known_s:.1f} s more "
            f"({spent[words[1]] - spent[words[0]]:.1f} s of processor); bare ffmpeg {bare_s:.1f} s "
            f"({bare_cpu_s:.1f} s of processor)"
        )
    finally:
        popen.send_signal(signal.SIGTERM)
        popen.wait()
        hearing.join()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="?", type=int, default=10_000)
    parser.add_argument("--tracks", type=int, default=100_000, help="in the index while idle")
    parser.add_argument("--minutes", type=int, default=10, help="to watch it idle; 0: not at all")
    parser.add_argument("--settle", type=int, default=60, help="seconds; 0: no rip")
    parser.add_argument("--keep", type=Path, help="make the idle daemon's library here, keep it")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        if chosen.folders:
            watching(Path(made), chosen.folders)
        if chosen.settle:
            rip(Path(made) / "rip", chosen.settle)
        if chosen.minutes:
            idle(chosen.keep or Path(made) / "idle", chosen.tracks, chosen.minutes)


if __name__ == "__main__":
    main()
