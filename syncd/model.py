"""The nouns of syncd: frozen values, no input or output.

A path in the library, a path on a card and a hash are types of their own, so that a type checker
finds the place where one is taken for another.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NewType

LibraryPath = NewType("LibraryPath", str)
"""Absolute path of a master file. Bytes that are not UTF-8 stand as surrogate escapes (PEP 383)."""

CardPath = NewType("CardPath", str)
"""Path on a card relative to its root, components separated by ``/``, in Unicode form NFC."""

ContentHash = NewType("ContentHash", str)
"""xxh3_128 of a whole file's bytes, 32 hexadecimal digits. Guards against accident, not malice."""

AudioHash = NewType("AudioHash", str)
"""xxh3_128 of a file's audio payload without its tags, 32 hexadecimal digits."""

Tags = Mapping[str, Sequence[str]]
"""Tag values under their Vorbis comment names in upper case, in the order of the file.

Readers of other tag systems translate (TIT2 and ©nam are TITLE, TPE3 is CONDUCTOR, TMCL pairs
become PERFORMER values of the form ``Name (instrument)``); what has no Vorbis name keeps its own.
"""


class Codec(StrEnum):
    """How a file's audio is coded (not its container)."""

    FLAC = "flac"
    ALAC = "alac"
    WAVPACK = "wavpack"
    PCM = "pcm"
    MP3 = "mp3"
    AAC = "aac"
    VORBIS = "vorbis"
    OPUS = "opus"
    DSD = "dsd"
    TTA = "tta"
    APE = "ape"
    WMA = "wma"
    WMA_LOSSLESS = "wma-lossless"
    MP2 = "mp2"


LOSSLESS = frozenset(
    {Codec.FLAC, Codec.ALAC, Codec.WAVPACK, Codec.PCM}
    | {Codec.DSD, Codec.TTA, Codec.APE, Codec.WMA_LOSSLESS}
)


@dataclass(frozen=True, slots=True)
class AudioFacts:
    """What is known about a file's audio from its headers.

    ``samples`` is the exact number of sample frames where the container gives it (at
    ``sample_rate_hz``; for Opus at 48 kHz), else None and ``duration_s`` is the best estimate.
    ``bits_per_sample`` is None for lossy codecs. ``profile`` narrows the codec ("LC" for AAC,
    "float" for floating-point PCM, "pro" for WMA), empty when there is nothing to say.

    What small decoders are particular about, None where the header does not tell or it means
    nothing: ``variable`` whether the bit rate varies (for FLAC, the block size), ``block_samples``
    the longest block (FLAC, Vorbis), ``frame_bytes`` the largest frame (FLAC).

    For DSD all of it is about the one-bit signal: its rate (2,822,400 Hz and up), one bit, and
    ``samples`` of one bit a channel. No decoder delivers that rate; see ``planner.encoding``.
    """

    container: str
    codec: Codec
    sample_rate_hz: int
    channels: int
    duration_s: float
    bits_per_sample: int | None = None
    bitrate_bps: int | None = None
    samples: int | None = None
    profile: str = ""
    variable: bool | None = None
    block_samples: int | None = None
    frame_bytes: int | None = None

    @property
    def lossless(self) -> bool:
        """Whether decoding gives back exactly what was encoded (hybrid forms count as lossy)."""
        return self.codec in LOSSLESS and self.profile != "hybrid"


@dataclass(frozen=True, slots=True)
class Art:
    """Where a track's cover picture is and what it is.

    ``path`` is the master file that embeds it (``embedded``) or the picture file in its folder.
    """

    hash: ContentHash
    path: LibraryPath
    embedded: bool


@dataclass(frozen=True, slots=True)
class Span:
    """The stretch of a file that is one track, where a sheet divides the file into several.

    ``start`` and ``length`` in sample frames at the file's rate; a length of None reaches to the
    end of a file whose header does not tell its exact length. ``number`` is the sheet's.
    """

    start: int
    length: int | None
    number: int


@dataclass(frozen=True, slots=True)
class Track:
    """One playable stretch of audio in the library, with the few tag values that are plain facts.

    Text fields hold what the tags say, empty when they say nothing; ``date`` begins with the year.
    With a ``span`` it is a part of the file at ``path``, and ``audio_hash``, duration and samples
    are the part's. ``emphasis`` says that the audio was recorded with 50/15 us pre-emphasis.
    ``added`` is the day the file came to the library, counted from 1970-01-01, None if not known.
    ``rating`` is what the listener thinks of it by its tags, 0 to 100, None if they say nothing.
    """

    path: LibraryPath
    audio_hash: AudioHash
    audio: AudioFacts
    size_bytes: int
    title: str = ""
    artist: str = ""
    album: str = ""
    album_artist: str = ""
    date: str = ""
    genre: str = ""
    label: str = ""
    track_number: int | None = None
    disc_number: int | None = None
    art: Art | None = None
    span: Span | None = None
    emphasis: bool = False
    added: int | None = None
    rating: int | None = None

    @property
    def address(self) -> str:
        """What names this track alone: its path, with ``#03`` where it is one span of the file."""
        return self.path if self.span is None else span_address(self.path, self.span.number)


def span_address(path: str, number: int) -> str:
    """The name of track *number* of the file at *path*: ``album.flac#03``.

    No file of the library is named so itself: its suffix would be no audio suffix.
    """
    return f"{path}#{number:02d}"


def span_in(address: str) -> tuple[str, int | None]:
    """The path and the span's number in what :func:`span_address` gave; None for a whole file."""
    if "#" not in address[-4:]:
        return address, None
    path, _, number = address.rpartition("#")
    _, dot, suffix = path.rpartition(".")
    is_number = len(number) > 1 and number.isascii() and number.isdecimal()
    return (path, int(number)) if dot and suffix.isalnum() and is_number else (address, None)


@dataclass(frozen=True, slots=True)
class TaggedFile:
    """What the works engine sees of a track: its address, its tag values and its length."""

    path: str
    tags: Tags
    duration_s: float | None = None


@dataclass(frozen=True, slots=True)
class Composer:
    """A composer: ``name`` in natural order, ``sort`` with the family name first."""

    name: str
    sort: str


@dataclass(frozen=True, slots=True)
class Work:
    """One composition: title without key, number and nickname; catalogue numbers; key or None."""

    title: str
    catalogue: tuple[str, ...] = ()
    key: str | None = None


@dataclass(frozen=True, slots=True)
class Movement:
    """One track's place in a recording. What the tags do not say is None."""

    number: int | None
    title: str | None


@dataclass(frozen=True, slots=True)
class Credit:
    """A performer with a role: conductor, ensemble, choir, soloist, arranger, ..."""

    name: str
    role: str
    instrument: str | None = None


class Kind(StrEnum):
    """Whether a track is filed by composer and work, or by artist and album."""

    WORK = "work"
    POPULAR = "popular"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Identity:
    """How a track is catalogued (see works.md's conventions in DEVELOPERS.md).

    ``recording`` is the same for all movements of one performance of one work and for no other
    track; None for popular and unknown tracks. ``confidence`` is 0.0 to 1.0. ``tags`` are the
    listener's own words for it, from the errata.
    """

    kind: Kind
    composer: Composer | None = None
    work: Work | None = None
    recording: str | None = None
    movement: Movement | None = None
    credits: tuple[Credit, ...] = ()
    artist: str | None = None
    album: str | None = None
    confidence: float = 0.0
    reasons: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CataloguedTrack:
    """A track together with how it is catalogued."""

    track: Track
    identity: Identity


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A track that cannot be on a card, and why, in a full sentence."""

    path: str
    reason: str


@dataclass(frozen=True, slots=True)
class LibrarySnapshot:
    """The library as the index knows it at one moment.

    ``away`` lists roots that are missing or unmounted: their tracks are still in ``tracks``,
    since absence of a disk is not deletion.
    """

    tracks: tuple[CataloguedTrack, ...]
    away: tuple[LibraryPath, ...] = ()
    unreadable: tuple[LeftOut, ...] = ()
