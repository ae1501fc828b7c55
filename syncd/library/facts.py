"""Audio facts from the headers of each container: codec, rate, channels, exact sample count.

Reads headers only. ``samples`` is given where the container says it to the sample and None where
it does not; what a decoder really delivers is for the transcoder's inspection. A file whose header
promises more audio than the file holds is refused as truncated. Sources: FLAC RFC 9639 §8.2; Opus
RFC 7845 §4; WAV RIFF and EBU Tech 3306; AIFF 1.3 (COMM, 80-bit rate); WavPack 4/5 block header and
MP4 edit lists (ISO/IEC 14496-12 §8.6.6) partly from memory.
"""

import re
from collections.abc import Callable
from typing import Any, BinaryIO

from syncd.errors import ItemProblem
from syncd.library.boxes import Chunk, box_at, boxes, iff_chunks
from syncd.library.flactail import reaches_its_end
from syncd.library.lazy import mutagen
from syncd.library.masterfile import shown
from syncd.library.mpeg import first_frame, info_frame
from syncd.library.tagblocks import front_end, read_at, tail_start
from syncd.model import AudioFacts, Codec

Reader = Callable[[BinaryIO, int, str], AudioFacts]

TRUNCATED = "is cut off: {detail}; copy it again from its source"


def damaged(path: str, what: str) -> ItemProblem:
    """An ItemProblem whose sentence is the file's name followed by *what*."""
    return ItemProblem(shown(path), f"{shown(path)} {what}.")


def _cut_off(path: str, detail: str) -> ItemProblem:
    return damaged(path, TRUNCATED.format(detail=detail))


def flac_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """STREAMINFO of a FLAC file, whose last frame must be there and whole."""
    start = front_end(file, size) if read_at(file, 0, 3) == b"ID3" else 0
    raw = read_at(file, start, 42)
    if len(raw) < 42 or raw[4] & 0x7F != 0:
        raise _cut_off(path, "it ends within its header")
    packed = int.from_bytes(raw[18:26], "big")
    rate, channels = packed >> 44, (packed >> 41 & 7) + 1
    bits, total = (packed >> 36 & 31) + 1, packed & 0xF_FFFF_FFFF
    if rate == 0:
        raise damaged(path, "has a FLAC header without a sample rate; make the file again")
    audio = flac_audio_start(file, start, size)
    end = tail_start(file, audio, size)
    if audio >= end:
        raise _cut_off(path, "it has a FLAC header but no audio after it")
    if total and not reaches_its_end(file, audio, end, raw[8:42], total):
        raise _cut_off(path, f"its header promises {total} samples and the file ends before them")
    duration = total / rate
    bitrate = round((end - audio) * 8 / duration) if duration else None
    return AudioFacts("flac", Codec.FLAC, rate, channels, duration, bits, bitrate, total or None)


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


def mp3_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """An MP3 stream's first frame and its information frame, if it has one."""
    front = front_end(file, size)
    end = tail_start(file, front, size)
    found = first_frame(file, front, end)
    if found is None:
        raise damaged(path, "holds no MP3 frames; copy it again from its source")
    position, header = found
    if header.layer != 3:
        raise damaged(
            path,
            f"holds MPEG audio of layer {header.layer}, which syncd does not read; "
            "convert it to FLAC or MP3",
        )
    info = info_frame(file, position, header)
    held = end - position
    rate, samples, bitrate = header.sample_rate_hz, None, header.bitrate_bps
    if info is not None and info.frames:
        # some encoders count the tags as well, so a claim that the whole file meets is no proof
        if info.bytes and info.bytes > max(held + header.length, size):
            raise _cut_off(
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
    return AudioFacts("mp3", Codec.MP3, rate, header.channels, duration, None, bitrate, samples)


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
    last = _last_page_end(file, size)
    if last is None or last > size:
        raise _cut_off(path, "its last Ogg page is not whole")
    duration = float(info.length)
    if duration <= 0:
        raise _cut_off(path, "it holds headers but no audio")
    samples = round(duration * rate)
    bitrate = round(size * 8 / duration)
    return AudioFacts("ogg", codec, rate, info.channels, duration, bits, bitrate, samples)


def _with_length(info: Any, file: BinaryIO) -> Any:
    info._post_tags(file)  # the length, from the granule of the last page
    return info


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
            raise _cut_off(path, f"{box.size - box.held} bytes of its media data are missing")
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


_PCM_IN_AIFC = {
    b"NONE": "", b"twos": "", b"sowt": "", b"raw ": "", b"in24": "", b"in32": "",
    b"fl32": "float", b"FL32": "float", b"fl64": "float", b"FL64": "float",
}  # fmt: skip


def wav_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The fmt and data chunks of a WAV or RF64 file with PCM."""
    chunks = {chunk.kind: chunk for chunk in reversed(iff_chunks(file, size))}
    layout, data = chunks.get(b"fmt "), chunks.get(b"data")
    if layout is None or layout.held < 16 or data is None:
        raise _cut_off(path, "a WAV file needs a format and a data chunk and one is missing")
    raw = read_at(file, layout.start, min(layout.held, 40))
    form, channels = int.from_bytes(raw[:2], "little"), int.from_bytes(raw[2:4], "little")
    rate, align = int.from_bytes(raw[4:8], "little"), int.from_bytes(raw[12:14], "little")
    bits = int.from_bytes(raw[14:16], "little")
    if form == 0xFFFE and len(raw) >= 26:
        form = int.from_bytes(raw[24:26], "little")
    if form not in (1, 3):
        raise damaged(
            path, f"is a WAV file with coded audio (format {form}), not PCM; convert it to FLAC"
        )
    if data.truncated:
        raise _cut_off(path, f"{data.size - data.held} bytes of its audio are missing")
    if rate == 0 or channels == 0 or align == 0:
        raise damaged(path, "has a WAV header without rate or channels; make the file again")
    frames = data.held // align
    if frames == 0:
        raise _cut_off(path, "it has a WAV header but no audio after it")
    profile = "float" if form == 3 else ""
    return AudioFacts(
        "wav", Codec.PCM, rate, channels, frames / rate, bits, rate * align * 8, frames, profile
    )


def aiff_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The COMM chunk of an AIFF or AIFF-C file with PCM."""
    chunks = {chunk.kind: chunk for chunk in reversed(iff_chunks(file, size))}
    common, sound = chunks.get(b"COMM"), chunks.get(b"SSND")
    if common is None or common.held < 18 or sound is None:
        raise _cut_off(path, "an AIFF file needs a COMM and an SSND chunk and one is missing")
    raw = read_at(file, common.start, min(common.held, 22))
    channels, frames = int.from_bytes(raw[:2], "big"), int.from_bytes(raw[2:6], "big")
    bits, rate = int.from_bytes(raw[6:8], "big"), round(_extended(raw[8:18]))
    kind = raw[18:22] if read_at(file, 8, 4) == b"AIFC" else b"NONE"
    if kind not in _PCM_IN_AIFC:
        name = kind.decode("latin-1")
        raise damaged(path, f"is an AIFF-C file with coded audio ({name}), not PCM; convert it")
    if sound.truncated:
        raise _cut_off(path, f"{sound.size - sound.held} bytes of its audio are missing")
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
            raise _cut_off(path, "it ends within its first blocks")
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
        raise _cut_off(path, f"its header promises {total} samples and the file ends before them")
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


READERS: dict[str, Reader] = {
    "flac": flac_facts,
    "mp3": mp3_facts,
    "aac": adts_facts,
    "ogg": ogg_facts,
    "mp4": mp4_facts,
    "wav": wav_facts,
    "aiff": aiff_facts,
    "wavpack": wavpack_facts,
}
