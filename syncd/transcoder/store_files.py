"""The store's files: where they lie, how they are named, written for good, hashed and swept.

A file gets its name only when it is complete and on the disk. What is half made has a name that
tells which process makes it.
"""

import contextlib
import itertools
import os
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import xxhash

from syncd.model import AudioHash

FOLDERS = ("pressings", "art", "parts", "damaged")
_CHUNK = 1 << 20
_NAME = re.compile(
    r"(?P<audio>[0-9a-f]{32})_(?P<recipe>[A-Za-z0-9-]+)_(?P<hash>[0-9a-f]{32})(?P<suffix>\.\w+)"
)
_LEFTOVER = re.compile(r"part-(?P<pid>\d+)-(?P<boot>[0-9a-f]+)-\d+.*")
_LEFTOVER_AGE_S = 24 * 3600
_counter = itertools.count()


@dataclass(frozen=True, slots=True)
class Named:
    """What the name of a pressing's file says."""

    audio_hash: AudioHash
    recipe: str
    hash: str
    suffix: str

    @property
    def file_name(self) -> str:
        """The name itself."""
        return f"{self.audio_hash}_{self.recipe}_{self.hash}{self.suffix}"

    def path(self, folder: Path) -> Path:
        """Where it lies in the store at *folder*."""
        return folder / "pressings" / self.audio_hash[:2] / self.file_name


def named(file_name: str) -> Named | None:
    """What *file_name* says; None if it is no pressing's."""
    found = _NAME.fullmatch(file_name)
    if found is None:
        return None
    return Named(AudioHash(found["audio"]), found["recipe"], found["hash"], found["suffix"])


def pressings_in(folder: Path) -> Iterator[tuple[Path, Named]]:
    """Every whole pressing's file in the store at *folder*."""
    for path in files_below(folder / "pressings"):
        found = named(path.name)
        if found is not None:
            yield path, found


def files_below(folder: Path) -> Iterator[Path]:
    """The files in the folders of *folder*."""
    return (path for path in folder.glob("*/*") if path.is_file())


def new_part(folder: Path, boot: str, suffix: str) -> Path:
    """A new name for a file being made in the store at *folder*."""
    return folder / "parts" / f"part-{os.getpid()}-{boot}-{next(_counter)}{suffix}"


def sweep(folder: Path) -> None:
    """Remove what runs that are no more have left half made."""
    for path in (folder / "parts").iterdir():
        found = _LEFTOVER.fullmatch(path.name)
        if found is None:
            continue
        with contextlib.suppress(FileNotFoundError):
            # An old one is not that of the process that has its number now; but where the system
            # itself runs for less, it is the clock that was set, under a run that goes on.
            old = time.time() - path.stat().st_mtime > _LEFTOVER_AGE_S < time.monotonic()
            if old or not _alive(int(found["pid"])):
                path.unlink()


def size_of(path: Path) -> int | None:
    """Bytes of the file at *path*; None if there is none."""
    try:
        return path.stat().st_size
    except OSError:
        return None


def hash_of(path: Path) -> str:
    """xxh3_128 of the file at *path*. Raises OSError."""
    digest = xxhash.xxh3_128()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    return str(digest.hexdigest())


def hash_and_sync(path: Path) -> tuple[str, int]:
    """Hash and size of the file at *path*, which is on the disk then. Raises OSError."""
    digest, size = xxhash.xxh3_128(), 0
    with path.open("rb+") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
        os.fsync(file.fileno())
    return str(digest.hexdigest()), size


def sync_folder(folder: Path) -> None:
    """Have the names in *folder* on the disk."""
    with contextlib.suppress(OSError):  # some systems cannot open a folder
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
