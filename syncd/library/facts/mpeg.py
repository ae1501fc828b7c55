"""Audio facts of MPEG audio streams: layers III and II, and AAC in ADTS frames.

Layer II has no information frame: its length is estimated, and a cut cannot be told."""

from typing import BinaryIO

from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.lazy import mutagen
from syncd.library.mpeg import first_frame, info_frame
from syncd.library.tagblocks import front_end, tail_start
from syncd.model import AudioFacts, Codec


def mp3_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """An MPEG stream's first frame and, in layer III, its information frame if it has one."""
    front = front_end(file, size)
    end = tail_start(file, front, size)
    found = first_frame(file, front, end)
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
    return AudioFacts("mp3", codec, rate, header.channels, duration, None, bitrate, samples)


def adts_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """An AAC stream in ADTS frames; its length is an estimate."""
    file.seek(0)
    info = mutagen("aac").AAC(file).info
    return AudioFacts(
        "aac",
        Codec.AAC,
        info.sample_rate,
        info.channels,
        float(info.length),
        None,
        int(info.bitrate),
        None,
    )
