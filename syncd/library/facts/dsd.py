"""Audio facts of one-bit audio: DSF and DSDIFF (.dff) files.

The facts are those of the one-bit signal itself: its rate (2,822,400 Hz and up), one bit a sample,
and how many such samples a channel has. What a pressing gets from it is the planner's affair.
Sources: DSF file format specification 1.01; DSDIFF 1.5 (chunks of 64-bit big-endian sizes), both
partly from memory.
"""

from typing import BinaryIO

from syncd.library.boxes import Chunk, wide_chunks
from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.tagblocks import read_at
from syncd.model import AudioFacts, Codec

_LOWEST_RATE_HZ = 1_000_000  # below this a header is no one-bit audio but damaged
DFF_PROPERTIES = (b"FS  ", b"CHNL", b"CMPR")
"""Kinds of the chunks inside PROP that say how the audio is to be understood."""

_DSF_CHANNELS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 4, 6: 5, 7: 6}
"""Number of channels by "channel type"; a decoder takes no other pairs."""

_DFF_ORDERS = {
    3: b"MLFTMRGTC   ",
    4: b"MLFTMRGTLS  RS  ",
    5: b"MLFTMRGTC   LS  RS  ",
    6: b"MLFTMRGTC   LFE LS  RS  ",
}
"""The orders of more than two channels that a decoder can be told; DSDIFF allows any."""


def dsf_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The fmt and data chunks of a DSF file."""
    raw = read_at(file, 28, 64)
    if len(raw) < 64:
        raise cut_off(path, "it ends within its header")
    if raw[:4] != b"fmt " or int.from_bytes(raw[4:12], "little") != 52 or raw[52:56] != b"data":
        raise damaged(path, "has a DSF header whose parts are not where they belong; fetch it anew")
    if int.from_bytes(raw[16:20], "little") != 0:
        raise damaged(path, "is a DSF file with coded audio, not plain one-bit samples; convert it")
    channels, rate = int.from_bytes(raw[24:28], "little"), int.from_bytes(raw[28:32], "little")
    samples = int.from_bytes(raw[36:44], "little")
    block = int.from_bytes(raw[44:48], "little")
    if rate < _LOWEST_RATE_HZ or not 1 <= channels <= 8 or samples < 8 or block == 0:
        raise damaged(path, "has a DSF header without rate, channels or audio; fetch it anew")
    if _DSF_CHANNELS.get(int.from_bytes(raw[20:24], "little")) != channels:
        raise damaged(
            path, f"has a DSF header whose {channels} channels do not fit their type; convert it"
        )
    held = size - dsf_audio_start()
    claimed = int.from_bytes(raw[56:64], "little") - 12
    needed = -(-samples // (8 * block)) * block * channels
    if held < claimed or claimed < needed:
        raise cut_off(
            path, f"{max(claimed, needed) - min(held, claimed)} bytes of its audio are missing"
        )
    return _one_bit("dsf", rate, channels, samples)


def dsf_audio_start() -> int:
    """Offset of the first audio byte of every DSF file: two chunks of fixed length come before."""
    return 28 + 52 + 12


def dff_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The PROP and DSD chunks of a DSDIFF file."""
    properties, sound = dff_parts(file, size)
    texts = {part.kind: read_at(file, part.start, min(part.held, 64)) for part in properties}
    rate = int.from_bytes(texts.get(b"FS  ", b"")[:4], "big")
    channels = int.from_bytes(texts.get(b"CHNL", b"")[:2], "big")
    coded = texts.get(b"CMPR", b"DSD ")[:4]
    if coded == b"DST ":
        raise damaged(
            path,
            "holds one-bit audio compressed by DST, of which ffmpeg garbles what is stored "
            "uncompressed in it; expand it to plain DSD",
        )
    if coded != b"DSD ":
        raise damaged(
            path, "is a DSDIFF file with coded audio that syncd does not read; convert it"
        )
    if sound is None:
        raise cut_off(path, "it has DSDIFF headers but no audio after them")
    if rate < _LOWEST_RATE_HZ or not 1 <= channels <= 8:
        raise damaged(path, "has a DSDIFF header without rate or channels; fetch it anew")
    names = texts[b"CHNL"][2:]
    if channels > 2 and names != _DFF_ORDERS.get(channels):
        raise damaged(
            path,
            f"has its {channels} channels in an order that ffmpeg does not know; convert it",
        )
    if sound.truncated:
        raise cut_off(path, f"{sound.size - sound.held} bytes of its audio are missing")
    samples = sound.held // channels * 8
    if samples == 0:
        raise cut_off(path, "it has DSDIFF headers but no audio after them")
    return _one_bit("dff", rate, channels, samples)


def dff_parts(file: BinaryIO, size: int) -> tuple[list[Chunk], Chunk | None]:
    """The chunks that say what the audio is, and the one that holds it (None without one)."""
    properties: list[Chunk] = []
    sound = None
    for chunk in wide_chunks(file, 16, size):
        if chunk.kind == b"PROP" and read_at(file, chunk.start, 4) == b"SND ":
            inner = wide_chunks(file, chunk.start + 4, chunk.start + chunk.held)
            properties += [part for part in inner if part.kind in DFF_PROPERTIES]
        elif chunk.kind in (b"DSD ", b"DST ") and sound is None:
            sound = chunk
    return properties, sound


def _one_bit(container: str, rate: int, channels: int, samples: int) -> AudioFacts:
    return AudioFacts(
        container, Codec.DSD, rate, channels, samples / rate, 1, rate * channels, samples
    )
