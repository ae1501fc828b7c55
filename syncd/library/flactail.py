"""Whether a FLAC file's last frame is there: the cheap half of finding truncated files.

Looks at the end of the file only and decodes nothing; that every sample decodes is for the
transcoder. Source: RFC 9639 §9.1 (frame header, coded number, CRC-8 0x07) and §9.3 (CRC-16 0x8005).
"""

from functools import cache
from typing import BinaryIO

from syncd.library.tagblocks import read_at

_BLOCK_SIZES = {1: 192, 2: 576, 3: 1152, 4: 2304, 5: 4608} | {
    code: 256 << (code - 8) for code in range(8, 16)
}
_LARGEST_WINDOW = 4 * 1024 * 1024


@cache
def _table(polynomial: int, width: int) -> tuple[int, ...]:
    top, mask = 1 << (width - 1), (1 << width) - 1
    table = []
    for byte in range(256):
        value = byte << (width - 8)
        for _ in range(8):
            value = (value << 1 ^ polynomial if value & top else value << 1) & mask
        table.append(value)
    return tuple(table)


def crc8(data: bytes) -> int:
    """The CRC-8 that ends a frame header."""
    table, value = _table(0x07, 8), 0
    for byte in data:
        value = table[value ^ byte]
    return value


def _frame_is_whole(data: bytes) -> bool:
    """Whether a frame beginning at the front of *data* ends within it: its CRC-16 comes to 0.

    The frame ends with the data in a sound file; where odd bytes follow, any earlier end counts.
    """
    table, value = _table(0x8005, 16), 0
    for position, byte in enumerate(data):
        value = (value << 8 & 0xFF00) ^ table[value >> 8 ^ byte]
        if value == 0 and position > 8:
            return True
    return False


def frame_span(raw: bytes, fixed_block: int) -> tuple[int, int] | None:
    """First sample and number of samples of the frame whose header *raw* begins with, or None."""
    if len(raw) < 6 or raw[0] != 0xFF or raw[1] & 0xFE != 0xF8:
        return None
    size_code, rate_code = raw[2] >> 4, raw[2] & 15
    if size_code == 0 or rate_code == 15 or raw[3] >> 4 > 10 or raw[3] & 1:
        return None
    lead = raw[4]
    extra = 0 if lead < 0x80 else 7 - (lead ^ 0xFF).bit_length()
    if lead >= 0x80 and not 1 <= extra <= 6:
        return None
    number = lead if lead < 0x80 else lead & (0x3F >> extra)
    for byte in raw[5 : 5 + extra]:
        if byte & 0xC0 != 0x80:
            return None
        number = number << 6 | byte & 0x3F
    at = 5 + extra
    block = _BLOCK_SIZES.get(size_code, 0)
    if size_code in (6, 7):
        width = size_code - 5
        block = int.from_bytes(raw[at : at + width], "big") + 1
        at += width
    at += {12: 1, 13: 2, 14: 2}.get(rate_code, 0)
    if len(raw) <= at or crc8(raw[:at]) != raw[at]:
        return None
    return (number if raw[1] & 1 else number * fixed_block), block


def reaches_its_end(file: BinaryIO, start: int, end: int, streaminfo: bytes, total: int) -> bool:
    """Whether the frame with the last of *total* samples stands whole between *start* and *end*.

    *streaminfo* is the 34-byte block. Frames are sought from the end backwards.
    """
    fixed_block = int.from_bytes(streaminfo[2:4], "big")
    largest = int.from_bytes(streaminfo[7:10], "big") or 512 * 1024
    reach = min(_LARGEST_WINDOW, 2 * largest + 64 * 1024)
    window_start = max(start, end - reach)
    window = read_at(file, window_start, end - window_start)
    at = window.rfind(b"\xff")
    while at >= 0:
        span = frame_span(window[at : at + 17], fixed_block)
        if span is not None and span[0] + span[1] >= total > span[0]:
            return _frame_is_whole(window[at:])
        at = window.rfind(b"\xff", 0, at)
    return False
