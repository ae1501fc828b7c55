"""What watching a library costs: beginning, a burst of events, and nothing at all while idle.

    unshare -m python tests/bench/watch_bench.py [FOLDERS] [SECONDS]

In a mount namespace of its own, so that what else is mounted on the computer wakes nobody.

Beside beginning stands ``find -type d`` in the same tree, beside the burst a bare Python that reads
the same events from inotify by ``os.read`` and does nothing with them. Wake-ups are the voluntary
context switches of all threads of a daemon that has the library, from /proc/PID/task/*/status.
"""

import ctypes
import os
import select
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT)]

import psutil  # noqa: E402

from syncd.daemon.inotify_tree import MASK  # noqa: E402
from syncd.daemon.watcher import LibraryWatcher, Watching  # noqa: E402

EVENTS = 10_000


def switches(pid: int) -> int:
    found = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        for line in (task / "status").read_text().splitlines():
            if line.startswith("voluntary_ctxt_switches"):
                found += int(line.split()[1])
    return found


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


def main() -> None:
    folders = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seconds = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    with tempfile.TemporaryDirectory() as made:
        music = Path(made) / "music"
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
        home = Path(made) / "home"
        command = [sys.executable, "-m", "syncd", "--home", str(home)]
        subprocess.run([*command, "library", "add", str(music)], check=True, cwd=ROOT)
        daemon = subprocess.Popen([*command, "run"], cwd=ROOT, stderr=subprocess.DEVNULL)
        try:
            time.sleep(15)
            before = switches(daemon.pid)
            for _ in range(seconds // 10):
                time.sleep(10)
                now = switches(daemon.pid)
                print(f"idle: {now - before} wake-ups in 10 s", flush=True)
                before = now
            memory = psutil.Process(daemon.pid).memory_info().rss / 1e6
            print(f"the daemon has {memory:.0f} MB")
        finally:
            daemon.send_signal(signal.SIGTERM)
            daemon.wait()


if __name__ == "__main__":
    main()
