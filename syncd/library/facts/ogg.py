"""Audio facts of Ogg files: Vorbis, Opus (RFC 7845 §4) or FLAC, their length by the last page."""

from typing import Any, BinaryIO

from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.lazy import mutagen
from syncd.library.tagblocks import read_at
from syncd.model import AudioFacts, Codec


def ogg_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The first stream of an Ogg file: Vorbis, Opus or FLAC."""
    head = read_at(file, 0, 27 + 255 + 16)
    packet = head[27 + head[26] :] if len(head) > 27 else b""
    info: Any
    file.seek(0)
    if packet[:7] == b"\x01vorbis":
        info = _with_length(mutagen("oggvorbis").OggVorbisInfo(file), file)
        rate, codec, bits = info.sample_rate, Codec.VORBIS, None
    elif packet[:8] == b"OpusHead":
        info = _with_length(mutagen("oggopus").OggOpusInfo(file), file)
        rate, codec, bits = 48000, Codec.OPUS, None
    elif packet[:5] == b"\x7fFLAC":
        info = _with_length(mutagen("oggflac").OggFLACStreamInfo(file), file)
        rate, codec, bits = info.sample_rate, Codec.FLAC, info.bits_per_sample
    else:
        raise damaged(
            path, "is an Ogg file without Vorbis, Opus or FLAC audio at its front; convert it"
        )
    block = variable = None
    if codec is Codec.VORBIS:
        block = 1 << (packet[28] >> 4)  # Vorbis I specification, 4.2.2: the longer of the two
        least, most = (int.from_bytes(packet[at : at + 4], "little") for at in (24, 16))
        variable = not 0 < least == most
    elif codec is Codec.FLAC:
        # The mapping has 17 bytes before STREAMINFO's body, its block header among them.
        block = int.from_bytes(packet[19:21], "big") or None
        variable = packet[17:19] != packet[19:21]
    elif codec is Codec.OPUS:
        variable = _packets_differ(file, size)
    last = _last_page_end(file, size)
    if last is None or last > size:
        raise cut_off(path, "its last Ogg page is not whole")
    duration = float(info.length)
    if duration <= 0:
        raise cut_off(path, "it holds headers but no audio")
    samples = round(duration * rate)
    bitrate = round(size * 8 / duration)
    return AudioFacts(
        "ogg", codec, rate, info.channels, duration, bits, bitrate, samples,
        variable=variable,
        block_samples=block,
    )  # fmt: skip


def _with_length(info: Any, file: BinaryIO) -> Any:
    info._post_tags(file)  # the length, from the granule of the last page
    return info


def _packets_differ(file: BinaryIO, size: int) -> bool | None:
    """Whether packets around the middle of the file have several lengths, None with too few.

    Only packets whole within a page count; the last one of a page may go on in the next.
    """
    start = size // 2 if size > 131_072 else 0
    window = read_at(file, start, 131_072)
    lengths: list[int] = []
    at = window.find(b"OggS")
    while 0 <= at < len(window) - 27:
        lacing = window[at + 27 : at + 27 + window[at + 26]]
        whole: list[int] = []
        length = 0
        for value in lacing:
            length += value
            if value < 255:
                whole.append(length)
                length = 0
        headers = start + at == 0 or window[at + 6 : at + 14] == bytes(8)  # position 0: no audio
        if not headers:
            lengths += whole[1:] if window[at + 5] & 1 else whole
        at = window.find(b"OggS", at + 27 + len(lacing) + sum(lacing))
    # An encoder of constant rate may still end with a shorter packet.
    return len(set(lengths[:-1])) > 1 if len(lengths) > 2 else None


def _last_page_end(file: BinaryIO, size: int) -> int | None:
    """Where the last Ogg page ends by its own lacing values; a page is 65,307 bytes at most."""
    window_start = max(0, size - 65_307 - 27)
    window = read_at(file, window_start, size - window_start)
    at = window.rfind(b"OggS")
    while at >= 0:
        count = window[at + 26] if at + 26 < len(window) else 0
        lacing = window[at + 27 : at + 27 + count]
        if window[at + 4 : at + 5] in (b"\0", b"") and window[at + 5 : at + 6] < b"\x08":
            whole = len(lacing) == count and at + 27 <= len(window)
            return window_start + at + 27 + count + sum(lacing) if whole else size + 1
        at = window.rfind(b"OggS", 0, at)
    return None
