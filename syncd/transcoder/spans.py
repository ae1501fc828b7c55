"""Where in a file its audio is: the span that is kept when the tags around it are replaced.

Read-only, and by the containers' own structure: FLAC metadata blocks (RFC 9639 section 8), ID3v2
and ID3v1, APEv2, RIFF and IFF chunks. Only heads and tails are read, never the audio.
"""

import os
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from syncd.library.mpeg import first_frame

_MOST_TAGS = 16
_SYNC = re.compile(rb"\xff[\xe0-\xff]")
_SYNC_WITHIN = 65536
_MOST_CHUNKS = 10_000
_MOST_CHUNK_BYTES = 1 << 20


class NotThisKind(Exception):
    """The file is not what it is said to be; the text says what was found."""


@dataclass(frozen=True, slots=True)
class Span:
    """The audio from byte ``start`` up to ``end``, and what belongs to it from the head.

    ``head`` is the container's own description of the audio (for FLAC the STREAMINFO, for WAV and
    AIFF the chunks that describe the samples).
    """

    start: int
    end: int
    head: bytes = b""

    @property
    def length(self) -> int:
        """Its bytes."""
        return self.end - self.start


def mpeg_span(file: BinaryIO) -> Span:
    """MP3 or AAC frames: what is between the tags at the front and at the end."""
    end = _tail(file, _length(file))
    start = _after_id3v2(file)
    file.seek(start)
    first = file.read(max(0, min(_SYNC_WITHIN, end - start)))
    if _SYNC.search(first) is None:
        raise NotThisKind("it holds no MPEG audio frame where the first should be")
    # Players find the first frame faster without the zeros that some taggers leave.
    start += len(first) - len(first.lstrip(b"\0"))
    return Span(start, end)


def mp3_span(file: BinaryIO) -> Span:
    """MP3 frames, from the first that others follow.

    What stands before it (an odd end of a cut stream, remains of a tag) is no frame, and small
    decoders that trust the first bytes stumble over it.
    """
    span = mpeg_span(file)
    found = first_frame(file, span.start, span.end)
    return span if found is None else Span(found[0], span.end)


def wavpack_span(file: BinaryIO) -> Span:
    """WavPack blocks: all but the tags at the end."""
    end = _tail(file, _length(file))
    file.seek(0)
    if file.read(4) != b"wvpk":
        raise NotThisKind("it does not begin with a WavPack block")
    return Span(0, end)


def flac_span(file: BinaryIO) -> Span:
    """FLAC frames; ``head`` is the STREAMINFO block's body."""
    at = _after_id3v2(file)
    file.seek(at)
    if file.read(4) != b"fLaC":
        raise NotThisKind("it does not begin with the letters fLaC")
    at += 4
    streaminfo = b""
    for number in range(_MOST_CHUNKS):
        head = file.read(4)
        if len(head) < 4:
            raise NotThisKind("its metadata blocks have no end")
        kind, size = head[0] & 0x7F, int.from_bytes(head[1:], "big")
        if number == 0:
            streaminfo = file.read(size) if kind == 0 and size == 34 else b""
            if len(streaminfo) != 34:
                raise NotThisKind("it has no STREAMINFO block")
        at += 4 + size
        file.seek(at)
        if head[0] & 0x80:
            end = _tail(file, _length(file))
            if at >= end:
                raise NotThisKind("it holds metadata and no audio")
            return Span(at, end, streaminfo)
    raise NotThisKind("it has more metadata blocks than any real file")


def flac_channel_mask(file: BinaryIO) -> str | None:
    """The value of WAVEFORMATEXTENSIBLE_CHANNEL_MASK among the comments, or None (RFC 9639 8.6.2).

    It describes the audio and not the music, so it survives new tags.
    """
    at = _after_id3v2(file) + 4
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        head = file.read(4)
        if len(head) < 4:
            return None
        size = int.from_bytes(head[1:], "big")
        if head[0] & 0x7F == 4:
            text = file.read(min(size, _MOST_CHUNK_BYTES)).upper()
            _, found, value = text.partition(b"WAVEFORMATEXTENSIBLE_CHANNEL_MASK=")
            number = value[:10].split(b"\0")[0].decode("ascii", "replace")
            digits = "".join(letter for letter in number[2:] if letter in "0123456789ABCDEF")
            return f"0x{digits}" if found and digits else None
        at += 4 + size
        if head[0] & 0x80:
            return None
    return None


def riff_span(file: BinaryIO) -> Span:
    """The samples of a WAV file; ``head`` holds the chunks that describe them."""
    file.seek(0)
    start = file.read(12)
    if start[:4] != b"RIFF" or start[8:] != b"WAVE":
        raise NotThisKind("it is not a RIFF file of the kind WAVE")
    described = b""
    for name, at, size in _chunks(file, "<I"):
        if name in (b"fmt ", b"fact"):
            described += _chunk(file, at, size)
        elif name == b"data":
            length = _length(file)
            if b"fmt " not in described:
                raise NotThisKind("its samples come before their description")
            # A recorder that was cut off leaves 0 or all ones as the size.
            end = length if size in (0, 0xFFFFFFFF) else min(at + 8 + size, length)
            return Span(at + 8, end, described)
    raise NotThisKind("it has no chunk with samples")


def aiff_span(file: BinaryIO) -> Span:
    """The samples of an AIFF file; ``head`` is its kind and the chunks that describe them."""
    file.seek(0)
    start = file.read(12)
    kind = start[8:]
    if start[:4] != b"FORM" or kind not in (b"AIFF", b"AIFC"):
        raise NotThisKind("it is not an IFF file of the kind AIFF")
    described, samples = b"", None
    for name, at, size in _chunks(file, ">I"):
        if name in (b"COMM", b"FVER"):
            described += _chunk(file, at, size)
        elif name == b"SSND":
            samples = (at + 8, min(at + 8 + size, _length(file)))
    if samples is None or b"COMM" not in described:
        raise NotThisKind("it has no chunk with samples, or none that describes them")
    return Span(*samples, kind + described)


def _chunks(file: BinaryIO, size_form: str) -> Iterator[tuple[bytes, int, int]]:
    at = 12
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        head = file.read(8)
        if len(head) < 8:
            return
        size = struct.unpack(size_form, head[4:])[0]
        yield head[:4], at, size
        at += 8 + size + size % 2


def _chunk(file: BinaryIO, at: int, size: int) -> bytes:
    if size > _MOST_CHUNK_BYTES:
        raise NotThisKind("a chunk that should be small is huge")
    file.seek(at)
    return file.read(8 + size) + b"\0" * (size % 2)


def _length(file: BinaryIO) -> int:
    return file.seek(0, os.SEEK_END)


def _after_id3v2(file: BinaryIO) -> int:
    at = 0
    for _ in range(_MOST_TAGS):
        file.seek(at)
        head = file.read(10)
        if len(head) < 10 or head[:3] != b"ID3":
            break
        size = 0
        for byte in head[6:10]:
            size = size << 7 | byte & 0x7F
        at += 10 + size + (10 if head[5] & 0x10 else 0)
    return at


def _tail(file: BinaryIO, end: int) -> int:
    """Where the audio ends before ID3v1, APEv2 and Lyrics3 blocks, in whatever order they come."""
    for _ in range(_MOST_TAGS):
        shorter = _before_one_tag(file, end)
        if shorter == end:
            break
        end = shorter
    return end


def _before_one_tag(file: BinaryIO, end: int) -> int:
    if end >= 128 and _read(file, end - 128, 3) == b"TAG":
        return end - 128
    if end >= 32:
        footer = _read(file, end - 32, 32)
        if footer[:8] == b"APETAGEX":
            size = int.from_bytes(footer[12:16], "little")
            flags = int.from_bytes(footer[20:24], "little")
            total = size + (32 if flags & 0x80000000 else 0)
            if 32 <= total <= end:
                return end - total
    if end >= 15 and _read(file, end - 9, 9) == b"LYRICS200":
        digits = _read(file, end - 15, 6)
        if digits.isdigit() and int(digits) + 15 <= end:
            start = end - 15 - int(digits)
            if _read(file, start, 11) == b"LYRICSBEGIN":
                return start
    return end


def _read(file: BinaryIO, at: int, size: int) -> bytes:
    file.seek(at)
    return file.read(size)
