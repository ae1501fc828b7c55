"""Compiling docs/firmware/browse.c, with the header printed by the command, and running it."""

import os
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "docs" / "firmware.md"
PROGRAM = ROOT / "docs" / "firmware" / "browse.c"
STRICT = ("-std=c99", "-Wall", "-Wextra", "-pedantic", "-Werror")

SYSTEM_ARENA = 256 * 1024
"""Debian's library brings full-text search and more, each with its own memory for a connection."""

SMALL = [Path(folder) for folder in os.environ.get("SYNCD_SQLITE", "").split(":") if folder]
"""Folders with SQLite as for a microcontroller, made by get_sqlite.sh."""


@dataclass(frozen=True)
class Ran:
    status: int
    lines: list[str]
    said: str

    @property
    def costs(self) -> dict[str, tuple[int, int, int, int]]:
        """Runs, and the most reads, bytes and steps of SQLite's machine, by kind of step."""
        table = [line.split() for line in self.said.splitlines()]
        return {
            words[0]: (int(words[1]), int(words[2]), int(words[3]), int(words[4]))
            for words in table
            if len(words) == 5 and all(word.isdigit() for word in words[1:])
        }


def gcc() -> str:
    found = shutil.which("gcc")
    if found is None:
        pytest.skip("needs gcc (Debian: gcc, libc6-dev)")
    return found


def compiled(folder: Path, header: str, *more: str | Path) -> Path:
    """browse.c as a program in *folder*, with *more* words for the compiler."""
    (folder / "syncd_catalogue.h").write_text(header, "ascii")
    target = folder / "browse"
    words = [gcc(), *STRICT, f"-I{folder}", *more[:-1], PROGRAM, more[-1], "-lm", "-o", target]
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return target


def system_header() -> None:
    if not Path("/usr/include/sqlite3.h").exists():
        pytest.skip("needs SQLite's header and library (Debian: libsqlite3-dev)")


def with_system_library(folder: Path, header: str, *more: str) -> Path:
    """browse.c with the system's SQLite, in an arena of ``SYSTEM_ARENA`` bytes."""
    system_header()
    return compiled(folder, header, *more, f"-DARENA_BYTES={SYSTEM_ARENA}", "-O1", "-lsqlite3")


def run(program: Path, *words: str | Path) -> Ran:
    done = subprocess.run([str(program), *map(str, words)], capture_output=True, timeout=120)
    return Ran(done.returncode, done.stdout.decode().split("\n")[:-1], done.stderr.decode())
