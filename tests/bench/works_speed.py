"""Speed of the works engine: tracks a second on one core, from tag values to identities.

Usage: python tests/bench/works_speed.py [COPIES] [albums|short]

The folders of tests/data are repeated with other folder names, performers and albums, and with a
number worked into every title, so that little but names of composers and tempo words can be found
in a cache. Two shapes of library are measured:

- *albums*: 8 to 20 tracks a folder, as on discs. A folder of tests/data is gone through again and
  again; each time round its numbers ("No. 5", "Op. 27", "BWV 1048") go up, so that the next works
  follow, each with its movements. Titles that begin a movement with a Roman numeral and stand alone
  in their folder become works of four movements. Every album has works of its own numbers.
- *short*: the folders as they are, two thirds of them with four tracks or fewer, so
  that albums and performers are read for few tracks. Harder than any real library.

Aim 20,000 tracks a second of processor time, at least 5,000. Also printed: the peak memory.
"""

import json
import re
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from syncd.model import TaggedFile
from syncd.works.identify import identify

_NUMBER = re.compile(
    r"\b(?P<label>(?:No|Nr|Op|opus|BWV|KV?|RV|D|HWV)\b\.?\s*)(?P<n>\d{1,4})", re.IGNORECASE
)
_NUMERAL = re.compile(r"(?P<before>(?:^|[:–-]\s+))(?:IV|I{1,3})(?P<mark>[.:]\s)")
_NUMERALS = ("I", "II", "III", "IV")


def _cases() -> list[dict[str, object]]:
    data = Path(__file__).parents[1] / "data"
    return [
        case
        for name in ("tagcases.json", "owncases.json")
        for case in json.loads((data / name).read_text(encoding="utf-8"))
    ]


def short_folders(copies: int) -> list[TaggedFile]:
    """Tagged files of *copies* invented collections, no two folders alike."""
    return [
        TaggedFile(f"{copy}/{case['id']}/{path}", _renamed(tags, _letters(copy)))
        for copy in range(copies)
        for case in _cases()
        for path, tags in _files(case)
    ]


def albums(copies: int) -> list[TaggedFile]:
    """Tagged files of *copies* invented collections of albums with 8 to 20 tracks each."""
    result = []
    for copy in range(copies):
        for number, case in enumerate(_cases()):
            files = _files(case)
            for index in range(max(len(files), 8 + (5 * number + copy) % 13)):
                path, tags = files[index % len(files)]
                round_number = index // len(files)
                tags = _renamed(tags, _letters(copy))
                if len(files) < 3 and "TITLE" in tags:
                    numeral = rf"\g<before>{_NUMERALS[index % 4]}\g<mark>"
                    titles = [_NUMERAL.sub(numeral, title) for title in tags["TITLE"]]
                    if titles != tags["TITLE"] or _NUMERAL.search(titles[0]):
                        tags["TITLE"], round_number = titles, index // 4
                step = round_number + 7 * copy
                for key in ("TITLE", "WORK", "GROUPING"):
                    if key in tags:
                        tags[key] = [_counted_on(value, step) for value in tags[key]]
                if "TITLE" in tags and round_number:
                    tags["TITLE"] = [f"{title} {_letters(round_number)}" for title in tags["TITLE"]]
                if "TRACKNUMBER" in tags:
                    tags["TRACKNUMBER"] = [str(index + 1)]
                folder, _, name = path.rpartition("/")
                where = f"{copy}/{case['id']}/{folder}".rstrip("/")
                result.append(TaggedFile(f"{where}/{index + 1:02d} {name}", tags))
    return result


def _files(case: dict[str, object]) -> list[tuple[str, dict[str, list[str]]]]:
    files = case["files"]
    assert isinstance(files, list)
    return [(file["path"], file["tags"]) for file in files]


def _renamed(tags: dict[str, list[str]], mark: str) -> dict[str, list[str]]:
    marked = ("ARTIST", "CONDUCTOR", "PERFORMER", "ALBUM", "TITLE")
    return {
        key: [f"{value} {mark}" for value in values] if key in marked else list(values)
        for key, values in tags.items()
    }


def _counted_on(text: str, step: int) -> str:
    return _NUMBER.sub(lambda found: f"{found['label']}{int(found['n']) + step}", text)


def _letters(number: int) -> str:
    return "".join("abcdefghij"[int(digit)] for digit in f"{number:03d}").capitalize()


def _measured(name: str, files: list[TaggedFile]) -> None:
    start = time.process_time()
    identify(files)
    seconds = time.process_time() - start
    folders = len({file.path.rpartition("/")[0] for file in files})
    print(
        f"{name}: {len(files)} tracks in {folders} folders in {seconds:.2f} s, "
        f"{len(files) / seconds:,.0f} a second"
    )


_SHAPES: dict[str, Callable[[int], list[TaggedFile]]] = {
    "albums": albums,
    "short": short_folders,
}


def main() -> int:
    copies = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    if len(sys.argv) < 3:
        # Each shape has a process of its own, so that no cache is filled by the other.
        return max(
            subprocess.run([sys.executable, __file__, str(copies), shape], check=False).returncode
            for shape in _SHAPES
        )
    shape = sys.argv[2]
    identify(short_folders(1)[:50])  # the tables are read
    _measured(f"{shape}, titles all different", _SHAPES[shape](copies))
    _measured(f"{shape}, the same library again", _SHAPES[shape](copies))
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
