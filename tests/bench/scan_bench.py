"""How long a scan with nothing new takes, beside ``find`` on the same tree.

Makes a tree of empty stand-ins named like music and an index that knows them all, then times whole
commands in turn: ``find -type f -printf '%s %T@ %p\\n'``, a Python process that opens the index and
scans, and ``python -m syncd scan``. Prints the least of each and the ratios; then how long the
snapshot takes and how much memory.

    python tests/bench/scan_bench.py [--files 100000] [--rounds 7] [--keep FOLDER]
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import xxhash

from syncd.library.audiohash import Hashes
from syncd.library.index import LibraryIndex
from syncd.library.records import FileRecord, Stat
from syncd.library.scan import READING
from syncd.library.tags import FileReading
from syncd.model import (
    AudioFacts,
    AudioHash,
    Codec,
    Composer,
    ContentHash,
    Credit,
    Identity,
    Kind,
    Movement,
    Work,
)
from syncd.refresh import _made_by
from syncd.settings import find_home

A_SCAN = (
    "import sys; from pathlib import Path; from syncd.library.index import LibraryIndex; "
    "from syncd.library.scan import scan\n"
    "with LibraryIndex(Path(sys.argv[1])) as index:\n"
    "    result = scan(index)\n"
    "    assert result.read == 0 and result.seen == int(sys.argv[2]), result\n"
)
A_SNAPSHOT = (
    "import resource, sys, time; from pathlib import Path\n"
    "from syncd.library.index import LibraryIndex\n"
    "def used(): return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024\n"
    "with LibraryIndex(Path(sys.argv[1])) as index:\n"
    "    before, start = used(), time.perf_counter()\n"
    "    tracks = index.snapshot().tracks\n"
    "    took = time.perf_counter() - start\n"
    "    print(f'snapshot of {len(tracks)} tracks: {took:.3f} s, {used() - before:.0f} MB')\n"
)


def make_tree(root: Path, files: int) -> None:
    """*files* empty stand-ins, twelve an album, eight albums a folder, with a cover each."""
    for album in range((files + 11) // 12):
        folder = root / f"Composer {album // 8:04d}" / f"Album number {album % 8}"
        folder.mkdir(parents=True)
        (folder / "cover.jpg").write_bytes(b"\xff\xd8\xff\xe0")
        for track in range(min(12, files - album * 12)):
            (folder / f"{track + 1:02d} - A title of some movement.flac").touch()


def known(path: bytes, number: int) -> tuple[FileRecord, Identity]:
    """A row as reading a real file would have made it."""
    status = os.stat(path)  # noqa: PTH116
    stat = Stat(status.st_size, status.st_mtime_ns, status.st_ino)
    digest = xxhash.xxh3_128_hexdigest(path)
    tags = {
        "TITLE": (f"Symphony No. {number % 9 + 1}: II. Andante con moto",),
        "ARTIST": (f"Orchestra {number // 96}",),
        "ALBUM": (f"Album {number // 12}",),
        "DATE": ("1999",),
        "TRACKNUMBER": (str(number % 12 + 1),),
    }
    audio = AudioFacts("flac", Codec.FLAC, 44100, 2, 200 + number / 1000, 16, 800_000, 8_820_000)
    reading = FileReading(audio, tags, None)
    hashes = Hashes(ContentHash(digest), AudioHash(digest))
    identity = Identity(
        Kind.WORK,
        Composer("Ludwig van Beethoven", "Beethoven, Ludwig van"),
        Work(f"Symphony No. {number // 12 % 9 + 1}", ("Op. 67",), "C minor"),
        f"{number // 4:016x}",
        Movement(number % 4 + 1, f"Andante {number % 1000}"),
        (Credit(f"Orchestra {number // 96}", "ensemble"), Credit("Ida Holm", "conductor")),
        None,
        f"Album {number // 12}",
        0.95,
        ("composer: from its tag", "work: from the title"),
    )
    return FileRecord(path, stat.size, stat, reading, hashes), identity


def fill(index_file: Path, root: Path) -> None:
    """An index that knows every file under *root* already, covers included."""
    with LibraryIndex(index_file) as index:
        top = os.fsencode(index.add_root(root))
        index.set_meta("reading", READING)
        index.set_meta("identities", _made_by(None))
        paths = [
            folder + b"/" + name
            for folder, _, names in os.walk(top)
            for name in sorted(names)
            if name.endswith(b".flac")
        ]
        for start in range(0, len(paths), 5000):
            rows = [known(path, start + n) for n, path in enumerate(paths[start : start + 5000])]
            index.upsert([record for record, _ in rows])
            index.set_identities((os.fsdecode(row.path), identity) for row, identity in rows)
        index.settle()
    subprocess.run([sys.executable, "-c", A_SCAN, index_file, str(len(paths))], check=True)


def timed(command: list[str], environment: dict[str, str]) -> tuple[float, float]:
    """Wall and processor seconds of *command*."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=environment)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(description="A scan with nothing new, beside find.")
    parser.add_argument("--files", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--keep", type=Path, help="work in this folder, and keep it")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="scan-bench-") as scratch:
        base = options.keep or Path(scratch)
        run(base, options.files, options.rounds)


def run(base: Path, files: int, rounds: int) -> None:
    """Make what is missing in *base*, time everything in turn, print the table."""
    root, home = base / "music", base / "home"
    index_file = find_home(str(home)).index_file
    if not index_file.exists():
        make_tree(root, files)
        fill(index_file, root)
    environment = os.environ | {
        "SYNCD_HOME": str(home),
        "PYTHONPATH": str(Path(__file__).resolve().parents[2]),
    }
    find = ["find", str(root), "-type", "f", "-printf", "%s %T@ %p\\n"]
    commands = {
        "find -printf": find,
        "python, index, scan": [sys.executable, "-c", A_SCAN, str(index_file), str(files)],
        "python -m syncd scan": [sys.executable, "-m", "syncd", "scan"],
    }
    best = {name: (float("inf"), float("inf")) for name in commands}
    for _ in range(rounds):
        for name, command in commands.items():
            best[name] = min(best[name], timed(command, environment))
    base_wall, base_cpu = best["find -printf"]
    print(f"{files} unchanged files, least of {rounds} rounds")
    for name, (wall, cpu) in best.items():
        print(
            f"{name:22} {wall:6.3f} s wall ({wall / base_wall:4.2f} times find)   "
            f"{cpu:6.3f} s processor ({cpu / base_cpu:4.2f} times)"
        )
    subprocess.run([sys.executable, "-c", A_SNAPSHOT, index_file], check=True, env=environment)


if __name__ == "__main__":
    main()
