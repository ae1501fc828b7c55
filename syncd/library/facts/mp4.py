"""Audio facts of MP4 files: AAC or ALAC, samples by edit list (ISO/IEC 14496-12 §8.6.6, in part
from memory).
"""

import re
from typing import BinaryIO

from syncd.library.boxes import Chunk, box_at, boxes
from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.lazy import mutagen
from syncd.library.tagblocks import read_at
from syncd.model import AudioFacts, Codec

# Audio object types, ISO/IEC 14496-3 table 1.17; 42 is USAC (xHE-AAC).
_OTHER_OBJECT_TYPES = {"1": "Main", "3": "SSR", "4": "LTP", "42": "xHE"}
_SAMPLE_COUNT_TEXT = re.compile(r"\s*0{8} [0-9A-Fa-f]{8} [0-9A-Fa-f]{8} ([0-9A-Fa-f]{16})\b")


def sample_count_text(value: str) -> int | None:
    """The sample count in a free-form MP4 field of eight-digit groups, None for other text.

    De facto form, from memory: a zero group, encoder delay, padding, then 16 digits of samples.
    """
    match = _SAMPLE_COUNT_TEXT.match(value)
    count = int(match[1], 16) if match else 0
    return count or None


def mp4_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The first sound track of an MP4 file (AAC or ALAC)."""
    for box in boxes(file, 0, size):
        if box.truncated:
            raise cut_off(path, f"{box.size - box.held} bytes of its media data are missing")
    file.seek(0)
    whole = mutagen("mp4").MP4(file)
    info = whole.info
    codec_name = str(info.codec)
    if codec_name.startswith("mp4a.40"):
        codec = Codec.AAC
    elif codec_name == "alac":
        codec = Codec.ALAC
    elif codec_name == "drms":
        raise damaged(path, "is encrypted by its seller; replace it by an unencrypted copy")
    else:
        raise damaged(
            path,
            f"is an MP4 file with sound of the kind '{codec_name}', which syncd does not read; "
            "convert it to AAC, ALAC or FLAC",
        )
    described = str(info.codec_description)
    profile = ""
    if codec is Codec.AAC:
        profile = "HEv2" if "PS" in described else "HE" if "SBR" in described else "LC"
        kind = codec_name.removeprefix("mp4a.40.")
        profile = _OTHER_OBJECT_TYPES.get(kind, profile)
    rate, duration = int(info.sample_rate), float(info.length)
    if duration <= 0:
        raise damaged(path, "is an MP4 file that does not state its length; remux it")
    samples = _mp4_samples(file, size, rate)
    for key, values in (whole.tags or {}).items():
        if key.startswith("----") and values and codec is Codec.AAC:
            samples = sample_count_text(bytes(values[0]).decode("latin-1")) or samples
    if profile in ("HE", "HEv2"):
        samples = None  # counted at the core's rate by some encoders, at the doubled one by others
    if samples is not None and abs(samples / rate - duration) < 0.2:
        duration = samples / rate
    bits = int(info.bits_per_sample) if codec is Codec.ALAC else None
    bitrate = int(info.bitrate) or round(size * 8 / duration)
    return AudioFacts(
        "mp4", codec, rate, int(info.channels), duration, bits, bitrate, samples, profile
    )


def _mp4_samples(file: BinaryIO, size: int, rate: int) -> int | None:
    """Samples by mdhd and a simple edit list, None when either is of another kind."""
    movie = box_at(file, 0, size, b"moov")
    if movie is None:
        return None
    for track in boxes(file, movie.start, movie.start + movie.held):
        end = track.start + track.held
        handler = box_at(file, track.start, end, b"mdia", b"hdlr")
        if track.kind == b"trak" and handler and read_at(file, handler.start + 8, 4) == b"soun":
            header = box_at(file, track.start, end, b"mdia", b"mdhd")
            edits = box_at(file, track.start, end, b"edts", b"elst")
            return _edited_length(file, header, edits, rate) if header else None
    return None


def _edited_length(file: BinaryIO, header: Chunk, edits: Chunk | None, rate: int) -> int | None:
    raw = read_at(file, header.start, 36)
    if raw[:1] == b"\x01":
        scale, length = int.from_bytes(raw[20:24], "big"), int.from_bytes(raw[24:32], "big")
    else:
        scale, length = int.from_bytes(raw[12:16], "big"), int.from_bytes(raw[16:20], "big")
    if scale != rate or length == 0:
        return None
    if edits is None:
        return length
    raw = read_at(file, edits.start, 28)
    if int.from_bytes(raw[4:8], "big") != 1:
        return None
    width = 8 if raw[:1] == b"\x01" else 4
    skipped = int.from_bytes(raw[8 + width : 8 + 2 * width], "big", signed=True)
    return length - skipped if 0 <= skipped < length else None
