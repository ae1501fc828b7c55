"""The info frame at the head of an MP3 file: delay and padding, for gapless play, and its CRC.

Layout: frame header, side information, ``Xing`` or ``Info``, flags, frame count, byte count,
seek table, quality, then the encoder's part of 36 bytes with delay and padding (12 bits each)
21 bytes in and a CRC-16 at its end.
"""

from dataclasses import dataclass
from pathlib import Path

_HEAD_BYTES = 4096
_ENCODER_AT = 120  # from the letters "Xing": 4 of these, 4 flags, 4 frames, 4 bytes, 100, 4
_CRC_AT = _ENCODER_AT + 34


@dataclass(frozen=True, slots=True)
class InfoFrame:
    """What an info frame says, and where it says it.

    ``tag_at`` is the offset of the letters from the start of the frame, ``frames`` does not count
    the info frame itself; delay and padding are in samples, as the encoder gives them.
    """

    tag_at: int
    frames: int
    samples_per_frame: int
    delay: int
    padding: int

    @property
    def samples(self) -> int:
        """The exact number of samples that went in."""
        return self.frames * self.samples_per_frame - self.delay - self.padding


def read_info_frame(frame: bytes) -> InfoFrame | None:
    """Read the info frame that *frame* (the first of a file) is, or None when it is none."""
    if len(frame) < 4 or frame[0] != 0xFF or frame[1] & 0xE0 != 0xE0:
        return None
    mpeg1, mono = frame[1] & 0x18 == 0x18, frame[3] & 0xC0 == 0xC0
    side = (17 if mono else 32) if mpeg1 else (9 if mono else 17)
    at = 4 + side
    if frame[at : at + 4] not in (b"Xing", b"Info") or len(frame) < at + _CRC_AT + 2:
        return None
    if frame[at + 7] & 0x0F != 0x0F:
        return None  # a shorter form, without the encoder's part at its usual place
    packed = int.from_bytes(frame[at + _ENCODER_AT + 21 : at + _ENCODER_AT + 24], "big")
    return InfoFrame(
        tag_at=at,
        frames=int.from_bytes(frame[at + 8 : at + 12], "big"),
        samples_per_frame=1152 if mpeg1 else 576,
        delay=packed >> 12,
        padding=packed & 0xFFF,
    )


def crc16(data: bytes) -> int:
    """CRC-16 with the reflected polynomial 0xA001, start 0, as the info frame has it."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def with_padding(frame: bytes, info: InfoFrame, padding: int, delay: int | None = None) -> bytes:
    """*frame* with another padding, and perhaps *delay*, and the CRC that goes with them."""
    changed = bytearray(frame)
    at = info.tag_at + _ENCODER_AT + 21
    before = info.delay if delay is None else delay
    changed[at : at + 3] = (before << 12 | padding).to_bytes(3, "big")
    end = info.tag_at + _CRC_AT
    changed[end : end + 2] = crc16(bytes(changed[:end])).to_bytes(2, "big")
    return bytes(changed)


def mend(path: Path, samples: int, *, ahead: int = 0) -> bool:
    """Let the info frame of the bare MP3 *path* say that *samples* went in; True if it did not.

    Two things are wrong in what the muxer writes: the padding is capped at 1681, so that lengths
    of 1 to 46 samples over whole frames would decode too long and leave a gap before a movement
    that follows without a break; and the CRC is taken over 190 bytes, which are those before it
    only in stereo above 24 kHz. *ahead* samples of what went in stand before the music and are to
    be left out with the encoder's delay.
    """
    with path.open("rb+") as file:
        frame = file.read(_HEAD_BYTES)
        info = read_info_frame(frame)
        if info is None:
            return False
        delay = info.delay + ahead
        padding = info.frames * info.samples_per_frame - delay - samples
        if not (0 <= padding <= 0xFFF and delay <= 0xFFF):
            return False
        mended = with_padding(frame, info, padding, delay)
        if mended == frame:
            return False
        file.seek(0)
        file.write(mended)
    return True
