"""Dressing: a pressing or a carried master gets tags and picture, its audio byte for byte as it is.

Where tags stand before or after the audio (MP3, FLAC, WAV, AIFF, WavPack, AAC) only they are made,
in memory, and the audio is streamed between them from where it lies; Ogg and MP4 weave tags into
the file, so a scratch copy is made. Equal inputs give equal bytes. What the tags say and where the
file goes is the callers' affair.
"""

import base64
import contextlib
import io
import os
import shutil
import struct
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, BinaryIO, Self

import mutagen
import xxhash
from mutagen import flac, mp4
from PIL import Image

from syncd.errors import ItemProblem
from syncd.model import ContentHash
from syncd.profile import TagWriting
from syncd.transcoder import fitting, spans, tagmap
from syncd.transcoder.artwork import PictureForm
from syncd.transcoder.tagmap import TagPairs
from syncd.utf8 import printable

_CHUNK = 1 << 18
_RIFF_LIMIT = (1 << 32) - 1


class DamagedPressing(ItemProblem):
    """A pressing no longer has the bytes that it was kept with: set it aside and make it again."""


class Dressed:
    """A file for a card, ready to be written: its exact size, and its bytes as often as asked.

    A context manager; closing it removes the scratch copy, where there is one.
    """

    def __init__(
        self,
        source: Path,
        span: spans.Span,
        before: bytes = b"",
        after: bytes = b"",
        *,
        expect: ContentHash | None = None,
        scratch: Path | None = None,
    ) -> None:
        self._source = source
        self._span = span
        self._before = before
        self._after = after
        self._expect = expect
        self._scratch = scratch
        self.size = len(before) + span.length + len(after)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Remove the scratch copy."""
        if self._scratch is not None:
            with contextlib.suppress(OSError):
                self._scratch.unlink(missing_ok=True)

    def chunks(self) -> Iterator[bytes]:
        """The bytes, in pieces.

        With an expected hash the whole source is read and compared on the way: DamagedPressing is
        raised before the last piece, so what was written so far must be thrown away. ItemProblem
        is raised when the source cannot be read, or has changed since it was dressed.
        """
        held = self._before
        try:
            with self._source.open("rb") as file:
                for piece in self._audio(file):
                    if held:
                        yield held
                    held = piece
        except OSError as error:
            raise _unreadable(self._source, error) from error
        yield held + self._after

    def _audio(self, file: BinaryIO) -> Iterator[bytes]:
        digest = xxhash.xxh3_128() if self._expect is not None else None
        if digest is not None:
            _feed(digest, file, self._span.start)
        else:
            file.seek(self._span.start)
        left = self._span.length
        while left:
            piece = file.read(min(left, _CHUNK))
            if not piece:
                raise ItemProblem(
                    str(self._source),
                    f"{printable(self._source)} became shorter while it was read. "
                    "Scan the library again.",
                )
            left -= len(piece)
            if digest is not None:
                digest.update(piece)
            yield piece
        if digest is not None:
            _feed(digest, file, None)
            if digest.hexdigest() != self._expect:
                raise _damaged(self._source)


def dress(
    source: Path,
    container: str,
    tags: TagPairs,
    art: bytes | None,
    writing: TagWriting,
    scratch: Path,
    *,
    expect: ContentHash | None = None,
) -> Dressed:
    """Return *source* (a file of the kind *container*) with *tags* and the picture *art* put on.

    *tags* are (Vorbis name, value) in the order in which they shall stand; a name may repeat. The
    tags and pictures that *source* has are dropped. *scratch* is a folder for copies where one is
    needed. *expect* is the hash of *source*'s bytes, checked while they are read. Raises
    ItemProblem when *source* cannot be read or is not of that kind, DamagedPressing when its bytes
    are not those of *expect*.
    """
    kept = tagmap.cleaned(tags, writing)
    picture = art if writing.art == "embedded" else None
    if writing.largest_tag_bytes is not None:
        kept, picture = fitting.fitted(
            kept,
            picture,
            writing.largest_tag_bytes,
            PictureForm.of(writing),
            lambda some, cover: tag_bytes(container, some, cover, writing),
        )
    try:
        if container in _WOVEN:
            return _woven(source, container, kept, picture, scratch, expect)
        with source.open("rb") as file:
            span, before, after = _AROUND[container](file, kept, picture, writing)
    except KeyError as error:
        raise ItemProblem(
            str(source), f"There is no way to put tags on files of the kind '{container}'."
        ) from error
    except spans.NotThisKind as error:
        raise ItemProblem(
            str(source),
            f"{printable(source)} cannot be given tags as a {container} file: {error}. "
            "Rip or fetch it again.",
        ) from error
    except OSError as error:
        raise _unreadable(source, error) from error
    return Dressed(source, span, before, after, expect=expect)


def undressed(source: Path, *, expect: ContentHash | None = None) -> Dressed:
    """*source* exactly as it is: for players that want carried files untouched."""
    try:
        size = source.stat().st_size
    except OSError as error:
        raise _unreadable(source, error) from error
    return Dressed(source, spans.Span(0, size), expect=expect)


# -- tags before or after the audio ----------------------------------------------------------------

_Parts = tuple[spans.Span, bytes, bytes]
_Kept = list[tuple[str, str]]


def _around_mp3(file: BinaryIO, tags: _Kept, art: bytes | None, writing: TagWriting) -> _Parts:
    return spans.mp3_span(file), tagmap.id3_tag(tags, art, writing), b""


def _around_mpeg(file: BinaryIO, tags: _Kept, art: bytes | None, writing: TagWriting) -> _Parts:
    return spans.mpeg_span(file), tagmap.id3_tag(tags, art, writing), b""


def _around_flac(file: BinaryIO, tags: _Kept, art: bytes | None, writing: TagWriting) -> _Parts:
    span = spans.flac_span(file)
    channels = (span.head[12] >> 1 & 7) + 1
    mask = spans.flac_channel_mask(file) if channels > 2 else None
    if mask is not None:
        tags = [*tags, ("WAVEFORMATEXTENSIBLE_CHANNEL_MASK", mask)]
    comment = tagmap.vorbis_comment(tags)
    blocks = [(0, span.head), (4, comment.write(framing=False))]
    if art is not None:
        blocks.append((6, flac_picture(art)))
    head = b"fLaC"
    for number, (kind, body) in enumerate(blocks):
        last = 0x80 if number == len(blocks) - 1 else 0
        if len(body) >= 1 << 24:
            raise spans.NotThisKind("its tags are longer than a FLAC block can be")
        head += bytes([kind | last]) + len(body).to_bytes(3, "big") + body
    return span, head, b""


def _around_riff(file: BinaryIO, tags: _Kept, art: bytes | None, writing: TagWriting) -> _Parts:
    span = spans.riff_span(file)
    after = b"\0" * (span.length % 2) + _tag_chunk(b"id3 ", "<I", tags, art, writing)
    total = 4 + len(span.head) + 8 + span.length + len(after)
    if total > _RIFF_LIMIT:
        raise spans.NotThisKind("it is longer than the 4 GB that a WAV file can have")
    before = b"RIFF" + struct.pack("<I", total) + b"WAVE" + span.head
    return span, before + b"data" + struct.pack("<I", span.length), after


def _around_aiff(file: BinaryIO, tags: _Kept, art: bytes | None, writing: TagWriting) -> _Parts:
    span = spans.aiff_span(file)
    after = b"\0" * (span.length % 2) + _tag_chunk(b"ID3 ", ">I", tags, art, writing)
    total = len(span.head) + 8 + span.length + len(after)
    if total > _RIFF_LIMIT:
        raise spans.NotThisKind("it is longer than the 4 GB that an AIFF file can have")
    before = b"FORM" + struct.pack(">I", total) + span.head
    return span, before + b"SSND" + struct.pack(">I", span.length), after


def _around_wavpack(file: BinaryIO, tags: _Kept, art: bytes | None, writing: TagWriting) -> _Parts:
    return spans.wavpack_span(file), b"", tagmap.ape_tag(tags, art)


def _tag_chunk(
    name: bytes, size_form: str, tags: _Kept, art: bytes | None, writing: TagWriting
) -> bytes:
    tag = tagmap.id3_tag(tags, art, writing)
    if not tag:
        return b""
    return name + struct.pack(size_form, len(tag)) + tag + b"\0" * (len(tag) % 2)


_AROUND: dict[str, Callable[[BinaryIO, _Kept, bytes | None, TagWriting], _Parts]] = {
    "mp3": _around_mp3,
    "aac": _around_mpeg,
    "flac": _around_flac,
    "wav": _around_riff,
    "aiff": _around_aiff,
    "wavpack": _around_wavpack,
}


def tag_bytes(container: str, tags: _Kept, art: bytes | None, writing: TagWriting) -> int:
    """What *tags* and *art* take in a file of the kind *container*, without padding."""
    if container in ("flac", "ogg"):
        picture = flac_picture(art) if art is not None else b""
        comment = len(tagmap.vorbis_comment(tags).write(framing=False))
        if container == "flac":
            return 4 + comment + (4 + len(picture) if picture else 0)
        return comment + (4 * len(picture) // 3 + 32 if picture else 0)
    if container == "mp4":
        return tagmap.mp4_bytes(tagmap.mp4_items(tags, art))
    if container == "wavpack":
        return len(tagmap.ape_tag(tags, art))
    bare = writing.model_copy(update={"id3_padding_bytes": 0})
    return len(tagmap.id3_tag(tags, art, bare))


def flac_picture(art: bytes) -> bytes:
    """The body of a FLAC picture block with the front cover *art* (RFC 9639 section 8.8)."""
    picture: Any = _new_picture()
    picture.type, picture.mime, picture.data = 3, tagmap.picture_kind(art), art
    with contextlib.suppress(Exception), Image.open(io.BytesIO(art)) as opened:
        picture.width, picture.height, picture.depth = opened.width, opened.height, 24
    return bytes(picture.write())


_new_picture: Callable[[], Any] = flac.Picture  # mutagen carries no type hints
_open_mp4: Callable[[Path], Any] = mp4.MP4

# -- tags woven into the file ----------------------------------------------------------------------

_WOVEN = frozenset({"ogg", "mp4"})


def _woven(
    source: Path,
    container: str,
    tags: _Kept,
    art: bytes | None,
    scratch: Path,
    expect: ContentHash | None,
) -> Dressed:
    copy = scratch / f"dress-{os.getpid()}-{uuid.uuid4().hex}"
    try:
        _copy(source, copy, expect)
        try:
            _retag(copy, container, tags, art)
        except OSError:
            raise
        except Exception as error:  # mutagen meets damaged files in many ways
            raise ItemProblem(
                str(source),
                f"{printable(source)} cannot be given tags: {error}. Rip or fetch it again.",
            ) from error
        span = spans.Span(0, copy.stat().st_size)
        return Dressed(copy, span, scratch=copy)
    except BaseException:
        with contextlib.suppress(OSError):
            copy.unlink(missing_ok=True)
        raise


def _retag(copy: Path, container: str, tags: _Kept, art: bytes | None) -> None:
    if container == "mp4":
        movie = _open_mp4(copy)
        movie.delete()
        movie = _open_mp4(copy)
        if movie.tags is None:
            movie.add_tags()
        for key, value in tagmap.mp4_items(tags, art).items():
            movie.tags[key] = value
        movie.save(padding=lambda info: 0)
        return
    audio: Any = mutagen.File(copy)
    if audio is None or not hasattr(audio.tags, "vendor"):
        raise ValueError("it is no Ogg file of a known kind")
    pairs = list(tags)
    if art is not None:
        block = base64.b64encode(flac_picture(art)).decode("ascii")
        pairs.append(("METADATA_BLOCK_PICTURE", block))
    audio.tags[:] = pairs
    audio.save(padding=lambda info: 0)


def _copy(source: Path, target: Path, expect: ContentHash | None) -> None:
    if expect is None:
        shutil.copyfile(source, target)
        return
    digest = xxhash.xxh3_128()
    with source.open("rb") as reading, target.open("wb") as writing:
        while piece := reading.read(_CHUNK):
            digest.update(piece)
            writing.write(piece)
    if digest.hexdigest() != expect:
        raise _damaged(source)


def _feed(digest: "xxhash.xxh3_128", file: BinaryIO, length: int | None) -> None:
    """Let *digest* see *length* bytes of *file*, or all that are left."""
    left = length
    while left is None or left > 0:
        piece = file.read(_CHUNK if left is None else min(left, _CHUNK))
        if not piece:
            return
        digest.update(piece)
        if left is not None:
            left -= len(piece)


def _damaged(source: Path) -> DamagedPressing:
    return DamagedPressing(
        str(source),
        f"The pressing {printable(source)} in the store no longer has the bytes that were written. "
        "It is made again from the master.",
    )


def _unreadable(source: Path, error: OSError) -> ItemProblem:
    return ItemProblem(
        str(source),
        f"{printable(source)} cannot be read: {error.strerror}. Scan the library again.",
    )
