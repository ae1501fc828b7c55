"""What an Opus file says of its ends: samples to drop before the music, and where it ends.

Pre-skip stands in the first page (RFC 7845 section 5.1), the end is the position on the last page
(section 4.4: less than the packets hold, so the rest is dropped). Pages as RFC 3533 section 6 has
them; their CRC has the polynomial 0x04C11DB7, not reflected, start 0.
"""

import os
from pathlib import Path

_HEAD = b"OpusHead"
_LARGEST_PAGE = 65307


def mend(path: Path, ahead: int, behind: int) -> bool:
    """Let players of the Opus file *path* drop *ahead* more samples before, *behind* more after it.

    False, and nothing done, where the file is not as expected or its last page holds too little.
    """
    with path.open("rb+") as file:
        first = bytearray(_page(file.read(_LARGEST_PAGE), 0))
        at = first.find(_HEAD)
        if at < 0 or len(first) < at + 19:
            return False
        skip = int.from_bytes(first[at + 10 : at + 12], "little") + ahead
        size = file.seek(0, os.SEEK_END)
        tail_at = max(0, size - 2 * _LARGEST_PAGE)
        file.seek(tail_at)
        tail = file.read()
        last_at = _last_page(tail)
        if last_at is None or skip > 0xFFFF:
            return False
        last = bytearray(tail[last_at:])
        position = int.from_bytes(last[6:14], "little") - behind
        if position <= _position_before(tail, last_at):
            return False
        first[at + 10 : at + 12] = skip.to_bytes(2, "little")
        last[6:14] = position.to_bytes(8, "little")
        for place, page in ((0, first), (tail_at + last_at, last)):
            file.seek(place)
            file.write(with_crc(bytes(page)))
    return True


def with_crc(page: bytes) -> bytes:
    """*page* with the CRC that belongs to it."""
    bare = page[:22] + bytes(4) + page[26:]
    return bare[:22] + crc32(bare).to_bytes(4, "little") + bare[26:]


def crc32(data: bytes) -> int:
    """The CRC of Ogg pages."""
    crc = 0
    for byte in data:
        crc = (crc << 8 & 0xFFFFFFFF) ^ _TABLE[crc >> 24 ^ byte]
    return crc


def _entry(byte: int) -> int:
    crc = byte << 24
    for _ in range(8):
        crc = crc << 1 ^ 0x04C11DB7 if crc & 0x80000000 else crc << 1
    return crc & 0xFFFFFFFF


_TABLE = tuple(map(_entry, range(256)))


def _page(data: bytes, at: int) -> bytes:
    """The whole page at *at* of *data*, empty where there is none."""
    head = data[at : at + 27]
    if len(head) < 27 or head[:4] != b"OggS":
        return b""
    lacing = data[at + 27 : at + 27 + head[26]]
    end = at + 27 + head[26] + sum(lacing)
    return data[at:end] if len(lacing) == head[26] and end <= len(data) else b""


def _last_page(tail: bytes) -> int | None:
    at = tail.rfind(b"OggS")
    while at >= 0:
        page = _page(tail, at)
        if page and at + len(page) == len(tail):
            return at
        at = tail.rfind(b"OggS", 0, at)
    return None


def _position_before(tail: bytes, last_at: int) -> int:
    """The position on the page before the last; 0 where that is none with music."""
    at = tail.rfind(b"OggS", 0, last_at)
    while at >= 0:
        page = _page(tail, at)
        if page and at + len(page) == last_at:
            return int.from_bytes(page[6:14], "little")
        at = tail.rfind(b"OggS", 0, at)
    return 0
