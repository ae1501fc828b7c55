"""What the scan hands to the index and gets from it: plain values, no input or output."""

from dataclasses import dataclass
from typing import NamedTuple

from syncd.library.audiohash import Hashes
from syncd.library.tags import FileReading


class Stat(NamedTuple):
    """What is believed of a file as long as it does not change. ``mtime_ns`` in nanoseconds."""

    size: int
    mtime_ns: int
    inode: int


class Unknown(NamedTuple):
    """A file to be read: it is new, looks different from what is ``known``, or all are read."""

    path: bytes
    stat: Stat
    known: bool


NOT_BELIEVED = (-1, -1, -1)
"""Stands in a listing for a file that the next scan shall read again whatever its stat."""

Listing = dict[bytes, tuple[int, int, int]]
"""The files of one folder that the index knows: name to (size, mtime_ns, inode)."""


@dataclass(frozen=True, slots=True)
class Cover:
    """The picture file that stands for a folder's music. ``hash`` is empty until it is read."""

    name: bytes
    stat: Stat
    hash: str = ""


@dataclass(frozen=True, slots=True)
class FolderRow:
    """One folder as the index knows it."""

    listing: Listing
    cover: Cover | None = None


@dataclass(frozen=True, slots=True)
class FileRecord:
    """One file as the scan found it: read and hashed, or with the reason why it was not.

    ``stat`` None means that the next scan shall read it again even if it looks the same.
    """

    path: bytes
    size: int
    stat: Stat | None
    reading: FileReading | None = None
    hashes: Hashes | None = None
    reason: str = ""
