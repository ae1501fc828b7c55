"""Audio facts of WavPack files: the block headers of format 4 and 5 (in part from memory)."""

from typing import BinaryIO

from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.tagblocks import front_end, read_at, tail_start
from syncd.model import AudioFacts, Codec

_WAVPACK_RATES_HZ = (
    6000, 8000, 9600, 11025, 12000, 16000, 22050, 24000,
    32000, 44100, 48000, 64000, 88200, 96000, 192000,
)  # fmt: skip


def wavpack_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The first block's header of a WavPack file, and the channels of the blocks beside it."""
    start = front_end(file, size)
    end = tail_start(file, start, size)
    channels, position, flags, total = 0, start, 0, 0
    while True:
        raw = read_at(file, position, 32)
        if len(raw) < 32 or raw[:4] != b"wvpk":
            raise cut_off(path, "it ends within its first blocks")
        block_flags = int.from_bytes(raw[24:28], "little")
        if position == start:
            flags = block_flags
            total = int.from_bytes(raw[12:16], "little")
            total = 0 if total == 0xFFFF_FFFF else total | raw[11] << 32
        channels += 1 if block_flags & 4 else 2
        position += 8 + int.from_bytes(raw[4:8], "little")
        if block_flags & 0x1000 or channels > 64:
            break
    if flags & 0x8000_0000:
        raise damaged(path, "holds one-bit audio, which syncd does not read; convert it to PCM")
    index = flags >> 23 & 15
    rate = _WAVPACK_RATES_HZ[index] if index < 15 else 0
    if rate == 0 or total == 0:
        raise damaged(
            path, "is a WavPack file of a kind whose rate or length syncd cannot read; convert it"
        )
    if wavpack_last_sample(file, start, end) < total:
        raise cut_off(path, f"its header promises {total} samples and the file ends before them")
    bits = ((flags & 3) + 1) * 8 - (flags >> 13 & 31)
    profile = "hybrid" if flags & 8 else "float" if flags & 0x80 else ""
    duration = total / rate
    return AudioFacts(
        "wavpack", Codec.WAVPACK, rate, channels, duration, bits,
        round((end - start) * 8 / duration), total, profile,
    )  # fmt: skip


def wavpack_last_sample(file: BinaryIO, start: int, end: int) -> int:
    """Where the last whole block between *start* and *end* ends, in samples (0 if none)."""
    reach = 2 * 1024 * 1024  # a block is 1 MiB at most by the format's rule
    window_start = max(start, end - reach)
    window = read_at(file, window_start, end - window_start)
    at = window.rfind(b"wvpk")
    while at >= 0:
        raw = window[at : at + 32]
        length = 8 + int.from_bytes(raw[4:8], "little")
        if len(raw) == 32 and raw[9:10] == b"\x04" and at + length <= len(window):
            first = int.from_bytes(raw[16:20], "little") | raw[10] << 32
            return first + int.from_bytes(raw[20:24], "little")
        at = window.rfind(b"wvpk", 0, at)
    return 0
