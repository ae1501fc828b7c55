"""Speed of the works engine: tracks a second on one core, from tag values to identities.

Usage: python tests/bench/works_speed.py [COPIES]

The folders of tests/data are repeated with other folder names, performers and albums, and with a
number worked into every title, so that little but names of composers and tempo words can be found
in a cache. Aim 20,000 tracks a second, at least 5,000. Also printed: the peak memory.
"""

import json
import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from syncd.model import TaggedFile
from syncd.works.identify import identify


def library(copies: int) -> list[TaggedFile]:
    """Tagged files of *copies* invented collections, no two folders alike."""
    data = Path(__file__).parents[1] / "data"
    cases = [
        case
        for name in ("tagcases.json", "owncases.json")
        for case in json.loads((data / name).read_text(encoding="utf-8"))
    ]
    files = []
    for copy in range(copies):
        for case in cases:
            for file in case["files"]:
                tags = {key: list(values) for key, values in file["tags"].items()}
                for key in ("ARTIST", "CONDUCTOR", "PERFORMER", "ALBUM"):
                    if key in tags:
                        tags[key] = [f"{value} {_letters(copy)}" for value in tags[key]]
                if "TITLE" in tags:
                    tags["TITLE"] = [f"{value} {_letters(copy)}" for value in tags["TITLE"]]
                files.append(TaggedFile(f"{copy}/{case['id']}/{file['path']}", tags))
    return files


def _letters(number: int) -> str:
    return "".join("abcdefghij"[int(digit)] for digit in f"{number:03d}").capitalize()


def main() -> int:
    copies = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    identify(library(1)[:50])  # the tables are read
    for name, files in (
        ("titles all different", library(copies)),
        ("the same library again", library(copies)),
    ):
        start = time.perf_counter()
        identify(files)
        seconds = time.perf_counter() - start
        print(
            f"{name}: {len(files)} tracks in {seconds:.2f} s, {len(files) / seconds:,.0f} a second"
        )
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
