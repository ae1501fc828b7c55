"""Filling a card, and the same card again from the store, beside bare tools doing the same.

    python tests/bench/card_bench.py [--tracks 60] [--seconds 240] [--rounds 3] [--folder DIR]
    unshare -m python tests/bench/card_bench.py --medium 30:90 [--system ext4] --seconds 60

Sources are FLAC files of filtered noise, so that nothing is small by luck; the player takes MP3 V2.
Filling: ``syncd update`` of a new card, scan, inspection, tags, hashes and catalogue included,
beside ``find | xargs -P 2 ffmpeg`` with the same encoder and quality, then ``cp`` and ``sync``.
Again: the card is emptied and updated from the store, in turns with ``cp -r`` and ``sync`` of the
bytes that the first update wrote, and ``cmp`` of the two, once as it comes (from memory) and once
with the copies dropped from memory first, as syncd drops what it reads back. The least of the
rounds counts. A fixed cost of starting Python, scanning and reading the card is part of ours and
told by itself: an update that writes one file, and so a catalogue. What it weighs depends on how
fast the card is: ``--medium`` makes one that writes and reads so many megabytes a second
(``slow_medium``; the SD Association's speed classes promise 10, 30, 60 or 90 in writing), with
exFAT by exfat-fuse, or with ext4 for a driver in the kernel; how long its commands took it does not
depend on what else the computer does.
"""

import argparse
import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from slow_medium import SlowMedium

from syncd.applier.uncached import device_forgets, forget
from syncd.transcoder.ffmpeg_port import find_ffmpeg


def syncd(home: Path, *words: str) -> None:
    command = [sys.executable, "-m", "syncd", "--home", str(home), *words]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def make_sources(folder: Path, tracks: int, seconds: int) -> None:
    folder.mkdir()
    for number in range(tracks):
        tags = {
            "composer": "Ludwig van Beethoven",
            "title": f"Beethoven: Piano Sonata No. {number // 4 + 1} - {number % 4 + 1}. Allegro",
            "album": "Sonatas",
            "artist": "Quirin Ostrowald",
            "track": str(number + 1),
        }
        words = [word for pair in tags.items() for word in ("-metadata", "=".join(pair))]
        noise = f"anoisesrc=r=44100:c=pink:a=0.3:s={number}:d={seconds}"
        subprocess.run(
            [
                *(find_ffmpeg(), "-v", "error", "-f", "lavfi", "-i", noise, "-ac", "2"),
                *(*words, str(folder / f"{number:03}.flac")),
            ],
            check=True,
        )


def bare_filling(place: Path) -> None:
    """Encode all sources two at a time, copy the results, and sync."""
    (place / "encoded").mkdir()
    encode = (
        f"{find_ffmpeg()} -nostdin -v error -y -i '{{}}' -c:a libmp3lame -q:a 2 "
        f"-threads 1 '{place}/encoded/'$(basename '{{}}' .flac).mp3"
    )
    find = f"find '{place}/music' -name '*.flac' -print0"
    script = f'{find} | xargs -0 -P 2 -I {{}} sh -c "{encode}"'
    script = script.replace("$(", "\\$(")
    subprocess.run(["sh", "-c", script], check=True)
    shutil.copytree(place / "encoded", place / "copied")
    subprocess.run(["sync", "-f", str(place / "copied")], check=True)


def drop(folder: Path) -> None:
    """Have the system forget the files in *folder*, as syncd has it when it reads back."""
    for file in folder.rglob("*"):
        if file.is_file():
            fd = os.open(file, os.O_RDONLY)
            forget(fd)
            os.close(fd)
    fd = os.open(folder, os.O_RDONLY)
    device_forgets(fd)
    os.close(fd)


def compared(kept: Path, bare: Path) -> float:
    """Seconds that cmp takes for all files."""
    script = 'cd "$1" && find . -type f -exec cmp {} "$2"/{} ";"'
    start = time.perf_counter()
    subprocess.run(["sh", "-c", script, "sh", str(kept), str(bare)], check=True)
    return time.perf_counter() - start


@contextlib.contextmanager
def site_of(
    place: Path, medium: str | None, system: str
) -> Iterator[tuple[Path, SlowMedium | None]]:
    """Where cards lie: in *place*, or on a medium of its own that is as slow as *medium* says."""
    if medium is None:
        yield place, None
        return
    write, read = (float(rate) * 1e6 for rate in medium.split(":"))
    point = place / "mounted"
    point.mkdir()
    with SlowMedium(place, 8 << 30, write=write, read=read) as slow:
        quiet = {"check": True, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        subprocess.run([f"mkfs.{system}", slow.device], **quiet)
        mount = ["mount.exfat-fuse"] if system == "exfat" else ["mount"]
        subprocess.run([*mount, slow.device, str(point)], **quiet)
        try:
            yield point, slow
        finally:
            subprocess.run(["umount", str(point)], check=True)


def taken(work: Callable[[], None]) -> float:
    """Seconds that *work* takes when nothing else waits to be written."""
    os.sync()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def again(
    place: Path, site: Path, slow: SlowMedium | None, kept: Path, profile: str, rounds: int
) -> None:
    """Time updates from the store beside bare tools, and print the least of the rounds."""
    home, card, bare = place / "home", site / "card", site / "bare"
    files = [file for file in kept.rglob("*") if file.is_file()]
    tracks = sum(file.is_relative_to(kept / "Music") for file in files)
    size = sum(file.stat().st_size for file in files)
    took: dict[str, list[float]] = {}

    busy: dict[str, float] = {}

    def timed(name: str, work: Callable[[], None]) -> float:
        before = slow.busy_s if slow is not None else 0.0
        took.setdefault(name, []).append(taken(work))
        busy[name] = (slow.busy_s if slow is not None else 0.0) - before
        return took[name][-1]

    def bare_tools() -> None:
        subprocess.run(["cp", "-r", str(kept), str(bare)], check=True)
        subprocess.run(["sync", "-f", str(bare)], check=True)

    for number in range(rounds):
        shutil.rmtree(card, ignore_errors=True)
        card.mkdir()
        syncd(home, "enrol", str(card), "--profile", profile, "--name", f"c{number}")
        timed("ours", lambda: syncd(home, "update", str(card)))
        next(file for file in (card / "Music").rglob("*") if file.is_file()).unlink()
        timed("fixed", lambda: syncd(home, "update", str(card)))
        shutil.rmtree(card / "Music")
        timed("plain", lambda: syncd(home, "update", str(card), "--no-read-back"))
        shutil.rmtree(card)
        copied = timed("bare", bare_tools)
        took.setdefault("memory", []).append(copied + compared(kept, bare))
        drop(bare)
        took.setdefault("medium", []).append(copied + timed("cmp", lambda: compared(kept, bare)))
        shutil.rmtree(bare)
    least = {name: min(times) for name, times in took.items()}
    print(f"{tracks} files, {size / 1e6:.0f} MB, least of {rounds} rounds")

    def row(name: str, ours: float, bare_tools: float, budget: float) -> None:
        share = (tracks - 1) / tracks  # one file is in the fixed cost
        without = (ours - least["fixed"]) / (bare_tools * share)
        print(
            f"{name:24} {ours:6.2f} s  {ours / bare_tools:.2f}; without the fixed cost "
            f"{without:.2f}  (budget {budget})"
        )

    if slow is not None:
        with_cmp = busy["bare"] + busy["cmp"]
        print(
            f"the medium was busy for {busy['ours']:.2f} s of ours, {with_cmp:.2f} s of theirs: "
            f"{busy['ours'] / with_cmp:.2f}"
        )
    print(f"one file (fixed cost)    {least['fixed']:6.2f} s")
    print(f"cp -r, sync              {least['bare']:6.2f} s  1.00")
    row("update, not read back", least["plain"], least["bare"], 1.3)
    print(f"cp -r, sync, cmp, memory {least['memory']:6.2f} s  1.00")
    row("update, read back", least["ours"], least["memory"], 1.15)
    print(f"cp -r, sync, cmp, medium {least['medium']:6.2f} s  1.00")
    row("update, read back", least["ours"], least["medium"], 1.15)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tracks", type=int, default=60)
    parser.add_argument("--seconds", type=int, default=240)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument(
        "--again-only", action="store_true", help="carry FLAC over, and time only the second part"
    )
    parser.add_argument("--folder", type=Path, help="where to work; default: a temporary folder")
    parser.add_argument(
        "--medium", metavar="WRITE:READ", help="a medium of so many MB/s for the second part (root)"
    )
    parser.add_argument("--system", choices=("exfat", "ext4"), default="exfat", help="its files'")
    wanted = parser.parse_args()
    # As where syncd is installed: its modules are compiled once, and not in each run.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory(dir=wanted.folder) as work:
        place = Path(work)
        os.environ["PYTHONPYCACHEPREFIX"] = str(place / "compiled")
        home, card = place / "home", place / "card"
        profile = "mcu-flac16" if wanted.again_only else "mcu-mp3"
        make_sources(place / "music", wanted.tracks, wanted.seconds)
        card.mkdir()
        syncd(home, "library", "add", str(place / "music"))
        syncd(home, "enrol", str(card), "--profile", profile)
        filling = taken(lambda: syncd(home, "update", str(card)))
        if not wanted.again_only:
            bare_fill = taken(lambda: bare_filling(place))
            print(f"xargs ffmpeg, cp {bare_fill:6.2f} s  1.00")
            print(f"syncd update     {filling:6.2f} s  {filling / bare_fill:.2f}  (budget 1.25)")
        kept = place / "kept"
        card.rename(kept)
        with site_of(place, wanted.medium, wanted.system) as (site, slow):
            again(place, site, slow, kept, profile, wanted.rounds)


if __name__ == "__main__":
    main()
