"""Audio facts of TTA and APE files: lossless streams cut into frames, listed in a seek table.

Sources: the published TTA1 format description; for APE the layout that ffmpeg's open-source reader
follows (descriptor and header of versions from 3.98, one header before), both from memory.
"""

from typing import BinaryIO

from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.tagblocks import front_end, read_at, tail_start
from syncd.model import AudioFacts, Codec

_MOST_FRAMES = 1 << 22


def tta_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The header and seek table of a TTA file; the table's sum must be there."""
    start = front_end(file, size)
    end = tail_start(file, start, size)
    raw = read_at(file, start, 22)
    if len(raw) < 22:
        raise cut_off(path, "it ends within its header")
    form, channels = int.from_bytes(raw[4:6], "little"), int.from_bytes(raw[6:8], "little")
    bits, rate = int.from_bytes(raw[8:10], "little"), int.from_bytes(raw[10:14], "little")
    samples = int.from_bytes(raw[14:18], "little")
    if form == 2:
        raise damaged(path, "is a TTA file locked by a password; make it again without one")
    if form != 1 or not 8 <= bits <= 24:
        raise damaged(path, "is a TTA file of a kind that ffmpeg does not decode; convert it")
    if rate == 0 or channels == 0 or samples == 0:
        raise damaged(path, "has a TTA header without rate, channels or audio; make it again")
    frame = 256 * rate // 245
    frames = -(-samples // frame) if frame else _MOST_FRAMES + 1
    if frames > _MOST_FRAMES:
        raise damaged(path, "has a TTA header that cannot be true; make the file again")
    table = read_at(file, start + 22, 4 * frames)
    coded = sum(int.from_bytes(table[at : at + 4], "little") for at in range(0, len(table), 4))
    promised = 22 + 4 * frames + 4 + coded
    if len(table) < 4 * frames or end - start < promised:
        raise cut_off(path, f"{promised - (end - start)} bytes of its audio are missing")
    return _facts("tta", Codec.TTA, rate, channels, bits, samples, coded)


def ape_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The header of an APE file, version 3.80 to 3.99, whose frames must be there."""
    start = front_end(file, size)
    end = tail_start(file, start, size)
    raw = read_at(file, start, 52 + 24)
    if len(raw) < 76:
        raise cut_off(path, "it ends within its header")
    version = int.from_bytes(raw[4:6], "little")
    if not 3800 <= version <= 3990:
        raise damaged(
            path,
            f"is an APE file of version {version / 1000:.2f}; ffmpeg decodes 3.80 to 3.99. "
            "Convert it to FLAC",
        )
    if version >= 3980:
        after = max(52, int.from_bytes(raw[8:12], "little"))  # a later descriptor may be longer
        header = _ape_header(raw, read_at(file, start + after, 24))
    else:
        header = _old_ape_header(raw, version)
    blocks, final, frames, bits, channels, rate, promised = header
    if bits not in (8, 16, 24) or channels not in (1, 2):
        raise damaged(
            path,
            f"is an APE file of {bits} bit and {channels} channels, which ffmpeg does not decode; "
            "convert it to FLAC",
        )
    if rate == 0 or not 0 < frames <= _MOST_FRAMES or not 0 < final <= blocks:
        raise damaged(path, "has an APE header without rate, frames or audio; make it again")
    if end - start < promised:
        raise cut_off(path, f"{promised - (end - start)} bytes of its audio are missing")
    samples = (frames - 1) * blocks + final
    return _facts("ape", Codec.APE, rate, channels, bits, samples, end - start)


def _ape_header(raw: bytes, body: bytes) -> tuple[int, ...]:
    """Blocks a frame, in the last frame, frames, bits, channels, rate, bytes promised (3.98 on)."""
    descriptor, header, table, wav, low, high = (
        int.from_bytes(raw[at : at + 4], "little") for at in range(8, 32, 4)
    )
    blocks, final, frames = (int.from_bytes(body[at : at + 4], "little") for at in (4, 8, 12))
    bits, channels = int.from_bytes(body[16:18], "little"), int.from_bytes(body[18:20], "little")
    rate = int.from_bytes(body[20:24], "little")
    return (
        blocks,
        final,
        frames,
        bits,
        channels,
        rate,
        descriptor + header + table + wav + (low | high << 32),
    )


def _old_ape_header(raw: bytes, version: int) -> tuple[int, ...]:
    """The same of the one header before 3.98. It promises no bytes of audio, only tables."""
    level, flags = int.from_bytes(raw[6:8], "little"), int.from_bytes(raw[8:10], "little")
    channels, rate = int.from_bytes(raw[10:12], "little"), int.from_bytes(raw[12:16], "little")
    frames, final = int.from_bytes(raw[24:28], "little"), int.from_bytes(raw[28:32], "little")
    bits = 8 if flags & 1 else 24 if flags & 8 else 16
    blocks = 9216
    if version >= 3950:
        blocks = 73728 * 4
    elif version >= 3900 or level >= 4000:
        blocks = 73728
    return blocks, final, frames, bits, channels, rate, 32 + 4 * frames


def _facts(
    container: str, codec: Codec, rate: int, channels: int, bits: int, samples: int, coded: int
) -> AudioFacts:
    duration = samples / rate
    return AudioFacts(
        container, codec, rate, channels, duration, bits, round(coded * 8 / duration), samples
    )
