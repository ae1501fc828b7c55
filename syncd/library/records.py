"""What the scan hands to the index and gets from it: plain values, no input or output."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import msgspec

if TYPE_CHECKING:  # a scan with nothing new needs no reader of files, and starts sooner without
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


class Cover(NamedTuple):
    """The picture file that stands for a folder's music. ``hash`` is empty until it is read."""

    name: bytes
    stat: Stat
    hash: str = ""


class FolderRow(NamedTuple):
    """One folder as the index knows it: ``packed`` is its Listing, unpacked when it is needed.

    ``sheets`` is the Listing of its cue sheets, packed; None without any.
    """

    packed: bytes
    cover: Cover | None = None
    sheets: bytes | None = None


def pack_listing(listing: Listing) -> bytes:
    """*listing* as the index stores it (MessagePack)."""
    return msgspec.msgpack.encode(listing)


unpack_listing = msgspec.msgpack.Decoder(Listing).decode
"""The Listing in what ``pack_listing`` gave. Raises msgspec.DecodeError for anything else."""


class SheetRecord(NamedTuple):
    """A cue sheet as it was read: its text, or why there is none, and whether to try ``again``."""

    text: str | None
    note: str | None = None
    again: bool = False


@dataclass(frozen=True, slots=True)
class FileRecord:
    """One file as the scan found it: read and hashed, or with the reason why it was not.

    ``stat`` None means that the next scan shall read it again even if it looks the same. ``added``
    is the day on which it came to the library, for a file that the index does not know yet.
    """

    path: bytes
    size: int
    stat: Stat | None
    reading: "FileReading | None" = None
    hashes: "Hashes | None" = None
    reason: str = ""
    added: int | None = None
