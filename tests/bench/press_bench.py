"""Measure pressing against bare encodes, side by side: the ratios of wall time and of CPU time.

    python tests/bench/press_bench.py [--tracks 60] [--minutes 4] [--rounds 3] [--folder DIR]
    python tests/bench/press_bench.py --hours 3

Both sides make MP3 V2 of the same FLAC files with the same ffmpeg on two cores; ours also checks
each master, inspects each pressing, keeps it in the store and writes it out dressed with tags and a
picture, then syncs: once with loudness off, once with loudness and true peak measured besides. The
bare side is ``find | xargs -P 2 ffmpeg``, then ``cp`` and ``sync``. The sides take turns in who
comes first; the medians of the rounds are at the end. Each run is a process of its own, whose most
memory is told. With ``--hours`` only that is asked: one file, a tone of that length, is pressed
with loudness. ``--library`` keeps the FLAC files for another time. ffmpeg runs with lower priority
in ours; on a machine that has other work, ``--busy`` gives the bare side the same.
"""

import argparse
import io
import itertools
import math
import multiprocessing
import os
import random
import re
import resource
import shutil
import statistics
import struct
import subprocess
import tempfile
import time
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import xxhash
from PIL import Image

from syncd.model import AudioFacts, AudioHash, Codec, LibraryPath, Track
from syncd.planner.prescribing import make_recipe
from syncd.profile import Encode, Plays, Profile, TagWriting
from syncd.transcoder.artwork import PictureForm, scale
from syncd.transcoder.dress import dress
from syncd.transcoder.ffmpeg_port import NICENESS, Ffmpeg, find_ffmpeg
from syncd.transcoder.pool import press_all
from syncd.transcoder.store import Store

RATE = 44100
DISTINCT = 6


def music(number: int, seconds: float) -> bytes:
    """Chords with overtones, decay and a little noise: about as hard to encode as music is."""
    dice = random.Random(number)
    length = RATE * 2
    bars = []
    for _ in range(8):
        root = 110 * 2 ** (dice.randrange(24) / 12)
        partials = [
            (root * ratio * overtone, 0.25 / overtone / 3, dice.uniform(0.3, 3), dice.random())
            for ratio in (1, 1.26, 1.5)
            for overtone in range(1, 9)
            if root * ratio * overtone < 16000
        ]
        left, right = [0.0] * length, [0.0] * length
        for frequency, level, decay, side in partials:
            step, fall, value = 2 * math.pi * frequency / RATE, math.exp(-decay / RATE), level
            for at in range(length):
                sample = value * math.sin(step * at)
                value *= fall
                left[at] += sample * side
                right[at] += sample * (1 - side)
        frames = bytearray()
        for one, other in zip(left, right, strict=True):
            hiss = dice.uniform(-0.004, 0.004)
            for sample in (one + hiss, other - hiss / 2):
                frames += struct.pack("<h", max(-32767, min(32767, int(sample * 30000))))
        bars.append(bytes(frames))
    out = bytearray()
    while len(out) < seconds * RATE * 4:
        out += dice.choice(bars)
    return bytes(out)


def make_library(folder: Path, ffmpeg: str, tracks: int, minutes: float) -> list[Path]:
    """*tracks* FLAC files that differ by where they begin."""
    folder.mkdir(parents=True)
    samples = int(minutes * 60 * RATE)
    tunes = [music(number, minutes * 60 + 4) for number in range(min(DISTINCT, tracks))]
    made = []
    for number in range(tracks):
        offset = (number // DISTINCT) * 997 * 4
        path = folder / f"track {number:03}.flac"
        plain = folder / "plain.wav"
        with wave.open(str(plain), "wb") as file:
            file.setparams((2, 2, RATE, 0, "NONE", ""))
            file.writeframes(tunes[number % len(tunes)][offset : offset + samples * 4])
        command = [ffmpeg, "-v", "error", "-nostdin", "-y", "-i", str(plain), str(path)]
        subprocess.run(command, check=True)
        plain.unlink()
        made.append(path)
    return made


def make_tone(folder: Path, ffmpeg: str, hours: float) -> list[Path]:
    """One FLAC file of a stereo tone."""
    folder.mkdir(parents=True)
    tone = f"sine=frequency=997:sample_rate={RATE}:duration={hours * 3600}"
    path = folder / "tone.flac"
    command = [ffmpeg, "-v", "error", "-nostdin", "-f", "lavfi", "-i", tone, "-ac", "2"]
    subprocess.run([*command, "-sample_fmt", "s16", str(path)], check=True)
    return [path]


def spent() -> float:
    """CPU seconds of this process and of the children it has waited for."""
    own, children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(-1)
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def bare(library: Path, out: Path, card: Path, ffmpeg: str, niceness: int) -> None:
    """What a shell would do."""
    out.mkdir()
    card.mkdir()
    encode = f'"{ffmpeg}" -v error -nostdin -y -i "$1" -map 0:a:0 -c:a libmp3lame -q:a 2 '
    encode += f'"{out}/$(basename "$1" .flac).mp3"'
    xargs = ("xargs", "-0", "-P", "2", "-n", "1")
    find = subprocess.Popen(
        ["find", str(library), "-name", "*.flac", "-print0"], stdout=subprocess.PIPE
    )
    subprocess.run(
        ["nice", "-n", str(niceness), *xargs, "sh", "-c", encode, "sh"],
        stdin=find.stdout,
        check=True,
    )
    find.wait()
    subprocess.run(f'cp "{out}"/*.mp3 "{card}" && sync -f "{card}"', shell=True, check=True)


def ours(
    files: list[Path], minutes: float, store_folder: Path, card: Path, ffmpeg: str, loudness: bool
) -> None:
    """Press, inspect, dress, hash, write."""
    card.mkdir()
    profile = Profile(
        name="bench",
        plays=(Plays(codec="mp3", max_channels=2),),
        encode=Encode(codec="mp3", quality=2),
    )
    samples = round(minutes * 60 * RATE)
    facts = AudioFacts("flac", Codec.FLAC, RATE, 2, samples / RATE, 16, 700_000, samples)
    items = []
    for path in files:
        digest = AudioHash(xxhash.xxh3_128_hexdigest(os.fsencode(path)))
        track = Track(LibraryPath(str(path)), digest, facts, path.stat().st_size)
        items.append((track, make_recipe(facts, profile)))
    cover = io.BytesIO()
    Image.linear_gradient("L").convert("RGB").resize((1200, 1200)).save(cover, "PNG")
    art = scale(cover.getvalue(), PictureForm(500))
    writing = TagWriting()
    with Store(store_folder) as store:
        sink = store.measurements() if loudness else None
        for outcome in press_all(items, store, Ffmpeg(ffmpeg), workers=2, sink=sink):
            if outcome.pressing is None:
                raise SystemExit(str(outcome.problem))
            pressing = outcome.pressing
            tags = (("TITLE", Path(outcome.track.path).stem), ("COMPOSER", "Nobody"))
            digest = xxhash.xxh3_128()
            with (
                dress(
                    pressing.path, "mp3", tags, art, writing, store_folder, expect=pressing.hash
                ) as dressed,
                (card / f"{Path(outcome.track.path).stem}.mp3").open("wb") as file,
            ):
                for chunk in dressed.chunks():
                    digest.update(chunk)
                    file.write(chunk)
    subprocess.run(["sync", "-f", str(card)], check=True)


@dataclass(frozen=True)
class Spent:
    """What a run took: seconds of wall and of CPU, and the most memory of its process in MB."""

    wall: float
    cpu: float
    memory: float


def measured(side: Callable[..., None], *given: object) -> Spent:
    """Run *side* in this process and tell what it took."""
    begun, cpu = time.perf_counter(), spent()
    side(*given)
    return Spent(time.perf_counter() - begun, spent() - cpu, most_memory())


def most_memory() -> float:
    """The most memory of this program in MB.

    Not by ru_maxrss: that begins with what the process had that started it (getrusage(2), execve),
    and this one made a library before.
    """
    status = Path("/proc/self/status").read_text()
    found = re.search(r"VmHWM:\s+(\d+) kB", status)
    assert found is not None
    return int(found[1]) / 1024


def apart(side: Callable[..., None], *given: object) -> Spent:
    """The same in a process of its own."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(measured, (side, *given))


def rounds(
    files: list[Path], folder: Path, minutes: float, count: int, ffmpeg: str, niceness: int
) -> None:
    """Run all sides *count* times, another first each time, and print what they took."""
    names = ("bare", "loudness off", "loudness on")
    took: dict[str, list[Spent]] = {name: [] for name in names}
    for number in range(count):
        for name in itertools.islice(itertools.cycle(names), number % 3, number % 3 + 3):
            out, card = folder / "out", folder / "card"
            if name == "bare":
                run = apart(bare, files[0].parent, out, card, ffmpeg, niceness)
            else:
                run = apart(ours, files, minutes, out, card, ffmpeg, name == "loudness on")
            took[name].append(run)
            shutil.rmtree(out)
            shutil.rmtree(card)
        print(f"round {number + 1}: {figures({name: runs[-1:] for name, runs in took.items()})}")
    print(f"median of {count}: {figures(took)}")


def figures(took: dict[str, list[Spent]]) -> str:
    """The sides' medians in words; ratios are those within a round."""
    words = []
    for name, runs in took.items():
        wall, cpu = (statistics.median(getattr(run, of) for run in runs) for of in ("wall", "cpu"))
        told = f"{name} {wall:.2f} s wall, {cpu:.2f} s CPU"
        if name != "bare":
            pairs = list(zip(runs, took["bare"], strict=True))
            wall = statistics.median(run.wall / bare.wall for run, bare in pairs)
            cpu = statistics.median(run.cpu / bare.cpu for run, bare in pairs)
            told += (
                f", ratios {wall:.3f} and {cpu:.3f}, at most {max(r.memory for r in runs):.0f} MB"
            )
        words.append(told)
    return "; ".join(words)


def main() -> None:
    """Make a library, run all sides and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tracks", type=int, default=60)
    parser.add_argument("--minutes", type=float, default=4)
    parser.add_argument("--hours", type=float, default=None)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--busy", action="store_true")
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--library", type=Path, default=None)
    asked = parser.parse_args()
    ffmpeg = find_ffmpeg()
    folder = Path(tempfile.mkdtemp(prefix="press-bench-", dir=asked.folder))
    library = asked.library or folder / "library"
    minutes = asked.minutes if asked.hours is None else asked.hours * 60
    try:
        if library.exists():
            files = sorted(library.glob("*.flac"))
        elif asked.hours is None:
            files = make_library(library, ffmpeg, asked.tracks, minutes)
        else:
            files = make_tone(library, ffmpeg, asked.hours)
        print(f"{len(files)} x {minutes:g} min")
        if asked.hours is None:
            niceness = NICENESS if asked.busy else 0
            rounds(files, folder, minutes, asked.rounds, ffmpeg, niceness)
        else:
            run = apart(ours, files, minutes, folder / "out", folder / "card", ffmpeg, True)
            print(f"{run.wall:.0f} s wall, {run.cpu:.0f} s CPU, at most {run.memory:.0f} MB")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
