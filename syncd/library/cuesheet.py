"""Reading a cue sheet: which tracks lie where in which files, and what is said of them. Pure.

A sheet is data from outside: whatever is in it, reading gives what could be understood and a
sentence for each line that could not. Which file of the library a FILE line means, and what comes
of it, is for ``sheetspans``. Sources: the commands as the GNU ccd2cue manual lists them (FILE,
TRACK, INDEX, FLAGS, 75 frames a second); 588 samples a frame at 44.1 kHz from RFC 9639 §8.7; SCMS,
the ranges of the numbers and the use of REM for fields are common practice, no source.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

FRAMES_A_SECOND = 75
LARGEST_SHEET_BYTES = 1024 * 1024
"""Ninety-nine tracks with long titles stay under a tenth of it."""

_LONGEST_TEXT = 1000
_MOST_NOTES = 20
_LARGEST_NUMBER = 255  # 99 on a CD; RFC 9639 §8.7 allows more on other media
_LINE_ENDS = re.compile(r"\r\n|\r|\n")
_TIME = re.compile(r"(\d{1,5}):(\d{1,2}):(\d{1,2})")
_FILE_TYPES = frozenset({"WAVE", "MP3", "AIFF", "BINARY", "MOTOROLA", "FLAC", "APE", "WV"})
_FLAGS = frozenset({"PRE", "DCP", "4CH", "SCMS"})
_REM_FIELDS = {
    "DATE": "DATE", "YEAR": "DATE", "GENRE": "GENRE", "COMPOSER": "COMPOSER",
    "CONDUCTOR": "CONDUCTOR", "ENSEMBLE": "ENSEMBLE", "ORCHESTRA": "ENSEMBLE", "CHOIR": "CHOIR",
    "SOLOIST": "SOLOISTS", "SOLOISTS": "SOLOISTS", "ARRANGER": "ARRANGER", "LYRICIST": "LYRICIST",
    "DISCNUMBER": "DISCNUMBER", "DISC": "DISCNUMBER", "DISCTOTAL": "DISCTOTAL",
    "TOTALDISCS": "DISCTOTAL", "LABEL": "LABEL", "PUBLISHER": "LABEL", "COMMENT": "COMMENT",
    "WORK": "WORK", "MOVEMENT": "MOVEMENT", "MOVEMENTNAME": "MOVEMENTNAME", "OPUS": "OPUS",
    "ALBUMARTIST": "ALBUMARTIST", "PART": "PART", "KEY": "KEY",
}  # fmt: skip
"""REM lines that hold a field, under the field's Vorbis name; any other is a remark."""

_TEXTS = {
    "TITLE": "TITLE", "PERFORMER": "PERFORMER", "SONGWRITER": "SONGWRITER", "ISRC": "ISRC",
    "CATALOG": "CATALOG",
}  # fmt: skip
_SILENT = frozenset({"CDTEXTFILE"})


@dataclass(frozen=True, slots=True)
class SheetTrack:
    """One TRACK: where its INDEX 01 lies in its file, in frames of 1/75 s from the file's start.

    ``index_00`` is where its gap begins if that lies in the same file. ``audio`` is False for data
    tracks. ``fields`` are the sheet's own names (TITLE, PERFORMER, SONGWRITER, ISRC) and those of
    its REM fields.
    """

    number: int
    start: int
    audio: bool = True
    index_00: int | None = None
    flags: frozenset[str] = frozenset()
    fields: Mapping[str, str] = field(default_factory=dict)
    pregap: int = 0
    postgap: int = 0


@dataclass(frozen=True, slots=True)
class SheetFile:
    """One FILE line: the name as it stands there, the type, and the tracks that begin in it."""

    name: str
    kind: str
    tracks: tuple[SheetTrack, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet: its files in order, what it says of the disc, and what was odd in it."""

    files: tuple[SheetFile, ...]
    fields: Mapping[str, str]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BlockTrack:
    """One track of a FLAC CUESHEET block: ``start`` in sample frames, at its INDEX 01."""

    number: int
    start: int
    audio: bool = True
    emphasis: bool = False
    isrc: str = ""


@dataclass(frozen=True, slots=True)
class EmbeddedSheet:
    """The sheets inside a file: a CUESHEET tag's text, and the tracks of a FLAC CUESHEET block."""

    text: str = ""
    block: tuple[BlockTrack, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.text or self.block)


NO_SHEET = EmbeddedSheet()


@dataclass(slots=True)
class _Track:
    number: int
    audio: bool
    line: int
    start: int | None = None
    file: int = -1
    index_00: tuple[int, int] | None = None
    flags: set[str] = field(default_factory=set)
    fields: dict[str, str] = field(default_factory=dict)
    pregap: int = 0
    postgap: int = 0


def samples_at(frames: int, rate_hz: int) -> int:
    """The sample frame at which CD frame *frames* begins in audio of *rate_hz*.

    588 samples a frame at 44.1 kHz, exact for every rate that 75 divides; for others (32 kHz)
    frames x rate / 75 is rounded to the nearest sample, halves up.
    """
    return (2 * frames * rate_hz + FRAMES_A_SECOND) // (2 * FRAMES_A_SECOND)


def sheet_text(raw: bytes) -> str:
    """The text in *raw*: by its byte order mark, UTF-16 by its zero bytes, UTF-8, else a code page.

    Code pages have no mark, so which one is a guess by what letters would follow each other.
    Never raises: bytes without meaning become U+FFFD.
    """
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", "replace")
    head = raw[:512]
    if raw.startswith(b"\xef\xbb\xbf"):
        return raw[3:].decode("utf-8", "replace")
    # the commands are ASCII, so in UTF-16 every other byte of them is zero
    if head[1::2].count(0) > len(head) // 4:
        return raw.decode("utf-16-le", "replace")
    if head[::2].count(0) > len(head) // 4:
        return raw.decode("utf-16-be", "replace")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return _by_guess(raw)


_CODE_PAGES = (
    "cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "koi8_r", "cp932", "gb18030", "big5", "cp949",
    "cp850", "cp852", "cp866", "mac_roman",
)  # fmt: skip
_WESTERN = re.compile(rb"[\x80-\xff]+")
_CZECH_OR_POLISH = re.compile("[øè][áíéý]|[áíéý][øèì]|(?<=[a-zó])[³¹](?=[a-z])")
"""What ř, č, ě beside a long vowel, and ł, ą in a word, look like when cp1250 is read as cp1252."""


def _by_guess(raw: bytes) -> str:
    """*raw* by the code page that suits it best.

    A word with a few marked letters is what Western languages give, and too little for the
    statistics of a detector, which then finds rarer pages in it; so single marked letters between
    plain ones count as Western, and the detector is asked about text of longer runs.
    """
    runs = _WESTERN.findall(raw)
    if sum(len(run) == 1 for run in runs) >= 0.8 * len(runs):
        pages: tuple[str, ...] = ("cp1252", "cp1250", "cp1254", "cp850", "mac_roman")
        western = raw.decode("cp1252", "replace")
        if _CZECH_OR_POLISH.search(western):
            return raw.decode("cp1250", "replace")
        if all(_is_letter_like(one) for one in western if ord(one) > 127):
            return western
    else:
        pages = _CODE_PAGES
    from charset_normalizer import from_bytes  # rarely needed, and slow to load

    # only what is not ASCII says anything; line by line it is a better sample than with commands
    sample = b"\n".join(line for line in raw.splitlines() if not line.isascii())[:65536]
    best = from_bytes(sample, cp_isolation=list(pages), threshold=0.5).best()
    return raw.decode(best.encoding if best is not None else "cp1252", "replace")


def _is_letter_like(one: str) -> bool:
    return one.isalpha() or one in "‘’“”–—…«»°´№ \u00a0¡¿&"


def parse_sheet(text: str) -> Sheet:
    """What the cue sheet *text* says. Never raises; what is not understood is told in ``notes``."""
    return _Reader().read(text)


class _Reader:
    """One reading under way."""

    def __init__(self) -> None:
        self.files: list[tuple[str, str]] = []
        self.fields: dict[str, str] = {}
        self.tracks: list[_Track] = []
        self.notes: list[str] = []
        self.more_notes = 0
        self.is_full = False

    def read(self, text: str) -> Sheet:
        for number, line in enumerate(_LINE_ENDS.split(text.lstrip("\ufeff")), 1):
            stripped = line.replace("\0", "").strip()
            if stripped:
                command, _, rest = stripped.replace("\t", " ", 1).partition(" ")
                self._line(number, command.upper(), rest.strip())
            if self.is_full:
                self._note(number, f"is one too many: {_LARGEST_NUMBER} tracks or files are read")
                break
        if self.more_notes:
            self.notes.append(f"{self.more_notes} more lines are not understood")
        return Sheet(self._files(), self.fields, tuple(self.notes))

    def _note(self, line: int, what: str) -> None:
        if len(self.notes) < _MOST_NOTES:
            self.notes.append(f"line {line} {what}")
        else:
            self.more_notes += 1

    def _line(self, line: int, command: str, rest: str) -> None:
        if command in _TEXTS:
            self._put(_TEXTS[command], rest)
        elif command == "REM":
            self._remark(rest)
        elif command in ("FILE", "TRACK"):
            many = self.files if command == "FILE" else self.tracks
            if len(many) >= _LARGEST_NUMBER:
                self.is_full = True
            elif command == "FILE":
                self._file(line, rest)
            else:
                self._track(line, rest)
        elif command in ("INDEX", "PREGAP", "POSTGAP", "FLAGS"):
            if not self.tracks:
                self._note(line, f"has {command} before any TRACK; it is left out")
            elif command == "INDEX":
                self._index(line, rest)
            elif command == "FLAGS":
                self._flags(line, rest)
            else:
                self._gap(line, command, rest)
        elif command not in _SILENT:
            self._note(line, f"is not understood: {_short(command + ' ' + rest)}")

    def _put(self, name: str, rest: str) -> None:
        value = _unquoted(rest)[:_LONGEST_TEXT]
        if value:
            fields = self.tracks[-1].fields if self.tracks else self.fields
            fields[name] = value

    def _remark(self, rest: str) -> None:
        name, _, value = rest.replace("\t", " ", 1).partition(" ")
        known = _REM_FIELDS.get(name.upper())
        if known is not None and value.strip():
            self._put(known, value.strip())

    def _file(self, line: int, rest: str) -> None:
        if rest.startswith('"') and rest.rfind('"') > 0:
            end = rest.rfind('"')
            name, kind = rest[1:end], rest[end + 1 :].strip().upper()
        else:
            before, _, last = rest.rpartition(" ")
            name, kind = (
                (before.strip(), last.upper()) if last.upper() in _FILE_TYPES else (rest, "")
            )
            name = name.strip('"')
        if not name:
            self._note(line, "names no file")
        if kind and kind not in _FILE_TYPES:
            self._note(line, f"gives the file a type that is not known ({_short(kind)})")
        self.files.append((name[:_LONGEST_TEXT], kind))

    def _track(self, line: int, rest: str) -> None:
        number, _, kind = rest.partition(" ")
        kind = kind.strip().upper()
        if not (number.isdecimal() and number.isascii() and len(number) < 4):
            self._note(line, f"has a TRACK without a number: {_short(rest)}")
            value = self.tracks[-1].number + 1 if self.tracks else 1
        else:
            value = int(number)
        if not 0 < value <= _LARGEST_NUMBER or any(one.number == value for one in self.tracks):
            self._note(line, f"has track number {value}, which cannot be or is there already")
            value = max((one.number for one in self.tracks), default=0) + 1
        audio = kind in ("", "AUDIO")
        if not audio:
            self._note(line, f"has track {value} of the kind {_short(kind)}, which is not audio")
        self.tracks.append(_Track(value, audio, line))

    def _index(self, line: int, rest: str) -> None:
        number, _, time = rest.partition(" ")
        frames = _frames(time.strip())
        track = self.tracks[-1]
        if not (number.isdecimal() and number.isascii()) or frames is None:
            self._note(line, f"has an INDEX that is no time (mm:ss:ff): {_short(rest)}")
        elif not self.files:
            self._note(line, "has an INDEX before any FILE; it is left out")
        elif int(number) == 0:
            track.index_00 = (len(self.files) - 1, frames)
        elif int(number) == 1:
            track.start, track.file = frames, len(self.files) - 1

    def _flags(self, line: int, rest: str) -> None:
        for flag in rest.upper().split():
            if flag in _FLAGS:
                self.tracks[-1].flags.add(flag)
            else:
                self._note(line, f"has a flag that is not known ({_short(flag)})")

    def _gap(self, line: int, command: str, rest: str) -> None:
        frames = _frames(rest)
        if frames is None:
            self._note(line, f"has a {command} that is no time (mm:ss:ff): {_short(rest)}")
        elif command == "PREGAP":
            self.tracks[-1].pregap = frames  # silence that is not in the file: moves nothing
        else:
            self.tracks[-1].postgap = frames

    def _files(self) -> tuple[SheetFile, ...]:
        members: list[list[SheetTrack]] = [[] for _ in self.files]
        for track in self.tracks:
            if track.start is None:
                if track.audio:
                    self._note(
                        track.line, f"begins track {track.number}, which has no INDEX 01; "
                        "what it holds stays with the track before"
                    )  # fmt: skip
                continue
            gap = track.index_00
            members[track.file].append(
                SheetTrack(
                    track.number, track.start, track.audio,
                    gap[1] if gap is not None and gap[0] == track.file else None,
                    frozenset(track.flags), dict(track.fields), track.pregap, track.postgap,
                )
            )  # fmt: skip
        return tuple(
            SheetFile(name, kind, tuple(tracks))
            for (name, kind), tracks in zip(self.files, members, strict=True)
        )


def _frames(time: str) -> int | None:
    match = _TIME.fullmatch(time)
    if match is None:
        return None
    minutes, seconds, frames = map(int, match.groups())
    if seconds > 59 or frames >= FRAMES_A_SECOND:
        return None
    return (minutes * 60 + seconds) * FRAMES_A_SECOND + frames


def _unquoted(text: str) -> str:
    """*text* without the quotes about it. There is no escape: quotes inside stay as they are."""
    if text.startswith('"'):
        end = text.rfind('"')
        return (text[1:end] if end > 0 else text[1:]).strip()
    return text.strip()


def _short(text: str) -> str:
    text = "".join(one if one.isprintable() else "\ufffd" for one in text.strip())
    return text if len(text) <= 60 else text[:60] + "..."
