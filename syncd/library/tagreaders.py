"""Reading the tag blocks of each container: values under Vorbis names, and the embedded picture.

One function a container, all of the same form. What the names become is ``tagnames``' affair;
guarding against what a broken file makes a parser raise is ``tags``'.
"""

import base64
import contextlib
import io
import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, BinaryIO

from syncd.library import tagnames
from syncd.library.boxes import iff_chunks, wide_chunks
from syncd.library.cuesheet import BlockTrack
from syncd.library.facts.mp4 import sample_count_text
from syncd.library.lazy import mutagen
from syncd.library.tagblocks import read_at
from syncd.library.tagnames import TagValues

_LARGEST_TAG_CHUNK = 64 * 1024 * 1024
_FRONT_COVER = 3  # picture type, ID3v2.4.0 §4.14 and RFC 9639 §8.8


@dataclass(slots=True)
class Picture:
    """The best embedded picture so far: the first front cover, else the first of any kind."""

    data: bytes | None = None
    front: bool = False

    def offer(self, data: bytes, kind: int) -> None:
        if data and (self.data is None or (kind == _FRONT_COVER and not self.front)):
            self.data, self.front = bytes(data), kind == _FRONT_COVER


TagReader = Callable[[BinaryIO, int, TagValues, Picture], None]


def _flac_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    file.seek(0)
    whole = mutagen("flac").FLAC(file)
    tagnames.from_vorbis(whole.tags or (), values)
    _vorbis_pictures(whole.tags or (), picture)
    for block in whole.pictures:
        if block.mime != "-->":  # a link to a picture elsewhere is never followed
            picture.offer(block.data, block.type)
    if whole.cuesheet is not None:
        values.sheet_block = _block_tracks(whole.cuesheet)
    if not whole.tags:
        _id3_at_front(file, size, values, picture)


def _block_tracks(sheet: Any) -> tuple[BlockTrack, ...]:
    """The tracks of a CUESHEET block but for the lead-out, which is 170 or 255 (RFC 9639 §8.7)."""
    found = []
    for track in sheet.tracks:
        if track.track_number in (170, 255) or not track.indexes:
            continue
        offsets = {point.index_number: point.index_offset for point in track.indexes}
        start = track.start_offset + offsets.get(1, min(offsets.values()))
        if start >= 2**36:  # more than STREAMINFO can promise: RFC 9639 §8.2
            continue
        isrc = bytes(track.isrc).decode("latin-1").strip("\0 ")
        number, audio, emphasis = track.track_number, track.type == 0, bool(track.pre_emphasis)
        found.append(BlockTrack(number, start, audio, emphasis, isrc))
    return tuple(found)


def _vorbis_pictures(pairs: Any, picture: Picture) -> None:
    for name, value in pairs:
        if name.upper() not in ("METADATA_BLOCK_PICTURE", "COVERART"):
            continue
        try:
            raw = base64.b64decode(value)
            if name.upper() == "COVERART":
                picture.offer(raw, 0)
            else:
                block = mutagen("flac").Picture(raw)
                if block.mime != "-->":
                    picture.offer(block.data, block.type)
        except (ValueError, struct.error, mutagen("flac").error):
            continue  # a broken picture costs the picture, not the file


def _id3_at_front(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    """ID3v2, or ID3v1 where there is none."""
    file.seek(0)
    try:
        _take_id3(mutagen("id3").ID3(file), values, picture)
    except mutagen("id3").ID3NoHeaderError:
        return


def _take_id3(tags: Any, values: TagValues, picture: Picture) -> None:
    tagnames.from_id3(tags, values)
    for frame in tags.getall("APIC"):
        if frame.mime != "-->":
            picture.offer(frame.data, int(frame.type))


def _mp3_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    try:
        _id3_at_front(file, size, values, picture)
    finally:
        extra = TagValues()
        _ape_tags(file, size, extra, picture)
        values.fill_from(extra)


def _ape_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    file.seek(0)
    try:
        tags = mutagen("apev2").APEv2(file)
    except mutagen("apev2").APENoHeaderError:
        return
    tagnames.from_ape(tags, values)
    for key, item in tags.items():
        if key.lower().startswith("cover art") and getattr(item, "kind", None) == 1:
            _, _, data = bytes(item.value).partition(b"\0")  # a file name stands before the data
            picture.offer(data, _FRONT_COVER if "front" in key.lower() else 0)


def _framed_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    _ape_tags(file, size, values, picture)
    if not values.values():
        _id3_at_front(file, size, values, picture)


def _ogg_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    head = read_at(file, 0, 27 + 255 + 16)
    packet = head[27 + head[26] :]
    kind = "oggflac"
    if packet[1:7] == b"vorbis":
        kind = "oggvorbis"
    elif packet[:4] == b"Opus":
        kind = "oggopus"
    file.seek(0)
    opened = mutagen(kind)
    names = {"oggflac": "OggFLAC", "oggvorbis": "OggVorbis", "oggopus": "OggOpus"}
    tags = getattr(opened, names[kind])(file).tags or ()
    tagnames.from_vorbis(tags, values)
    _vorbis_pictures(tags, picture)


def _mp4_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    file.seek(0)
    tags = mutagen("mp4").MP4(file).tags or {}
    kept = {
        key: value
        for key, value in tags.items()
        if not (
            key.startswith("----")
            and any(sample_count_text(bytes(part).decode("latin-1")) for part in value)
        )
    }
    tagnames.from_mp4(kept, values)
    for cover in tags.get("covr", ()):
        picture.offer(bytes(cover), _FRONT_COVER)


def _chunk_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    """WAV (id3 chunk, RIFF INFO) and AIFF (ID3 chunk, NAME, AUTH ...)."""
    own = TagValues()
    for chunk in iff_chunks(file, size):
        if chunk.held > _LARGEST_TAG_CHUNK:
            continue
        if chunk.kind.lower() == b"id3 ":
            _id3_in(read_at(file, chunk.start, chunk.held), values, picture)
        elif chunk.kind == b"LIST" and read_at(file, chunk.start, 4) == b"INFO":
            _info_list(read_at(file, chunk.start + 4, chunk.held - 4), own)
        elif chunk.kind in tagnames.AIFF_NAMES:
            text = tagnames.legacy_text(read_at(file, chunk.start, chunk.held))
            own.add(tagnames.AIFF_NAMES[chunk.kind], text)
    values.fill_from(own)


def _info_list(raw: bytes, values: TagValues) -> None:
    position = 0
    while position + 8 <= len(raw):
        kind = raw[position : position + 4].decode("latin-1")
        length = int.from_bytes(raw[position + 4 : position + 8], "little")
        text = tagnames.legacy_text(raw[position + 8 : position + 8 + length])
        values.add(tagnames.INFO_NAMES.get(kind, kind), text)
        position += 8 + length + (length & 1)


def _dsf_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    """The ID3v2 tag that the first chunk points to."""
    start = int.from_bytes(read_at(file, 20, 8), "little")
    if start:
        _id3_in(
            read_at(file, start, min(max(0, size - start), _LARGEST_TAG_CHUNK)), values, picture
        )


def _dff_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    """The ID3 chunk of a DSDIFF file, and the title and artist of its edited master's notes."""
    own = TagValues()
    for chunk in wide_chunks(file, 16, size):
        if chunk.kind == b"ID3 " and chunk.held <= _LARGEST_TAG_CHUNK:
            _id3_in(read_at(file, chunk.start, chunk.held), values, picture)
        elif chunk.kind == b"DIIN":
            for part in wide_chunks(file, chunk.start, chunk.start + chunk.held):
                name = {b"DITI": "TITLE", b"DIAR": "ARTIST"}.get(part.kind)
                if name:
                    raw = read_at(file, part.start, min(part.held, 4 * tagnames.LONGEST_VALUE))
                    own.add(name, tagnames.legacy_text(raw[4:]))
    values.fill_from(own)


def _id3_in(raw: bytes, values: TagValues, picture: Picture) -> None:
    with contextlib.suppress(mutagen("id3").ID3NoHeaderError):
        _take_id3(mutagen("id3").ID3(io.BytesIO(raw)), values, picture)


def _asf_tags(file: BinaryIO, size: int, values: TagValues, picture: Picture) -> None:
    file.seek(0)
    tags = mutagen("asf").ASF(file).tags or ()
    tagnames.from_asf(tags, values)
    for name, value in tags:
        if name == "WM/Picture":
            _asf_picture(bytes(value.value), picture)


def _asf_picture(raw: bytes, picture: Picture) -> None:
    """Kind, length of the data, media type and description in UTF-16, then the data."""
    length = int.from_bytes(raw[1:5], "little")
    if raw and 0 < length <= len(raw) - 5:
        picture.offer(raw[-length:], raw[0])


TAG_READERS: dict[str, TagReader] = {
    "flac": _flac_tags,
    "mp3": _mp3_tags,
    "aac": _mp3_tags,
    "ogg": _ogg_tags,
    "mp4": _mp4_tags,
    "wav": _chunk_tags,
    "aiff": _chunk_tags,
    "wavpack": _framed_tags,
    "tta": _mp3_tags,
    "ape": _framed_tags,
    "asf": _asf_tags,
    "dsf": _dsf_tags,
    "dff": _dff_tags,
}
