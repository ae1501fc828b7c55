"""Audio facts of ASF files (.wma): versions 1 and 2, Professional, Lossless and Voice.

ASF states times, not samples: the length is the play duration less the preroll, as the encoder
rounded it, and ``samples`` stays None. Source: the published Advanced Systems Format specification
(rev. 01.20) §3 and §5; format tags as registered; partly from memory.
"""

from typing import BinaryIO
from uuid import UUID

from syncd.library.boxes import Chunk, asf_objects
from syncd.library.facts.refusals import cut_off, damaged
from syncd.library.tagblocks import read_at
from syncd.model import AudioFacts, Codec

DATA = UUID("75b22636-668e-11cf-a6d9-00aa0062ce6c").bytes_le
_FILE_PROPERTIES = UUID("8cabdca1-a947-11cf-8ee4-00c00c205365").bytes_le
_STREAM_PROPERTIES = UUID("b7dc0791-a9b7-11cf-8ee6-00c00c205365").bytes_le
_AUDIO = UUID("f8699e40-5b4d-11cf-a8fd-00805f5c442b").bytes_le
_ENCRYPTION = (
    UUID("2211b3fb-bd23-11d2-b4b7-00a0c955fc6e").bytes_le,
    UUID("298ae614-2622-4c17-b935-dae07ee9289c").bytes_le,
    UUID("43058533-6981-49e6-9b74-ad12cb86d58c").bytes_le,  # the advanced form
)
_KINDS = {
    0x000A: (Codec.WMA, "voice"),
    0x0160: (Codec.WMA, "1"),
    0x0161: (Codec.WMA, "2"),
    0x0162: (Codec.WMA, "pro"),
    0x0163: (Codec.WMA_LOSSLESS, ""),
}
_DATA_HEAD = 26  # file id, number of packets, reserved: what stands before the packets


def asf_facts(file: BinaryIO, size: int, path: str) -> AudioFacts:
    """The file and stream properties of an ASF file's first sound stream."""
    objects = asf_header(file, size)
    if any(found.kind in _ENCRYPTION for found in objects):
        raise damaged(path, "is encrypted by its seller; replace it by an unencrypted copy")
    stream, data = asf_payload(file, size)
    properties = next((one for one in objects if one.kind == _FILE_PROPERTIES), None)
    if stream is None or properties is None:
        raise cut_off(path, "its header lacks the description of a sound stream")
    if data is None:
        raise cut_off(path, "it has an ASF header but no audio after it")
    raw = read_at(file, stream.start, min(stream.held, 54 + 18))
    if len(raw) < 54 + 16:
        raise cut_off(path, "the description of its sound stream is not whole")
    if int.from_bytes(raw[48:50], "little") & 0x8000:
        raise damaged(path, "is encrypted by its seller; replace it by an unencrypted copy")
    form = raw[54:]
    tag, channels = int.from_bytes(form[:2], "little"), int.from_bytes(form[2:4], "little")
    rate, per_second = int.from_bytes(form[4:8], "little"), int.from_bytes(form[8:12], "little")
    bits = int.from_bytes(form[14:16], "little")
    kind = _KINDS.get(tag)
    if kind is None:
        raise damaged(
            path, f"is an ASF file with sound of the kind {tag:#06x}, not WMA; convert it to FLAC"
        )
    duration, broadcast = _duration_s(read_at(file, properties.start, 68))
    if data.truncated and not broadcast:
        raise cut_off(path, f"{data.size - data.held} bytes of its audio are missing")
    if rate == 0 or channels == 0 or duration <= 0:
        raise damaged(path, "has an ASF header without rate, channels or length; make it again")
    codec, profile = kind
    lossless = codec is Codec.WMA_LOSSLESS
    bitrate = per_second * 8 or round(data.held * 8 / duration)
    return AudioFacts(
        "asf", codec, rate, channels, duration, bits if lossless else None, bitrate, None, profile
    )


def asf_header(file: BinaryIO, size: int) -> list[Chunk]:
    """The objects inside the header object at the front."""
    length = int.from_bytes(read_at(file, 16, 8), "little")
    return list(asf_objects(file, 30, min(length, size)))


def asf_payload(file: BinaryIO, size: int) -> tuple[Chunk | None, Chunk | None]:
    """The properties of the first sound stream, and the data packets."""
    stream = next(
        (
            found
            for found in asf_header(file, size)
            if found.kind == _STREAM_PROPERTIES and read_at(file, found.start, 16) == _AUDIO
        ),
        None,
    )
    for found in asf_objects(file, 0, size):
        if found.kind == DATA and found.held > _DATA_HEAD:
            head = _DATA_HEAD
            return stream, Chunk(DATA, found.start + head, found.size - head, found.held - head)
    return stream, None


def _duration_s(raw: bytes) -> tuple[float, bool]:
    """Seconds of sound, and whether the file is a broadcast, whose sizes mean little."""
    if len(raw) < 68:
        return 0.0, False
    ticks, preroll_ms = int.from_bytes(raw[40:48], "little"), int.from_bytes(raw[56:64], "little")
    return ticks / 1e7 - preroll_ms / 1e3, bool(raw[64] & 1)
