"""Filling a card, and the same card again from the store, beside bare tools doing the same.

    python tests/bench/card_bench.py [--tracks 60] [--seconds 240] [--rounds 3] [--folder DIR]

Sources are FLAC files of filtered noise, so that nothing is small by luck; the player takes MP3 V2.
Filling: ``syncd update`` of a new card, scan, inspection, tags, hashes and catalogue included,
beside ``find | xargs -P 2 ffmpeg`` with the same encoder and quality, then ``cp`` and ``sync``.
Again: the card is emptied and updated from the store, in turns with ``cp -r`` and ``sync`` of the
bytes that the first update wrote, and ``cmp`` of the two, once as it comes (from memory) and once
with the copies dropped from memory first, as syncd drops what it reads back. The least of the
rounds counts. A fixed cost of starting Python, scanning and reading the card is part of ours and
told by itself: an update that writes one file, and so a catalogue. What it weighs depends on how
fast the card is.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

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
    """Have the system forget the files in *folder*."""
    for file in folder.rglob("*"):
        if file.is_file():
            fd = os.open(file, os.O_RDONLY)
            os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)
            os.close(fd)


def compared(kept: Path, bare: Path) -> float:
    """Seconds that cmp takes for all files."""
    script = 'cd "$1" && find . -type f -exec cmp {} "$2"/{} ";"'
    start = time.perf_counter()
    subprocess.run(["sh", "-c", script, "sh", str(kept), str(bare)], check=True)
    return time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tracks", type=int, default=60)
    parser.add_argument("--seconds", type=int, default=240)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument(
        "--again-only", action="store_true", help="carry FLAC over, and time only the second part"
    )
    parser.add_argument("--folder", type=Path, help="where to work; default: a temporary folder")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=wanted.folder) as work:
        place = Path(work)
        home, card, bare = place / "home", place / "card", place / "bare"
        profile = "mcu-flac16" if wanted.again_only else "mcu-mp3"
        make_sources(place / "music", wanted.tracks, wanted.seconds)
        card.mkdir()
        syncd(home, "library", "add", str(place / "music"))
        syncd(home, "enrol", str(card), "--profile", profile)
        start = time.perf_counter()
        syncd(home, "update", str(card))
        filling = time.perf_counter() - start
        start = time.perf_counter()
        if not wanted.again_only:
            bare_filling(place)
            bare_fill = time.perf_counter() - start
            print(f"xargs ffmpeg, cp {bare_fill:6.2f} s  1.00")
            print(f"syncd update     {filling:6.2f} s  {filling / bare_fill:.2f}  (budget 1.25)")
        kept = place / "kept"
        shutil.copytree(card, kept)
        size = sum(file.stat().st_size for file in kept.rglob("*") if file.is_file())
        ours, theirs, idle, plain, memory, medium = [], [], [], [], [], []
        for _ in range(wanted.rounds):
            shutil.rmtree(card)
            card.mkdir()
            syncd(home, "enrol", str(card), "--profile", profile, "--name", f"c{len(ours)}")
            os.sync()
            start = time.perf_counter()
            syncd(home, "update", str(card))
            ours.append(time.perf_counter() - start)
            next(file for file in (card / "Music").rglob("*") if file.is_file()).unlink()
            os.sync()
            start = time.perf_counter()
            syncd(home, "update", str(card))
            idle.append(time.perf_counter() - start)
            shutil.rmtree(card / "Music")
            os.sync()
            start = time.perf_counter()
            syncd(home, "update", str(card), "--no-read-back")
            plain.append(time.perf_counter() - start)
            shutil.rmtree(bare, ignore_errors=True)
            os.sync()
            start = time.perf_counter()
            subprocess.run(["cp", "-r", str(kept), str(bare)], check=True)
            subprocess.run(["sync", "-f", str(bare)], check=True)
            theirs.append(time.perf_counter() - start)
            memory.append(theirs[-1] + compared(kept, bare))
            drop(bare)
            medium.append(theirs[-1] + compared(kept, bare))
        print(f"{wanted.tracks} files, {size / 1e6:.0f} MB, least of {wanted.rounds} rounds")
        fixed = min(idle)

        def row(name: str, taken: float, bare_tools: float, budget: float) -> None:
            share = (wanted.tracks - 1) / wanted.tracks  # one file is in the fixed cost
            without = (taken - fixed) / (bare_tools * share)
            print(
                f"{name:24} {taken:6.2f} s  {taken / bare_tools:.2f}; without the fixed cost "
                f"{without:.2f}  (budget {budget})"
            )

        print(f"one file (fixed cost)    {fixed:6.2f} s")
        print(f"cp -r, sync              {min(theirs):6.2f} s  1.00")
        row("update, not read back", min(plain), min(theirs), 1.3)
        print(f"cp -r, sync, cmp, memory {min(memory):6.2f} s  1.00")
        row("update, read back", min(ours), min(memory), 1.15)
        print(f"cp -r, sync, cmp, medium {min(medium):6.2f} s  1.00")
        row("update, read back", min(ours), min(medium), 1.15)


if __name__ == "__main__":
    main()
