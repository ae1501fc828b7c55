"""The two hashes of a master file, of all bytes and of the audio alone, in one read.

What counts as audio, so that a changed tag leaves the hash as it is:

========  ======================================================================================
FLAC      the frames: all after the last metadata block, without tags at the end
MP3, AAC  all between the tags at the front (ID3v2) and at the end (ID3v1, APEv2, Lyrics3). The
          Xing/Info frame is in: its delay and padding decide which samples are heard
MP4       the contents of every mdat box
Ogg       the packets of every stream without the comment packet (Ogg FLAC: without all metadata
          packets but the first, and without their number there), then each stream's last granule
          position, which says where the audio ends. Page headers are out
WAV       the fmt and data chunks       AIFF  the COMM and SSND chunks
WavPack   the blocks, without tags at either end; TTA and APE likewise
DSF       the fmt and data chunks       DFF   what says how the audio is coded, and the DSD chunk
WMA       the properties of the sound stream, and the packets
========  ======================================================================================

xxh3_128 guards against accident, not against malice. Memory does not grow with the file.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import BinaryIO

import xxhash

from syncd.errors import ItemProblem
from syncd.library.boxes import boxes, iff_chunks
from syncd.library.facts.asf import asf_payload
from syncd.library.facts.dsd import dff_parts, dsf_audio_start
from syncd.library.facts.flac import flac_audio_start
from syncd.library.masterfile import open_master, shown
from syncd.library.tagblocks import front_end, read_at, tail_start
from syncd.model import AudioHash, ContentHash, LibraryPath

_PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class Hashes:
    """xxh3_128 of a file's bytes and of its audio payload."""

    file: ContentHash
    audio: AudioHash


def hash_file(path: LibraryPath, container: str) -> Hashes:
    """Hash *path*, whose content is *container* (``AudioFacts.container``), reading it once.

    Raises ItemProblem when it cannot be read or holds no audio payload.
    """
    with open_master(path) as (file, size):
        whole, audio = xxhash.xxh3_128(), xxhash.xxh3_128()
        if container == "ogg":
            found = _hash_ogg(file, whole, audio)
        else:
            spans = list(payload_spans(file, size, container))
            found = sum(end - start for start, end in spans)
            _hash_spans(file, spans, whole, audio)
    if not found:
        raise ItemProblem(
            shown(path), f"{shown(path)} holds no audio; copy it again from its source."
        )
    return Hashes(ContentHash(whole.hexdigest()), AudioHash(audio.hexdigest()))


def payload_spans(file: BinaryIO, size: int, container: str) -> Iterator[tuple[int, int]]:
    """Start and end of each stretch of audio payload, in the order of the file (not for Ogg)."""
    if container == "mp4":
        for box in boxes(file, 0, size):
            if box.kind == b"mdat" and box.held:
                yield box.start, box.start + box.held
    elif container in ("wav", "aiff"):
        wanted = (b"fmt ", b"data") if container == "wav" else (b"COMM", b"SSND")
        for chunk in iff_chunks(file, size):
            if chunk.kind in wanted and chunk.held:
                yield chunk.start, chunk.start + chunk.held
    elif container == "dsf":
        start = dsf_audio_start()
        length = int.from_bytes(read_at(file, start - 8, 8), "little") - 12
        yield 28, min(size, start + max(0, length))
    elif container == "dff":
        properties, sound = dff_parts(file, size)
        parts = [*properties, *([sound] if sound else [])]
        yield from sorted((part.start, part.start + part.held) for part in parts if part.held)
    elif container == "asf":
        for found in asf_payload(file, size):
            if found is not None and found.held:
                yield found.start, found.start + found.held
    else:
        start = front_end(file, size)
        if container == "flac":
            start = 0 if read_at(file, 0, 4) == b"fLaC" else start
            start = flac_audio_start(file, start, size)
        end = tail_start(file, start, size)
        if start < end:
            yield start, end


def _hash_spans(
    file: BinaryIO, spans: list[tuple[int, int]], whole: xxhash.xxh3_128, audio: xxhash.xxh3_128
) -> None:
    buffer = memoryview(bytearray(_PIECE))
    position, current = 0, 0
    file.seek(0)
    while count := file.readinto(buffer):  # type: ignore[attr-defined]
        whole.update(buffer[:count])
        end = position + count
        while current < len(spans) and spans[current][0] < end:
            start, stop = spans[current]
            audio.update(buffer[max(start - position, 0) : min(stop, end) - position])
            if stop > end:
                break
            current += 1
        position = end


@dataclass(slots=True)
class _Stream:
    """Where one logical Ogg stream stands: packets begun, and what kind it is."""

    packet: int = 0
    at_start: bool = True
    kind: str = ""
    in_audio: bool = False
    granule: bytes = b""
    skip: bool = False
    order: int = field(default=0)


def _hash_ogg(file: BinaryIO, whole: xxhash.xxh3_128, audio: xxhash.xxh3_128) -> int:
    """Feed both hashes; returns how many bytes of audio packets there were."""
    streams: dict[bytes, _Stream] = {}
    pending = b""
    found = 0
    file.seek(0)
    while piece := file.read(_PIECE):
        whole.update(piece)
        data = pending + piece
        position = 0
        while True:
            page = _page(data, position)
            if page is None:
                break
            start, body, end = page
            if end > len(data):
                position = start
                break
            serial = data[start + 14 : start + 18]
            stream = streams.setdefault(serial, _Stream(order=len(streams)))
            found += _hash_page(stream, data, start, body, audio)
            position = end
        pending = data[position:]
        if len(pending) > 2 * 65_307:
            pending = pending[-3:]  # no page begins here: only a cut marker is kept
    for stream in streams.values():
        audio.update(stream.granule)
    return found


def _page(data: bytes, position: int) -> tuple[int, int, int] | None:
    """Start, body and end of the next page from *position*; the end may lie beyond the data."""
    start = data.find(b"OggS", position)
    if start < 0 or start + 27 > len(data):
        return None if start < 0 else (start, start, len(data) + 1)
    count = data[start + 26]
    body = start + 27 + count
    if body > len(data):
        return start, body, len(data) + 1
    return start, body, body + sum(data[start + 27 : body])


def _hash_page(stream: _Stream, data: bytes, start: int, body: int, audio: xxhash.xxh3_128) -> int:
    lacing = data[start + 27 : body]
    granule = data[start + 6 : start + 14]
    if granule != b"\xff" * 8:
        stream.granule = granule
    if stream.in_audio:
        # the ordinary page: packets one after another, all of them audio
        audio.update(memoryview(data)[body : body + sum(lacing)])
        return sum(lacing)
    found = 0
    position = body
    for length in lacing:
        segment = data[position : position + length]
        position += length
        if stream.at_start:
            _begin_packet(stream, segment)
        if not stream.skip:
            if stream.packet == 0 and stream.kind == "flac" and stream.at_start:
                segment = segment[:7] + segment[9:]  # without the number of metadata packets
            audio.update(segment)
            if _is_audio(stream):
                found += length
        stream.at_start = length < 255
        if stream.at_start:
            stream.packet += 1
    stream.in_audio = stream.at_start and _is_audio(stream) and stream.kind != "flac"
    return found


def _is_audio(stream: _Stream) -> bool:
    if stream.kind == "flac":
        return stream.packet > 0 and not stream.skip
    return stream.packet >= (3 if stream.kind == "vorbis" else 2)


def _begin_packet(stream: _Stream, segment: bytes) -> None:
    if stream.packet == 0:
        kinds = {b"\x01vorbis": "vorbis", b"OpusHea": "opus", b"\x7fFLAC\x01\0": "flac"}
        stream.kind = kinds.get(segment[:7], "other")
        stream.skip = False
    elif stream.kind == "flac":
        stream.skip = segment[:1] != b"\xff"  # metadata; frames begin with the sync code
    else:
        stream.skip = stream.packet == 1 and stream.kind in ("vorbis", "opus")
