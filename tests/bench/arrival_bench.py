"""From mount to the first byte on a card of 10,000 files; and what the idle daemon costs.

Needs root, for a bind mount: the mount table's own notice is what begins it. The library is so many
short MP3 files that are carried over; the card is filled once, taken out, one album is added, and
the card is mounted again. Prints beside each figure what a bare Python that reads the same folders
takes, as baseline.

    unshare -m python tests/bench/arrival_bench.py [FILES]

In a mount namespace of its own, so that what else is mounted on the computer is not heard of.
"""

import argparse
import json
import os
import re
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import mutagen  # noqa: E402
import psutil  # noqa: E402
from update_kit import tone  # noqa: E402

from syncd.transcoder.ffmpeg_port import find_ffmpeg  # noqa: E402

SECONDS = 1800
PER_ALBUM = 10


def syncd(home: Path, *arguments: str) -> None:
    command = [sys.executable, "-m", "syncd", "--home", str(home), *arguments]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT)


def make_albums(music: Path, first: int, albums: int, sample: Path) -> None:
    for number in range(first, first + albums):
        folder = music / f"Album {number:05}"
        folder.mkdir(parents=True)
        for track in range(1, PER_ALBUM + 1):
            path = folder / f"{track:02}.mp3"
            # Other audio in each, within the last frame's ancillary bytes: nobody decodes it here.
            data = sample.read_bytes()
            path.write_bytes(data[:-8] + struct.pack(">II", number, track))
            audio = mutagen.File(path, easy=True)
            audio["artist"] = f"Marnesund Five {number // 10}"
            audio["album"] = f"Low Tide {number:05}"
            audio["title"] = f"Song {track} of {number}"
            audio["tracknumber"] = str(track)
            audio["genre"] = "Pop"
            audio.save()


def wait_for(there: Path, seconds: float = SECONDS) -> float:
    deadline = time.monotonic() + seconds
    while not there.exists():
        if time.monotonic() > deadline:
            raise SystemExit(f"{there} did not come within {seconds} s")
        time.sleep(0.001)
    return time.monotonic()


def plug_in(medium: Path, point: Path, image: Path) -> None:
    """Mount *image* at *point*, if there is one, else show what *medium* has there."""
    if image.exists():
        mount = ["mount", "-t", "exfat-fuse", "-o", "loop", str(image), str(point)]
        subprocess.run(mount, check=True, capture_output=True)
    elif medium != point:
        subprocess.run(["mount", "--bind", str(medium), str(point)], check=True)


def wait_for_notice(notices: Path, number: int) -> None:
    deadline = time.monotonic() + SECONDS
    while not notices.exists() or len(notices.read_text().splitlines()) < number:
        if time.monotonic() > deadline:
            raise SystemExit("no notice came")
        time.sleep(0.02)


def usage(pid: int) -> tuple[int, float, int]:
    """Resident kB, seconds of processor, voluntary switches of the daemon itself."""
    status = Path(f"/proc/{pid}/status").read_text()
    stat = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    ticks = int(stat[11]) + int(stat[12])
    resident = int(re.search(r"VmRSS:\s+(\d+)", status)[1])  # type: ignore[index]
    switches = int(re.search(r"voluntary_ctxt_switches:\s+(\d+)", status)[1])  # type: ignore[index]
    return resident, ticks / os.sysconf("SC_CLK_TCK"), switches


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="?", type=int, default=10_000)
    parser.add_argument("--idle", type=float, default=60.0, help="seconds to watch it idle")
    parser.add_argument("--keep", type=Path, help="work here, and keep what was made")
    parser.add_argument("--exfat", action="store_true", help="a card with exFAT, by exfat-fuse")
    chosen = parser.parse_args()
    base = chosen.keep or Path(tempfile.mkdtemp(prefix="arrival-bench-"))
    music, home, medium, point = (base / name for name in ("music", "home", "medium", "point"))
    new = not home.exists()
    for folder in (music, home, medium, point):
        folder.mkdir(parents=True, exist_ok=True)
    sample = base / "sample.mp3"
    if new:
        tone(base / "sample.flac", 440)
        command = [find_ffmpeg(), "-v", "error", "-i", str(base / "sample.flac")]
        subprocess.run([*command, "-b:a", "64k", str(sample)], check=True)
        make_albums(music, 0, chosen.files // PER_ALBUM, sample)
        tell = base / "tell"
        tell.write_text('#!/bin/sh\nprintf "%s: %s\\n" "$2" "$3" >> "$1"\n')
        tell.chmod(0o755)
        (home / "syncd.toml").write_text(
            f'damaged = "use"\nnotice_command = {json.dumps([str(tell), str(base / "notices")])}\n'
        )
        if chosen.exfat:
            with (base / "card.img").open("wb") as file:
                file.truncate(1 << 30)
            subprocess.run(["mkfs.exfat", str(base / "card.img")], check=True, capture_output=True)
        syncd(home, "library", "add", str(music))
        syncd(home, "scan")
        plug_in(medium, medium, base / "card.img")
        syncd(home, "enrol", str(medium), "--profile", "mcu-mp3", "--name", "KITCHEN")
        begun = time.monotonic()
        syncd(home, "update", "KITCHEN")
        print(f"filled with {chosen.files} files in {time.monotonic() - begun:.1f} s")
        if chosen.exfat:
            subprocess.run(["umount", str(medium)], check=True)
    extra = len(list(music.iterdir()))
    make_albums(music, extra, 1, sample)
    hidden = base / f"hidden-{extra}"
    medium.rename(hidden)  # so that the card is at no place that is looked at
    (base / "notices").unlink(missing_ok=True)
    daemon = subprocess.Popen(
        [sys.executable, "-m", "syncd", "--home", str(home), "run"],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert daemon.stderr is not None
        for line in daemon.stderr:
            print("  " + line.rstrip())
            if "library changed" in line:
                break
        time.sleep(3)  # pressing ahead has nothing to do, and says so to nobody
        begun = time.monotonic()
        plug_in(hidden, point, base / "card.img")
        mounted = time.monotonic()
        first = wait_for(point / "SYNCD" / "journal")
        worked = sum(usage(child.pid)[1] for child in psutil.Process(daemon.pid).children())
        wait_for_notice(base / "notices", 1)
        ended = time.monotonic()
        print(
            f"mount to first byte: {first - mounted:.2f} s (mount itself {mounted - begun:.2f} s)"
        )
        print(f"  of that the job's processor time: {worked:.2f} s (the rest: others, waiting)")
        print(f"mount to notice:     {ended - mounted:.2f} s, with {PER_ALBUM} new files")
        begun = time.monotonic()
        walk = "import os,sys\nfor a,b,c in os.walk(sys.argv[1]):\n for f in c: os.stat(a+'/'+f)"
        subprocess.run([sys.executable, "-c", walk, str(point)], check=True)
        print(
            f"baseline, a bare Python that stats the card's files: {time.monotonic() - begun:.2f} s"
        )
        time.sleep(2)
        _, before_s, before_switches = usage(daemon.pid)
        time.sleep(chosen.idle)
        resident, after_s, switches = usage(daemon.pid)
        print(
            f"idle for {chosen.idle:.0f} s: {after_s - before_s:.3f} s of processor, "
            f"{switches - before_switches} switches, {resident / 1000:.1f} MB resident"
        )
        begun = time.monotonic()
        daemon.send_signal(signal.SIGTERM)
        daemon.wait(30)
        print(f"SIGTERM to end, idle: {time.monotonic() - begun:.2f} s")
    finally:
        daemon.kill()
        subprocess.run(["umount", str(point)], check=False)
        hidden.rename(medium)
        if chosen.keep is None:
            shutil.rmtree(base)


if __name__ == "__main__":
    main()
