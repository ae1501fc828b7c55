"""One file read: what it is, its audio facts, its tag values, its embedded picture.

The port to mutagen: whatever that library raises on a broken file ends here as an ItemProblem.
Hashing is for ``audiohash``, the meaning of the values for the works engine.
"""

import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePath
from typing import BinaryIO

import xxhash

from syncd.errors import ItemProblem
from syncd.library import facts, tagnames
from syncd.library.cuesheet import NO_SHEET, EmbeddedSheet
from syncd.library.facts.refusals import damaged
from syncd.library.kinds import CONTAINER_NAMES, FOREIGN_SUFFIXES, promised_container
from syncd.library.lazy import mutagen
from syncd.library.masterfile import open_master, shown
from syncd.library.sniff import container_of
from syncd.library.tagblocks import read_at
from syncd.library.tagnames import TagValues
from syncd.library.tagreaders import TAG_READERS, Picture
from syncd.model import AudioFacts, ContentHash, LibraryPath


@dataclass(frozen=True, slots=True)
class FileReading:
    """What one master file says of itself.

    ``art`` is the hash of the embedded picture, None without one. ``notes`` are sentences about
    what was odd but did not hinder reading. ``sheet`` is what it holds of cue sheets.
    """

    audio: AudioFacts
    tags: dict[str, tuple[str, ...]]
    art: ContentHash | None
    notes: tuple[str, ...] = ()
    sheet: EmbeddedSheet = NO_SHEET


def read_file(path: LibraryPath) -> FileReading:
    """Read the headers and tags of *path*; the audio itself is not read.

    The content decides what the file is; a suffix that says something else becomes a note. Raises
    ItemProblem, with a full sentence, for whatever is not audio that syncd reads.
    """
    audio, values, picture, notes = _read(path)
    art = None if picture is None else ContentHash(xxhash.xxh3_128_hexdigest(picture))
    return FileReading(audio, values.values(), art, notes, values.sheet)


def embedded_picture(path: LibraryPath) -> bytes | None:
    """The bytes of the picture whose hash ``read_file`` gives as ``art``, None without one.

    Raises ItemProblem as read_file does.
    """
    return _read(path)[2]


def _read(
    path: LibraryPath,
) -> tuple[AudioFacts, TagValues, bytes | None, tuple[str, ...]]:
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
        values, picture = TagValues(), Picture()
        try:
            _guarded(path, "tags", lambda: TAG_READERS[container](file, size, values, picture))
        except ItemProblem as problem:
            notes.append(f"{problem.reason} Its audio is used; its tags only as far as read.")
        notes += [f"In {shown(path)} {note}." for note in values.notes]
    return audio, values, picture.data, tuple(notes)


def _recognise(file: BinaryIO, size: int, path: str) -> str:
    if size == 0:
        raise damaged(path, "is empty (0 bytes); copy it again from its source")
    container = container_of(file, size)
    if container is not None:
        return container
    suffix = PurePath(path).suffix.lower()
    if suffix in FOREIGN_SUFFIXES:
        raise damaged(
            path, f"is audio of a kind that syncd does not read ({suffix}); convert it to FLAC"
        )
    promised = promised_container(path)
    head = read_at(file, 0, 4096)
    what = "is text" if _looks_like_text(head) else "holds no audio that syncd recognises"
    named = f", though it is named {suffix}" if promised else ""
    raise damaged(path, f"{what}{named}; replace it by the audio file or remove it")


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
