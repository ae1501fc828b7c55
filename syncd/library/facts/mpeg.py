"""Audio facts of MPEG audio streams: layers III and II, and AAC in ADTS frames.

Layer II has no information frame: its length is estimated, and a cut cannot be told."""

from typing import BinaryIO

from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.lazy import mutagen
from syncd.library.mpeg import first_frame, info_frame, is_free_format, rate_varies
from syncd.library.tagblocks import front_end, read_at, tail_start
from syncd.model import AudioFacts, Codec


def mp3_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """An MPEG stream's first frame and, in layer III, its information frame if it has one."""
    front = front_end(file, size)
    end = tail_start(file, front, size)
    found = first_frame(file, front, end)
    if found is None and is_free_format(file, front, end):
        raise damaged(
            path,
            "is an MP3 of free format (its headers give no bit rate), which ffmpeg does not "
            "decode; make it again at a bit rate that the standard names",
        )
    if found is None:
        raise damaged(path, "holds no MP3 frames; copy it again from its source")
    position, header = found
    if header.layer == 1:
        raise damaged(
            path,
            f"holds MPEG audio of layer {header.layer}, which syncd does not read; "
            "convert it to FLAC or MP3",
        )
    codec = Codec.MP3 if header.layer == 3 else Codec.MP2
    info = info_frame(file, position, header) if codec is Codec.MP3 else None
    held = end - position
    rate, samples, bitrate = header.sample_rate_hz, None, header.bitrate_bps
    if info is not None and info.frames:
        # some encoders count the tags as well, so a claim that the whole file meets is no proof
        if info.bytes and info.bytes > max(held + header.length, size):
            raise cut_off(
                path, f"its header promises {info.bytes} bytes of audio, {held} are there"
            )
        coded = info.frames * header.samples
        if info.delay is not None and info.padding is not None:
            samples = coded - info.delay - info.padding
            samples = samples if samples > 0 else None
        duration = (samples or coded) / rate
        bitrate = round((info.bytes or held) * 8 * rate / coded)
    else:
        other = mutagen("mp3").MPEGInfo(file, position)
        duration, bitrate = float(other.length), int(other.bitrate)
    variable = not info.constant_rate if info is not None else rate_varies(file, position, end)
    return AudioFacts(
        "mp3", codec, rate, header.channels, duration, None, bitrate, samples, variable=variable
    )


def adts_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """An AAC stream in ADTS frames; its length is an estimate."""
    file.seek(0)
    info = mutagen("aac").AAC(file).info
    # A core of up to 24 kHz may carry a hidden band that doubles the rate (HE): it does not tell.
    profile = _ADTS_OBJECT_TYPES[_adts_object_type(file, size)] if info.sample_rate > 24000 else ""
    return AudioFacts(
        "aac",
        Codec.AAC,
        info.sample_rate,
        info.channels,
        float(info.length),
        None,
        int(info.bitrate),
        None,
        profile,
    )


_ADTS_OBJECT_TYPES = ("Main", "LC", "SSR", "LTP")
"""By the two bits of an ADTS header (ISO/IEC 13818-7 and 14496-3 annex 1.A)."""


def _adts_object_type(file: BinaryIO, size: int) -> int:
    window = read_at(file, front_end(file, size), 4096)
    at = window.find(b"\xff")
    while 0 <= at < len(window) - 2 and window[at + 1] & 0xF6 != 0xF0:
        at = window.find(b"\xff", at + 1)
    return window[at + 2] >> 6 if 0 <= at < len(window) - 2 else 1
