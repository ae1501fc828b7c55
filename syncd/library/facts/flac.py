"""Audio facts of FLAC files: STREAMINFO (RFC 9639 §8.2), and whether the last frame is there."""

from typing import BinaryIO

from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.flactail import reaches_its_end
from syncd.library.tagblocks import front_end, read_at, tail_start
from syncd.model import AudioFacts, Codec


def flac_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """STREAMINFO of a FLAC file, whose last frame must be there and whole."""
    start = front_end(file, size) if read_at(file, 0, 3) == b"ID3" else 0
    raw = read_at(file, start, 42)
    if len(raw) < 42 or raw[4] & 0x7F != 0:
        raise cut_off(path, "it ends within its header")
    packed = int.from_bytes(raw[18:26], "big")
    rate, channels = packed >> 44, (packed >> 41 & 7) + 1
    bits, total = (packed >> 36 & 31) + 1, packed & 0xF_FFFF_FFFF
    if rate == 0:
        raise damaged(path, "has a FLAC header without a sample rate; make the file again")
    audio = flac_audio_start(file, start, size)
    end = tail_start(file, audio, size)
    if audio >= end:
        raise cut_off(path, "it has a FLAC header but no audio after it")
    if total and not reaches_its_end(file, audio, end, raw[8:42], total):
        raise cut_off(path, f"its header promises {total} samples and the file ends before them")
    duration = total / rate
    bitrate = round((end - audio) * 8 / duration) if duration else None
    shortest, longest = int.from_bytes(raw[8:10], "big"), int.from_bytes(raw[10:12], "big")
    return AudioFacts(
        "flac", Codec.FLAC, rate, channels, duration, bits, bitrate, total or None,
        variable=shortest != longest,
        block_samples=longest or None,
        frame_bytes=int.from_bytes(raw[15:18], "big") or None,
    )  # fmt: skip


def flac_audio_start(file: BinaryIO, start: int, size: int) -> int:
    """Offset of the first frame of the FLAC stream whose marker is at *start*."""
    position = start + 4
    while position < size:
        head = read_at(file, position, 4)
        if len(head) < 4:
            return size
        position += 4 + int.from_bytes(head[1:4], "big")
        if head[0] & 0x80:
            break
    return min(position, size)
