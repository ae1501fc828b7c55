"""From the sheets of a folder to the spans of its files: which sheet counts, what it makes. Pure.

A file's sheets are, in order of precedence: a .cue file beside it that means it, a CUESHEET tag,
the CUESHEET block of a FLAC file (RFC 9639 §8.7). The listener can edit the first without touching
the audio, and the third has no titles. The first that fits the file is used; where another divides
the file at other places, a note says so. Only a file in the sheet's own folder can be meant,
whatever path the sheet gives. A sheet that gives a file one track only divides nothing.
"""

import itertools
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import xxhash

from syncd.library.cuesheet import (
    NO_SHEET,
    EmbeddedSheet,
    Sheet,
    SheetTrack,
    parse_sheet,
    samples_at,
)
from syncd.library.filerows import has_emphasis
from syncd.library.kinds import AUDIO_SUFFIXES
from syncd.model import AudioFacts, AudioHash, Span

HIDDEN_S = 30
"""Audio before the first track's INDEX 01 that is this long or longer, in seconds, is a track of
its own with number 0: music that a player must be wound back to. Shorter stretches are the silence
of a gap and belong to no track, as on a CD player."""

_OF_THE_WHOLE_FILE = frozenset(
    {"TITLE", "TITLESORT", "SUBTITLE", "TRACKNUMBER", "TRACKTOTAL", "TRACK", "MOVEMENT", "ISRC"}
    | {"MOVEMENTNAME", "MOVEMENTTOTAL", "LYRICS", "REPLAYGAIN_TRACK_GAIN", "REPLAYGAIN_TRACK_PEAK"}
    | {"R128_TRACK_GAIN"}
)
"""Tags that say something of one track: on a file of several they are not any of its tracks'."""

_HIDDEN_TITLE = "Hidden track"


@dataclass(frozen=True, slots=True)
class SheetableFile:
    """What must be known of an audio file to divide it."""

    name: str
    audio: AudioFacts
    audio_hash: AudioHash
    tags: Mapping[str, Sequence[str]]
    embedded: EmbeddedSheet = NO_SHEET


@dataclass(frozen=True, slots=True)
class SpanReading:
    """One span of a file: where it is, its facts, hash and tags, as ``FileReading`` for a file."""

    span: Span
    audio: AudioFacts
    audio_hash: AudioHash
    tags: dict[str, tuple[str, ...]]
    emphasis: bool


@dataclass(slots=True)
class FolderSpans:
    """Spans by file name, and sentences by the name of the file that they are about."""

    spans: dict[str, tuple[SpanReading, ...]] = field(default_factory=dict)
    notes: dict[str, list[str]] = field(default_factory=dict)

    def note(self, name: str, sentence: str) -> None:
        """Tell *sentence* about the file *name*."""
        self.notes.setdefault(name, []).append(sentence)


@dataclass(frozen=True, slots=True)
class _Mark:
    """Where a track begins, in sample frames of its file."""

    number: int
    start: int
    audio: bool
    emphasis: bool
    fields: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Division:
    """One way to divide a file, and where it comes from."""

    origin: str
    marks: tuple[_Mark, ...]
    disc: Mapping[str, str]


def derived_hash(whole: AudioHash, start: int, length: int | None) -> AudioHash:
    """The audio hash of a span: a function of the file's and of where the span lies."""
    return AudioHash(xxhash.xxh3_128_hexdigest(f"{whole} {start} {length}".encode()))


def divide(files: Sequence[SheetableFile], sheets: Iterable[tuple[str, str]]) -> FolderSpans:
    """Divide the *files* of one folder by the *sheets* beside them (name, text) and inside them."""
    result = FolderSpans()
    names = [file.name for file in files]
    beside: dict[str, list[tuple[str, Sheet, int]]] = {}
    for name, text in sorted(sheets):
        sheet = parse_sheet(text)
        for note in sheet.notes:
            result.note(name, f"In the cue sheet {note}.")
        for number, entry in enumerate(sheet.files):
            meant = _resolve(entry.name, name, names, alone=len(sheet.files) == 1)
            if meant is not None:
                beside.setdefault(meant, []).append((name, sheet, number))
            elif len(entry.tracks) > 1:
                result.note(
                    name,
                    f"The cue sheet divides the file '{entry.name}', which is not in its folder; "
                    "that part of it is left alone. Put the file there, or correct the name.",
                )
    for file in files:
        found = _divided(file, beside.get(file.name, ()), result)
        if found:
            result.spans[file.name] = found
    return result


def _divided(
    file: SheetableFile, beside: Iterable[tuple[str, Sheet, int]], result: FolderSpans
) -> tuple[SpanReading, ...]:
    rate = file.audio.sample_rate_hz
    divisions: list[_Division] = []
    own = _plain(_stem(file.name))
    ordered = sorted(beside, key=lambda one: (_plain(_stem(_stem(one[0]))) != own, one[0]))
    for name, sheet, number in ordered:
        divisions.append(
            _Division(
                f"the cue sheet {name}", _marks(sheet.files[number].tracks, rate), sheet.fields
            )
        )
    if file.embedded.text:
        sheet = parse_sheet(file.embedded.text)
        for note in sheet.notes:
            result.note(file.name, f"In its CUESHEET tag {note}.")
        used = [entry for entry in sheet.files if entry.tracks]
        if len(used) == 1:
            divisions.append(
                _Division("its CUESHEET tag", _marks(used[0].tracks, rate), sheet.fields)
            )
        else:
            result.note(
                file.name, "Its CUESHEET tag tells of several files or none; it is left out."
            )
    if file.embedded.block:
        marks = tuple(
            _Mark(one.number, one.start, one.audio, one.emphasis, {"ISRC": one.isrc})
            for one in file.embedded.block
        )
        divisions.append(_Division("its CUESHEET block", marks, {}))
    sound = []
    for division in divisions:
        fault = _fault(division.marks, file.audio)
        if fault is None:
            sound.append(division)
        else:
            result.note(file.name, f"It is not divided by {division.origin}: {fault}.")
    if not sound:
        return ()
    best = sound[0]
    for other in sound[1:]:
        if _starts(other) != _starts(best):
            result.note(
                file.name,
                f"It is divided by {best.origin}; {other.origin} has other tracks or places.",
            )
    agreed = {
        mark.number
        for division in sound
        if _starts(division) == _starts(best)
        for mark in division.marks
        if mark.emphasis
    }
    return _spans(file, best, agreed, result)


def _marks(tracks: Sequence[SheetTrack], rate: int) -> tuple[_Mark, ...]:
    return tuple(
        _Mark(
            track.number, samples_at(track.start, rate), track.audio, "PRE" in track.flags,
            track.fields,
        )
        for track in tracks
    )  # fmt: skip


def _starts(division: _Division) -> tuple[int, ...]:
    return tuple(mark.start for mark in division.marks)


def _fault(marks: Sequence[_Mark], audio: AudioFacts) -> str | None:
    """Why a file cannot be divided at *marks*, None where it can (or need not)."""
    if not marks:
        return "it has no tracks with an INDEX 01"
    if len({mark.number for mark in marks}) < len(marks) or min(mark.number for mark in marks) < 1:
        return "it gives a track no number, or two of them the same"
    for before, after in itertools.pairwise(marks):
        if after.start <= before.start:
            return f"track {after.number} does not begin after track {before.number}"
    samples = audio.samples or round(audio.duration_s * audio.sample_rate_hz)
    if marks[-1].start >= samples:
        return (
            f"track {marks[-1].number} would begin at {marks[-1].start / audio.sample_rate_hz:.2f} "
            f"s, and the file is {audio.duration_s:.2f} s long"
        )
    return None


def _spans(
    file: SheetableFile, division: _Division, emphasis: set[int], result: FolderSpans
) -> tuple[SpanReading, ...]:
    marks = division.marks
    sounding = [mark for mark in marks if mark.audio]
    if len(marks) == 1 and (not sounding or not (emphasis or has_emphasis(file.tags))):
        return ()  # a file of its own already: it can stay as it is
    rate, samples = file.audio.sample_rate_hz, file.audio.samples
    if len(marks) == 1:
        marks = (replace(marks[0], start=0),)
    hidden_s = marks[0].start / rate
    if hidden_s >= HIDDEN_S:
        marks = (_Mark(0, 0, True, False, {"TITLE": _HIDDEN_TITLE}), *marks)
        result.note(
            file.name,
            f"Before its first track lie {hidden_s:.0f} s of audio; they are kept as track 0.",
        )
    ends: list[int | None] = [mark.start for mark in marks[1:]]
    ends.append(samples)
    spans = []
    for mark, end in zip(marks, ends, strict=True):
        if not mark.audio:
            continue
        length = None if end is None else end - mark.start
        duration = file.audio.duration_s - mark.start / rate if length is None else length / rate
        tags = _overlaid(file.tags, division.disc, mark, len(sounding))
        spans.append(
            SpanReading(
                Span(mark.start, length, mark.number),
                replace(file.audio, duration_s=duration, samples=length),
                derived_hash(file.audio_hash, mark.start, length),
                tags,
                mark.number in emphasis or has_emphasis(file.tags),
            )
        )
    return tuple(spans)


def _overlaid(
    tags: Mapping[str, Sequence[str]], disc: Mapping[str, str], mark: _Mark, total: int
) -> dict[str, tuple[str, ...]]:
    """The tags of a span: the file's, over them what the sheet says of the disc, then of the track.

    PERFORMER is the artist (of the disc: the album artist too), SONGWRITER the composer unless the
    sheet names one, CATALOG the disc's bar code.
    """
    made = {name: tuple(values) for name, values in tags.items() if name not in _OF_THE_WHOLE_FILE}
    over: dict[str, str] = {}
    for fields, title in ((disc, "ALBUM"), (mark.fields, "TITLE")):
        for name, value in fields.items():
            if name == "TITLE":
                over[title] = value
            elif name == "PERFORMER":
                over["ARTIST"] = value
                if fields is disc:
                    over.setdefault("ALBUMARTIST", value)
            elif name == "SONGWRITER":
                if "COMPOSER" not in fields:
                    over["COMPOSER"] = value
            elif name == "CATALOG":
                over["BARCODE"] = value
            elif value and not (name == "ISRC" and fields is disc):
                over[name] = value
    if "ARTIST" in over and "ARTISTS" in made:
        del made["ARTISTS"]  # the file's, of another text
    if "COMPOSER" in over:
        made.pop("COMPOSERSORT", None)
    made |= {name: (value,) for name, value in over.items()}
    made["TRACKNUMBER"] = (str(mark.number),)
    made["TRACKTOTAL"] = (str(total),)
    return made


def _resolve(wanted: str, sheet: str, names: Sequence[str], *, alone: bool) -> str | None:
    """Which of *names* a FILE line means: by its name, without case, without suffix.

    Where the sheet has one FILE line only (*alone*), also by the sheet's own name.
    """
    base = re.split(r"[\\/]", wanted)[-1]
    if base in names:
        return base
    ordered = sorted(names, key=lambda name: (not name.lower().endswith(_FIRST), name))
    plain: dict[str, str] = {}
    stems: dict[str, str] = {}
    for name in ordered:
        plain.setdefault(_plain(name), name)
        stems.setdefault(_plain(_stem(name)), name)
    found = plain.get(_plain(base)) or stems.get(_plain(_stem(base)))
    if found is None and alone:
        own = _plain(_stem(sheet))
        found = stems.get(own) or plain.get(own)
    return found


_FIRST = (".flac", ".wav", ".wv", ".aiff", ".aif", ".m4a")


def _plain(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold().strip()


def _stem(name: str) -> str:
    """*name* without its suffix, if that is an audio file's or a sheet's."""
    stem, dot, suffix = name.rpartition(".")
    known = f".{suffix.lower()}" in AUDIO_SUFFIXES or suffix.lower() in _OTHERS
    return stem if dot and stem and known else name


_OTHERS = frozenset({"cue", "ape", "tta", "tak", "wma", "bin", "img", "iso", "mpc", "dsf", "dff"})
