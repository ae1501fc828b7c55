"""The port to a card's file system: the few operations that the applier needs, and no others.

``folder_volume.py`` has the real one. A *barrier* parts what was written before it from what is
written after: once it has passed, a power cut takes nothing of the former.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

import xxhash

from syncd.model import ContentHash
from syncd.planner.capacity import Geometry

CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class FileSeen:
    """One file of a card: path relative to the root, and size in bytes.

    ``closed`` tells that it is a folder that is not looked into: it may not be, as some systems
    keep one, or lies deeper than anything of ours.
    """

    path: str
    size: int
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """What is on a card: every file, and every folder in which there is nothing; both sorted."""

    files: list[FileSeen]
    empty_folders: list[str]


@dataclass(frozen=True, slots=True)
class Space:
    """Room on a card, in bytes; ``cluster`` is the unit in which files take room."""

    free: int
    total: int
    cluster: int
    read_only: bool = False


class Volume(Protocol):
    """What the applier asks of a card. Paths are relative, with ``/``. Raises CardProblem."""

    name: str

    def listing(self) -> Listing:
        """Every file that is no folder, symbolic links among them (size 0), and empty folders.

        Folders that may not be looked into are listed like files, as closed.
        """
        ...

    def read(self, path: str) -> bytes | None:
        """The whole of a small file, None when there is none."""
        ...

    def chunks(self, path: str) -> Iterator[bytes]:
        """The bytes of a file: those on the card where the system was made to forget it."""
        ...

    def forget(self, paths: Collection[str]) -> int:
        """Have the system forget what it holds of files, so that ``chunks`` reads the card.

        To be called after a barrier, for several files at once where several will be read: what
        was read ahead is forgotten, too. Returns for how many a read may still be answered from
        memory. A file that cannot be opened is passed over: to read it tells why.
        """
        ...

    def size(self, path: str) -> int | None:
        """Size of a regular file, None when there is none."""
        ...

    def write(self, path: str, chunks: Iterable[bytes]) -> tuple[int, ContentHash]:
        """Write a file, making its folders; return size and content hash of what was written."""
        ...

    def append(self, path: str, data: bytes) -> None:
        """Add *data* to the end of a file, making it if need be."""
        ...

    def rename(self, origin: str, target: str) -> None:
        """Give a file another place, making folders. The target does not exist."""
        ...

    def remove(self, path: str) -> None:
        """Remove a file; one that is not there is no fault."""
        ...

    def remove_empty_folders(self, path: str) -> None:
        """Remove the folder *path* and those above it as far as they are empty."""
        ...

    def barrier(self) -> None:
        """Return when all that was written is on the card."""
        ...

    def linked(self, path: str, other: str) -> bool:
        """Whether two files of equal content are one: two names of the same clusters.

        So a cut in the middle of a rename leaves them on FAT and exFAT. To remove one would free
        the other's clusters. Writes to *path*, and puts it right again.
        """
        ...

    def trim(self, path: str) -> None:
        """Give back the clusters that a file of ours has beyond its size. Takes no room.

        The FAT driver looks at the whole chain for it: where that leads to a cluster which the
        table calls free, it makes the card read-only, and ``space`` tells. No fault where there is
        no file.
        """
        ...

    def space(self) -> Space:
        """How much room there is."""
        ...

    def geometry(self, folders: Iterable[str]) -> Geometry:
        """How the card takes room, and those of *folders* ("" is the root) that are there."""
        ...


def content_hash(chunks: Iterable[bytes]) -> ContentHash:
    """xxh3_128 of what *chunks* hold together."""
    digest = xxhash.xxh3_128()
    for chunk in chunks:
        digest.update(chunk)
    return ContentHash(digest.hexdigest())


def holds(volume: Volume, path: str, size: int, wanted: ContentHash) -> bool:
    """Whether the file at *path* is there with this very content. Reads all of it.

    Raises CardProblem when it cannot be read.
    """
    if volume.size(path) != size:
        return False
    volume.forget([path])
    return content_hash(volume.chunks(path)) == wanted
