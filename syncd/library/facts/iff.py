"""Audio facts of plain samples: WAV and RF64 (RIFF, EBU Tech 3306), AIFF and AIFF-C (1.3: COMM with
an 80-bit rate).
"""

from typing import BinaryIO

from syncd.library.boxes import iff_chunks
from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.tagblocks import read_at
from syncd.model import AudioFacts, Codec

_PCM_IN_AIFC = {
    b"NONE": "", b"twos": "", b"sowt": "", b"raw ": "", b"in24": "", b"in32": "",
    b"fl32": "float", b"FL32": "float", b"fl64": "float", b"FL64": "float",
}  # fmt: skip


def wav_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The fmt and data chunks of a WAV or RF64 file with PCM."""
    chunks = {chunk.kind: chunk for chunk in reversed(iff_chunks(file, size))}
    layout, data = chunks.get(b"fmt "), chunks.get(b"data")
    if layout is None or layout.held < 16 or data is None:
        raise cut_off(path, "a WAV file needs a format and a data chunk and one is missing")
    raw = read_at(file, layout.start, min(layout.held, 40))
    form, channels = int.from_bytes(raw[:2], "little"), int.from_bytes(raw[2:4], "little")
    rate, align = int.from_bytes(raw[4:8], "little"), int.from_bytes(raw[12:14], "little")
    bits = int.from_bytes(raw[14:16], "little")
    if form == 0xFFFE and len(raw) >= 26:
        form = int.from_bytes(raw[24:26], "little")
        valid = int.from_bytes(raw[18:20], "little")
        if form == 1 and 8 <= valid < bits:
            bits = valid
    if form not in (1, 3):
        raise damaged(
            path, f"is a WAV file with coded audio (format {form}), not PCM; convert it to FLAC"
        )
    if data.truncated:
        raise cut_off(path, f"{data.size - data.held} bytes of its audio are missing")
    if rate == 0 or channels == 0 or align == 0:
        raise damaged(path, "has a WAV header without rate or channels; make the file again")
    frames = data.held // align
    if frames == 0:
        raise cut_off(path, "it has a WAV header but no audio after it")
    profile = "float" if form == 3 else ""
    return AudioFacts(
        "wav", Codec.PCM, rate, channels, frames / rate, bits, rate * align * 8, frames, profile
    )


def aiff_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The COMM chunk of an AIFF or AIFF-C file with PCM."""
    chunks = {chunk.kind: chunk for chunk in reversed(iff_chunks(file, size))}
    common, sound = chunks.get(b"COMM"), chunks.get(b"SSND")
    if common is None or common.held < 18 or sound is None:
        raise cut_off(path, "an AIFF file needs a COMM and an SSND chunk and one is missing")
    raw = read_at(file, common.start, min(common.held, 22))
    channels, frames = int.from_bytes(raw[:2], "big"), int.from_bytes(raw[2:6], "big")
    bits, rate = int.from_bytes(raw[6:8], "big"), round(_extended(raw[8:18]))
    kind = raw[18:22] if read_at(file, 8, 4) == b"AIFC" else b"NONE"
    if kind not in _PCM_IN_AIFC:
        name = kind.decode("latin-1")
        raise damaged(path, f"is an AIFF-C file with coded audio ({name}), not PCM; convert it")
    if sound.truncated:
        raise cut_off(path, f"{sound.size - sound.held} bytes of its audio are missing")
    if rate <= 0 or channels == 0 or frames == 0:
        raise damaged(path, "has an AIFF header without rate, channels or audio; make it again")
    bitrate = rate * channels * ((bits + 7) // 8) * 8
    return AudioFacts(
        "aiff", Codec.PCM, rate, channels, frames / rate, bits, bitrate, frames, _PCM_IN_AIFC[kind]
    )


def _extended(raw: bytes) -> float:
    """An 80-bit IEEE 754 extended number; infinities and huge values become 0."""
    exponent = (raw[0] & 0x7F) << 8 | raw[1]
    shift = exponent - 16383 - 63
    return int.from_bytes(raw[2:10], "big") * 2.0**shift if -64 <= shift <= 0 else 0.0
