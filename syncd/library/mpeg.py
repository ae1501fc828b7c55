"""MPEG audio frame headers and the information frame of an MP3 file.

Gives the exact number of samples where the information frame says it (frames, delay, padding),
whichever encoder wrote it. Tags are for ``tagblocks`` and ``tagnames``. Sources: frame length and
samples a frame ISO/IEC 11172-3 §2.4.3.1 and 13818-3; bit rate tables from memory; Xing/Info and the
delay and padding fields (21 bytes after the encoder string) as the information-tag description has
them, a de facto standard.
"""

from dataclasses import dataclass
from typing import BinaryIO

from syncd.library.tagblocks import read_at

_RATES_HZ = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}
_KBPS_1 = {
    1: (32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448),
    2: (32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384),
    3: (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320),
}
_KBPS_2 = {
    1: (32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256),
    2: (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
    3: (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
}
_SEARCHED = 64 * 1024  # junk between tag and first frame longer than this is no MP3 any more


@dataclass(frozen=True, slots=True)
class FrameHeader:
    """One frame's header: version bits (3 MPEG-1, 2 MPEG-2, 0 MPEG-2.5) and what follows."""

    version: int
    layer: int
    bitrate_bps: int
    sample_rate_hz: int
    channels: int
    length: int
    samples: int
    protected: bool

    def alike(self, other: "FrameHeader") -> bool:
        """Whether *other* can stand in the same stream."""
        return (self.version, self.layer, self.sample_rate_hz) == (
            other.version,
            other.layer,
            other.sample_rate_hz,
        )


@dataclass(frozen=True, slots=True)
class InfoFrame:
    """What a Xing or Info frame says. ``frames`` does not count the information frame itself."""

    frames: int | None
    bytes: int | None
    delay: int | None
    padding: int | None
    constant_rate: bool


def frame_header(raw: bytes) -> FrameHeader | None:
    """The header in the first four bytes of *raw*, None if it is none (free format included)."""
    if len(raw) < 4 or raw[0] != 0xFF or raw[1] & 0xE0 != 0xE0:
        return None
    version, layer_bits = raw[1] >> 3 & 3, raw[1] >> 1 & 3
    rate_index, bitrate_index = raw[2] >> 2 & 3, raw[2] >> 4
    if version == 1 or layer_bits == 0 or rate_index == 3 or bitrate_index in (0, 15):
        return None
    layer = 4 - layer_bits
    kbps = (_KBPS_1 if version == 3 else _KBPS_2)[layer][bitrate_index - 1]
    rate = _RATES_HZ[version][rate_index]
    pad = raw[2] >> 1 & 1
    if layer == 1:
        samples, length = 384, (12 * kbps * 1000 // rate + pad) * 4
    else:
        samples = 576 if layer == 3 and version != 3 else 1152
        length = samples // 8 * kbps * 1000 // rate + pad
    channels = 1 if raw[3] >> 6 == 3 else 2
    protected = not raw[1] & 1
    return FrameHeader(version, layer, kbps * 1000, rate, channels, length, samples, protected)


def first_frame(file: BinaryIO, start: int, end: int) -> tuple[int, FrameHeader] | None:
    """Offset and header of the first frame between *start* and *end*, None if there is none.

    A frame counts when two more that fit it follow, or when the stream ends before they can:
    ordinary bytes pass for one header now and then, for three in a row hardly ever.
    """
    window = read_at(file, start, min(_SEARCHED + 8192, end - start))
    position = window.find(0xFF)
    while 0 <= position < _SEARCHED:
        header = frame_header(window[position : position + 4])
        if header is not None and _goes_on(window, position, header, end - start):
            return start + position, header
        position = window.find(0xFF, position + 1)
    return None


def _goes_on(window: bytes, position: int, first: FrameHeader, room: int) -> bool:
    for _ in range(2):
        position += first.length
        if position == room:
            return True  # a whole last frame ends where the audio ends
        following = frame_header(window[position : position + 4])
        if following is None or not following.alike(first):
            return False
        first = following
    return True


def rate_varies(file: BinaryIO, start: int, end: int) -> bool | None:
    """Whether frames at the front, in the middle and near the end have different bit rates.

    For streams without an information frame. None when too few frames are found to tell.
    """
    rates: set[int] = set()
    counted = 0
    for place in {start, (start + end) // 2, max(start, end - _SEARCHED)}:
        found = first_frame(file, place, end)
        if found is None:
            continue
        window = read_at(file, found[0], min(_SEARCHED, end - found[0]))
        position = 0
        header = frame_header(window[:4])
        while header is not None and header.alike(found[1]):
            rates.add(header.bitrate_bps)
            counted += 1
            position += header.length
            header = frame_header(window[position : position + 4])
    return len(rates) > 1 if counted > 2 else None


def is_free_format(file: BinaryIO, start: int, end: int) -> bool:
    """Whether the stream from *start* is of free format: no bit rate in its headers.

    Its frames are all equally long but for the padding byte (ISO/IEC 11172-3 2.4.2.3): five
    headers in a row must stand at one distance.
    """
    window = read_at(file, start, min(_SEARCHED, end - start))
    position = window.find(0xFF)
    while 0 <= position < 8192:
        mark = window[position : position + 3]
        if len(mark) == 3 and mark[1] & 0xE0 == 0xE0 and mark[2] >> 4 == 0 and mark[1] >> 1 & 3:
            following = window.find(mark[:2], position + 24)
            while 0 <= following < position + 8192:
                if _repeats(window, position, following - position):
                    return True
                following = window.find(mark[:2], following + 1)
        position = window.find(0xFF, position + 1)
    return False


def _repeats(window: bytes, position: int, distance: int) -> bool:
    """Whether headers like the one at *position* stand at *distance*, give or take the padding."""
    mark, same = window[position : position + 2], window[position + 2] & 0xFC
    for _ in range(4):
        here = (position + distance + slip for slip in (0, 1, -1))
        found = next(
            (at for at in here if window[at : at + 2] == mark and window[at + 2] & 0xFC == same),
            None,
        )
        if found is None:
            return False
        position = found
    return True


def info_frame(file: BinaryIO, position: int, header: FrameHeader) -> InfoFrame | None:
    """What the frame at *position* says as a Xing or Info frame, None if it is an ordinary one."""
    raw = read_at(file, position, header.length)
    side = (
        (32 if header.channels == 2 else 17)
        if header.version == 3
        else 9 + 8 * (header.channels == 2)
    )
    at = 4 + side
    if raw[at : at + 4] not in (b"Xing", b"Info") and header.protected:
        at += 2  # some encoders put the two bytes of the CRC before it
    kind = raw[at : at + 4]
    if kind not in (b"Xing", b"Info") or len(raw) < at + 8:
        return None
    flags = int.from_bytes(raw[at + 4 : at + 8], "big")
    at += 8
    values: list[int | None] = []
    for bit, width in ((1, 4), (2, 4), (4, 100), (8, 4)):
        field = raw[at : at + width] if flags & bit else b""
        values.append(int.from_bytes(field, "big") if len(field) == 4 else None)
        at += width if flags & bit else 0
    delay = padding = None
    encoder, fields = raw[at : at + 9], raw[at + 21 : at + 24]
    if len(fields) == 3 and len(encoder) == 9 and all(0x20 <= byte < 0x7F for byte in encoder[:4]):
        delay = fields[0] << 4 | fields[1] >> 4
        padding = (fields[1] & 15) << 8 | fields[2]
    return InfoFrame(values[0], values[1], delay, padding, kind == b"Info")
