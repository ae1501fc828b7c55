"""Where tags stand before and after the audio of an MP3, FLAC or WavPack file.

Finds the bounds only; what the tags say is for ``tagnames``. Layouts: ID3v2.4.0 main structure §3
(header, footer, synchsafe size), ID3v1 (128 bytes "TAG"), its 227-byte extension "TAG+", APEv2
(32-byte footer), Lyrics3 v1 and v2. All but ID3v2 from memory, as common practice has them.
"""

from typing import BinaryIO

_MOST_BLOCKS = 16  # a file with more tag blocks than this is not looked at further


def read_at(file: BinaryIO, position: int, length: int) -> bytes:
    """Up to *length* bytes at *position*; fewer at the end of the file."""
    if position < 0 or length <= 0:
        return b""
    file.seek(position)
    return file.read(length)


def synchsafe(raw: bytes) -> int | None:
    """The 28-bit number in four bytes of seven bits each, None when a top bit is set."""
    if len(raw) != 4 or any(byte & 0x80 for byte in raw):
        return None
    return raw[0] << 21 | raw[1] << 14 | raw[2] << 7 | raw[3]


def id3v2_length(header: bytes) -> int:
    """Whole length of the ID3v2 tag that begins with *header* (10 bytes), 0 if there is none."""
    if len(header) < 10 or header[:3] != b"ID3" or header[3] == 0xFF or header[4] == 0xFF:
        return 0
    size = synchsafe(header[6:10])
    if size is None:
        return 0
    footer = 10 if header[5] & 0x10 else 0
    return 10 + size + footer


def front_end(file: BinaryIO, size: int) -> int:
    """Offset of the first byte after all ID3v2 tags at the front."""
    position = 0
    for _ in range(_MOST_BLOCKS):
        length = id3v2_length(read_at(file, position, 10))
        if length == 0:
            break
        position += length
    return min(position, size)


def tail_start(file: BinaryIO, front: int, size: int) -> int:
    """Offset where the tags at the end begin: *size* when there are none.

    Takes off, in whatever order they come, ID3v1, TAG+, Lyrics3, APEv2 and an appended ID3v2.
    """
    end = size
    for _ in range(_MOST_BLOCKS):
        block = _last_block(file, front, end)
        if block == 0:
            break
        end -= block
    return end


def _last_block(file: BinaryIO, front: int, end: int) -> int:
    """Length of the tag block that ends at *end*, 0 if there is none."""
    room = end - front
    tail = read_at(file, max(front, end - 227), min(227, room))
    length = 0
    if len(tail) >= 128 and tail[-128:-125] == b"TAG":
        length = 128
    elif len(tail) == 227 and tail[:4] == b"TAG+":
        length = 227
    elif tail[-9:] == b"LYRICS200" and tail[-15:-9].isdigit():
        length = int(tail[-15:-9]) + 15
    elif tail[-9:] == b"LYRICSEND":
        found = read_at(file, max(front, end - 5109), min(5109, room)).rfind(b"LYRICSBEGIN")
        length = min(5109, room) - found if found >= 0 else 0
    elif tail[-32:-24] == b"APETAGEX":
        has_header = tail[-12:-8] and int.from_bytes(tail[-12:-8], "little") & 0x8000_0000
        length = int.from_bytes(tail[-20:-16], "little") + (32 if has_header else 0)
        length = length if length >= 32 else 0
    elif tail[-10:-7] == b"3DI":
        body = synchsafe(tail[-4:])
        length = body + 20 if body is not None else 0
    return length if length <= room else 0
