"""One file read: what it is, its audio facts, its tag values, its embedded picture.

The port to mutagen: whatever that library raises on a broken file ends here as an ItemProblem.
Hashing is for ``audiohash``, the meaning of the values for the works engine.
"""

import base64
import io
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any, BinaryIO

import xxhash

from syncd.errors import ItemProblem
from syncd.library import facts, tagnames
from syncd.library.boxes import iff_chunks
from syncd.library.kinds import CONTAINER_NAMES, FOREIGN_SUFFIXES, promised_container
from syncd.library.lazy import mutagen
from syncd.library.masterfile import open_master, shown
from syncd.library.sniff import container_of
from syncd.library.tagblocks import read_at
from syncd.library.tagnames import TagValues
from syncd.model import AudioFacts, ContentHash, LibraryPath

_LARGEST_TAG_CHUNK = 64 * 1024 * 1024
_FRONT_COVER = 3  # picture type, ID3v2.4.0 §4.14 and RFC 9639 §8.8


@dataclass(frozen=True, slots=True)
class FileReading:
    """What one master file says of itself.

    ``art`` is the hash of the embedded picture, None without one. ``notes`` are sentences about
    what was odd but did not hinder reading.
    """

    audio: AudioFacts
    tags: dict[str, tuple[str, ...]]
    art: ContentHash | None
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Picture:
    """The best embedded picture so far: the first front cover, else the first of any kind."""

    data: bytes | None = None
    front: bool = False

    def offer(self, data: bytes, kind: int) -> None:
        if data and (self.data is None or (kind == _FRONT_COVER and not self.front)):
            self.data, self.front = bytes(data), kind == _FRONT_COVER


_TagReader = Callable[[BinaryIO, int, TagValues, _Picture], None]


def read_file(path: LibraryPath) -> FileReading:
    """Read the headers and tags of *path*; the audio itself is not read.

    The content decides what the file is; a suffix that says something else becomes a note. Raises
    ItemProblem, with a full sentence, for whatever is not audio that syncd reads.
    """
    audio, tags, picture, notes = _read(path)
    art = None if picture is None else ContentHash(xxhash.xxh3_128_hexdigest(picture))
    return FileReading(audio, tags, art, notes)


def embedded_picture(path: LibraryPath) -> bytes | None:
    """The bytes of the picture whose hash ``read_file`` gives as ``art``, None without one.

    Raises ItemProblem as read_file does.
    """
    return _read(path)[2]


def _read(
    path: LibraryPath,
) -> tuple[AudioFacts, dict[str, tuple[str, ...]], bytes | None, tuple[str, ...]]:
    with open_master(path) as (file, size):
        container = _recognise(file, size, path)
        audio = _guarded(path, "audio", lambda: facts.READERS[container](file, size, path))
        assert isinstance(audio, AudioFacts)
        notes = []
        promised = promised_container(path)
        if promised != container:
            suffix = PurePath(shown(path)).suffix or "without a suffix"
            notes.append(
                f"{shown(path)} is named {suffix} but its content is {CONTAINER_NAMES[container]}; "
                f"it is read as that. Rename it if other programs stumble over it."
            )
        values, picture = TagValues(), _Picture()
        try:
            _guarded(path, "tags", lambda: _TAG_READERS[container](file, size, values, picture))
        except ItemProblem as problem:
            notes.append(f"{problem.reason} Its audio is used; its tags only as far as read.")
        notes += [f"In {shown(path)} {note}." for note in values.notes]
    return audio, values.values(), picture.data, tuple(notes)


def _recognise(file: BinaryIO, size: int, path: str) -> str:
    if size == 0:
        raise facts.damaged(path, "is empty (0 bytes); copy it again from its source")
    suffix = PurePath(path).suffix.lower()
    if suffix in FOREIGN_SUFFIXES:
        raise facts.damaged(
            path, f"is audio of a kind that syncd does not read ({suffix}); convert it to FLAC"
        )
    container = container_of(file, size)
    if container is not None:
        return container
    promised = promised_container(path)
    head = read_at(file, 0, 4096)
    what = "is text" if _looks_like_text(head) else "holds no audio that syncd recognises"
    named = f", though it is named {suffix}" if promised else ""
    raise facts.damaged(path, f"{what}{named}; replace it by the audio file or remove it")


def _looks_like_text(head: bytes) -> bool:
    if b"\0" in head:
        return False
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        return error.start > len(head) - 4 and len(head) == 4096  # cut within a character
    return True


def _guarded(path: str, part: str, read: Callable[[], object]) -> object:
    """Run *read*; whatever a parser can raise on a broken file becomes an ItemProblem."""

    try:
        return read()
    except ItemProblem:
        raise
    except mutagen().MutagenError as error:
        if isinstance(error.__cause__, OSError) and error.__cause__.errno is not None:
            raise error.__cause__ from error  # a disk's fault, which open_master words
        cause: Exception = error
    except (
        ArithmeticError, AssertionError, AttributeError, EOFError, LookupError, MemoryError,
        NotImplementedError, RecursionError, RuntimeError, TypeError, ValueError, struct.error,
    ) as error:  # fmt: skip
        cause = error
    text = tagnames.clean(str(cause)).strip()[:200]
    why = f"{type(cause).__name__}: {text}" if text else type(cause).__name__
    raise ItemProblem(
        shown(path),
        f"The {part} of {shown(path)} cannot be read ({why}): the file is damaged; "
        "copy it again from its source.",
    ) from cause


def _flac_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
    file.seek(0)
    whole = mutagen("flac").FLAC(file)
    tagnames.from_vorbis(whole.tags or (), values)
    _vorbis_pictures(whole.tags or (), picture)
    for block in whole.pictures:
        if block.mime != "-->":  # a link to a picture elsewhere is never followed
            picture.offer(block.data, block.type)
    if not whole.tags:
        _id3_at_front(file, size, values, picture)


def _vorbis_pictures(pairs: Any, picture: _Picture) -> None:
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


def _id3_at_front(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
    """ID3v2, or ID3v1 where there is none."""
    file.seek(0)
    try:
        _take_id3(mutagen("id3").ID3(file), values, picture)
    except mutagen("id3").ID3NoHeaderError:
        return


def _take_id3(tags: Any, values: TagValues, picture: _Picture) -> None:
    tagnames.from_id3(tags, values)
    for frame in tags.getall("APIC"):
        if frame.mime != "-->":
            picture.offer(frame.data, int(frame.type))


def _mp3_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
    try:
        _id3_at_front(file, size, values, picture)
    finally:
        extra = TagValues()
        _ape_tags(file, size, extra, picture)
        values.fill_from(extra)


def _ape_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
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


def _wavpack_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
    _ape_tags(file, size, values, picture)
    if not values.values():
        _id3_at_front(file, size, values, picture)


def _ogg_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
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


def _mp4_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
    file.seek(0)
    tags = mutagen("mp4").MP4(file).tags or {}
    kept = {
        key: value
        for key, value in tags.items()
        if not (
            key.startswith("----")
            and any(facts.sample_count_text(bytes(part).decode("latin-1")) for part in value)
        )
    }
    tagnames.from_mp4(kept, values)
    for cover in tags.get("covr", ()):
        picture.offer(bytes(cover), _FRONT_COVER)


def _chunk_tags(file: BinaryIO, size: int, values: TagValues, picture: _Picture) -> None:
    """WAV (id3 chunk, RIFF INFO) and AIFF (ID3 chunk, NAME, AUTH ...)."""
    own = TagValues()
    for chunk in iff_chunks(file, size):
        if chunk.held > _LARGEST_TAG_CHUNK:
            continue
        if chunk.kind.lower() == b"id3 ":
            try:
                _take_id3(
                    mutagen("id3").ID3(io.BytesIO(read_at(file, chunk.start, chunk.held))),
                    values,
                    picture,
                )
            except mutagen("id3").ID3NoHeaderError:
                continue
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


_TAG_READERS: dict[str, _TagReader] = {
    "flac": _flac_tags,
    "mp3": _mp3_tags,
    "aac": _mp3_tags,
    "ogg": _ogg_tags,
    "mp4": _mp4_tags,
    "wav": _chunk_tags,
    "aiff": _chunk_tags,
    "wavpack": _wavpack_tags,
}
