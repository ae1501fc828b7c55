"""Walking through a lossy file frame by frame or page by page, to see whether anything is missing.

A decoder passes over lost frames and pages in silence, or says so without a place; the structure
tells both. Nothing is decoded: what is damaged inside a frame that has no checksum is not seen.
Sources: MPEG audio frames ISO/IEC 11172-3 section 2.4.1; Ogg pages RFC 3533 section 6.

Harmless, and common: bytes before the first frame, tags of any kind before, after and (in files put
together from several) between the frames, other bytes after the last one.
"""

import zlib
from pathlib import Path
from typing import BinaryIO

from syncd.library.damage import Damage
from syncd.library.mpeg import FrameHeader, first_frame, frame_header, info_frame
from syncd.library.tagblocks import front_end, id3v2_length, read_at, tail_start
from syncd.model import AudioFacts, Codec

_WINDOW = 1 << 20
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
_NO_PLACE = 0xFFFF_FFFF_FFFF_FFFF


def structural_damage(path: str, audio: AudioFacts) -> Damage | None:
    """What is missing in the file at *path*, as far as its kind tells by its structure.

    None for kinds that are not walked through (all but MP3 and Ogg). Raises OSError.
    """
    if audio.container not in ("mp3", "ogg"):
        return None
    with Path(path).open("rb") as file:
        if audio.container == "mp3":
            return mpeg_damage(file)
        return ogg_damage(file, 48000 if audio.codec is Codec.OPUS else audio.sample_rate_hz)


def mpeg_damage(file: BinaryIO) -> Damage | None:
    """What is missing between the first frame and the end of an MPEG audio file."""
    size = file.seek(0, 2)
    start = front_end(file, size)
    end = tail_start(file, start, size)
    first = first_frame(file, start, end)
    if first is None:
        return None  # free format, or no frame at all: for the reader of its facts to refuse
    info = info_frame(file, *first)
    walk = _Walk(file, first[0], end, first[1])
    lost = walk.run()
    if lost is not None:
        return lost
    frames = walk.frames - (info is not None)
    if info is not None and info.frames is not None:
        # Some encoders count the information frame, too.
        if frames + 1 < info.frames:
            return Damage(
                f"it ends after {frames} of the {info.frames} frames that it should have",
                walk.seconds,
            )
        return None
    if walk.cut_off:
        return Damage("it ends in the middle of a frame", walk.seconds)
    return None


class _Walk:
    """From frame to frame of one MPEG stream."""

    def __init__(self, file: BinaryIO, start: int, end: int, first: FrameHeader) -> None:
        self._file = file
        self._end = end
        self._at = start
        self._like = first
        self._base = start
        self._window = b""
        self._known: dict[bytes, FrameHeader | None] = {}
        self.frames = 0
        self.seconds = 0.0
        self.cut_off = False

    def run(self) -> Damage | None:
        """Go to the end; what is missing on the way."""
        while self._at < self._end:
            header = self._header()
            if header is not None and header.alike(self._like):
                if self._at + header.length > self._end:
                    self.cut_off = True
                    return None
                self._at += header.length
                self.frames += 1
                self.seconds += header.samples / header.sample_rate_hz
                continue
            tag = _tag_length(read_at(self._file, self._at, 32))
            if tag and self._at + tag < self._end:
                self._at += tag
                continue
            following = self._resume()
            if following is None:
                return None  # nothing but other bytes: no frame is missing
            lost = following[0] - self._at
            if lost:
                return Damage(
                    f"where a frame should begin, {lost} bytes are none "
                    f"(byte {self._at} of the file)",
                    self.seconds,
                )
            self._like = following[1]  # another stream was put behind the first
        return None

    def _header(self) -> FrameHeader | None:
        offset = self._at - self._base
        if offset + 4 > len(self._window):
            self._base, offset = self._at, 0
            self._window = read_at(self._file, self._at, _WINDOW)
        raw = self._window[offset : offset + 4]
        if raw not in self._known:
            self._known[raw] = frame_header(raw)
        return self._known[raw]

    def _resume(self) -> tuple[int, FrameHeader] | None:
        """Where frames go on at or after the present place."""
        at = self._at
        while at < self._end:
            found = first_frame(self._file, at, self._end)
            if found is not None:
                return found
            at += 64 * 1024
        return None


def _tag_length(raw: bytes) -> int:
    """Length of the tag block that begins with *raw*; 0 if it begins none."""
    if raw[:3] == b"TAG":
        return 128
    if raw[:8] == b"APETAGEX":  # a header: the size in it leaves the header itself out
        return 32 + int.from_bytes(raw[12:16], "little")
    return id3v2_length(raw[:10])


def ogg_damage(file: BinaryIO, rate_hz: int) -> Damage | None:
    """What is missing or wrong among the pages of an Ogg file; places at *rate_hz*."""
    size = file.seek(0, 2)
    at = max(0, front_end(file, size))
    seconds: dict[int, float] = {}
    numbers: dict[int, int] = {}
    last = 0.0
    while at < size:
        page = _page(file, at)
        if page is None:
            going_on = _next_page(file, at)
            if going_on is None:
                # Whatever a tagger put at the end, or a page of which only the head is left.
                cut = read_at(file, at, 4) == b"OggS"
                return Damage("it ends in the middle of a page", last) if cut else None
            if not seconds:
                at = going_on  # junk before the first page
                continue
            return Damage(f"{going_on - at} bytes where a page should be are none", last)
        length, serial, number, place, sound = page
        if not sound:
            return Damage(f"the checksum of its page {number} does not fit", last)
        expected = numbers.get(serial)
        if expected is not None and number != expected:
            return Damage(f"page {expected} should follow, and page {number} does", last)
        numbers[serial] = number + 1
        if place != _NO_PLACE:
            seconds[serial] = last = place / rate_hz
        at += length
    return None


def _page(file: BinaryIO, at: int) -> tuple[int, int, int, int, bool] | None:
    """Length, serial, number, granule position, and whether the checksum fits; None for no page."""
    head = read_at(file, at, 27)
    if len(head) < 27 or head[:5] != b"OggS\0":
        return None
    lacing = file.read(head[26])
    body = sum(lacing)
    content = file.read(body)
    if len(lacing) < head[26] or len(content) < body:
        return None
    checked = b"".join((head[:22], bytes(4), head[26:], lacing, content))
    sound = _crc(checked) == int.from_bytes(head[22:26], "little")
    serial, number = int.from_bytes(head[14:18], "little"), int.from_bytes(head[18:22], "little")
    place = int.from_bytes(head[6:14], "little")
    return 27 + len(lacing) + body, serial, number, place, sound


def _next_page(file: BinaryIO, at: int) -> int | None:
    """Where a whole page begins after *at*."""
    position = at + 1
    while window := read_at(file, position, 65536):
        found = window.find(b"OggS")
        if found < 0:
            position += max(1, len(window) - 3)
            if len(window) < 4:
                return None
            continue
        if _page(file, position + found) is not None:
            return position + found
        position += found + 1
    return None


def _crc(data: bytes) -> int:
    """CRC-32 of polynomial 0x04C11DB7, register 0, bits not reversed (RFC 3533 section 6).

    zlib's has every bit the other way round, and begins and ends with all ones.
    """
    value = zlib.crc32(data.translate(_REVERSED), 0xFFFF_FFFF) ^ 0xFFFF_FFFF
    return int(f"{value:032b}"[::-1], 2)
