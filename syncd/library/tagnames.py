"""Tag values of every tag system under their Vorbis names, cleaned.

Takes what a tag reader found (text already decoded) and names, splits and cleans it; opening files
is for ``tags``, judging what the values mean is for the works engine. Sources: ID3v2.4.0 frames §4,
ID3v2.3.0 §4.2.1, Vorbis I comment field names, RFC 9639 §8.6; MVNM, MVIN, TSOC, TSO2, GRP1 and the
MP4 names ©wrk, ©mvn, ©mvi, ©mvc are vendors' extensions, de facto; APEv2, RIFF INFO and ASF names
from memory.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from typing import Any

from syncd.library.cuesheet import LARGEST_SHEET_BYTES, BlockTrack, EmbeddedSheet

LONGEST_VALUE = 10_000
"""Characters of one value that are kept; the rest is cut and a note says so."""

_MOST_VALUES = 500  # of one name
_MOST_NAMES = 1_000

ID3_NAMES = {
    "TIT1": "GROUPING", "TIT2": "TITLE", "TIT3": "SUBTITLE", "TALB": "ALBUM", "TPE1": "ARTIST",
    "TPE2": "ALBUMARTIST", "TPE3": "CONDUCTOR", "TPE4": "ARRANGER", "TCOM": "COMPOSER",
    "TEXT": "LYRICIST", "TOPE": "ORIGINALARTIST", "TOLY": "ORIGINALLYRICIST",
    "TOAL": "ORIGINALALBUM", "TSOC": "COMPOSERSORT", "TSO2": "ALBUMARTISTSORT",
    "TSOP": "ARTISTSORT", "TSOA": "ALBUMSORT", "TSOT": "TITLESORT", "MVNM": "MOVEMENTNAME",
    "MVIN": "MOVEMENT", "GRP1": "GROUPING", "TKEY": "KEY", "TPUB": "LABEL", "TCOP": "COPYRIGHT",
    "TSRC": "ISRC", "TMED": "MEDIA", "TMOO": "MOOD", "TLAN": "LANGUAGE", "TBPM": "BPM",
    "TSST": "DISCSUBTITLE", "TDRC": "DATE", "TDOR": "ORIGINALDATE", "TDRL": "RELEASEDATE",
    "TENC": "ENCODEDBY", "TSSE": "ENCODER", "TCMP": "COMPILATION", "TRCK": "TRACKNUMBER",
    "TPOS": "DISCNUMBER", "TCON": "GENRE", "TYER": "DATE",
}  # fmt: skip

_POPM_STARS = (32, 96, 160, 224)
"""From which of POPM's 255 steps on taggers show two to five stars (common practice, no source)."""

_SLASH_IN_23 = frozenset({"TCOM", "TEXT", "TOLY", "TPE1"})

MP4_NAMES = {
    "©nam": "TITLE", "©ART": "ARTIST", "©alb": "ALBUM", "©wrt": "COMPOSER", "aART": "ALBUMARTIST",
    "©grp": "GROUPING", "©day": "DATE", "©gen": "GENRE", "©cmt": "COMMENT", "©lyr": "LYRICS",
    "cprt": "COPYRIGHT", "©too": "ENCODER", "desc": "DESCRIPTION", "soar": "ARTISTSORT",
    "soal": "ALBUMSORT", "soaa": "ALBUMARTISTSORT", "sonm": "TITLESORT", "soco": "COMPOSERSORT",
    "©wrk": "WORK", "©mvn": "MOVEMENTNAME", "©mvi": "MOVEMENT", "©mvc": "MOVEMENTTOTAL",
    "tmpo": "BPM", "©con": "CONDUCTOR", "©pub": "LABEL", "©st3": "SUBTITLE", "©arg": "ARRANGER",
    "rate": "RATING",
}  # fmt: skip

INFO_NAMES = {
    "INAM": "TITLE", "IART": "ARTIST", "IPRD": "ALBUM", "ICRD": "DATE", "IGNR": "GENRE",
    "ICMT": "COMMENT", "ITRK": "TRACKNUMBER", "IPRT": "TRACKNUMBER", "ICOP": "COPYRIGHT",
    "ISFT": "ENCODER", "IMUS": "COMPOSER", "IWRI": "LYRICIST", "ISRC": "SOURCE",
}  # fmt: skip

ASF_NAMES = {
    "Title": "TITLE", "Author": "ARTIST", "Copyright": "COPYRIGHT", "Description": "COMMENT",
    "WM/AlbumTitle": "ALBUM", "WM/AlbumArtist": "ALBUMARTIST", "WM/Composer": "COMPOSER",
    "WM/Conductor": "CONDUCTOR", "WM/Writer": "LYRICIST", "WM/Publisher": "LABEL",
    "WM/Year": "DATE", "WM/OriginalReleaseYear": "ORIGINALDATE", "WM/Genre": "GENRE",
    "WM/TrackNumber": "TRACKNUMBER", "WM/PartOfSet": "DISCNUMBER", "WM/SetSubTitle": "DISCSUBTITLE",
    "WM/SubTitle": "SUBTITLE", "WM/ContentGroupDescription": "GROUPING", "WM/Mood": "MOOD",
    "WM/InitialKey": "KEY", "WM/BeatsPerMinute": "BPM", "WM/ISRC": "ISRC", "WM/Lyrics": "LYRICS",
    "WM/Language": "LANGUAGE", "WM/OriginalArtist": "ORIGINALARTIST",
    "WM/OriginalAlbumTitle": "ORIGINALALBUM", "WM/ArtistSortOrder": "ARTISTSORT",
    "WM/AlbumArtistSortOrder": "ALBUMARTISTSORT", "WM/AlbumSortOrder": "ALBUMSORT",
    "WM/TitleSortOrder": "TITLESORT", "WM/ComposerSortOrder": "COMPOSERSORT",
    "WM/IsCompilation": "COMPILATION", "WM/EncodedBy": "ENCODEDBY",
    "WM/EncodingSettings": "ENCODER",
}  # fmt: skip

AIFF_NAMES = {b"NAME": "TITLE", b"AUTH": "ARTIST", b"(c) ": "COPYRIGHT", b"ANNO": "COMMENT"}

_ALIASES = {
    "ALBUM ARTIST": "ALBUMARTIST", "ALBUM_ARTIST": "ALBUMARTIST", "YEAR": "DATE",
    "TRACK": "TRACKNUMBER", "DISC": "DISCNUMBER", "DISK": "DISCNUMBER", "DISCNO": "DISCNUMBER",
    "TOTALTRACKS": "TRACKTOTAL", "TOTALDISCS": "DISCTOTAL", "MOVEMENTCOUNT": "MOVEMENTTOTAL",
    "PUBLISHER": "LABEL", "MOVEMENT NAME": "MOVEMENTNAME", "COMPOSER SORT": "COMPOSERSORT",
}  # fmt: skip

_NUMBERS = {
    "TRACKNUMBER": "TRACKTOTAL",
    "DISCNUMBER": "DISCTOTAL",
}
_NUMBER_OF_TOTAL = re.compile(r"\s*(\d{1,9})\s*/\s*(\d{1,9})\s*")
_NOT_TEXT = frozenset(
    {"METADATA_BLOCK_PICTURE", "COVERART", "COVERARTMIME", "COVER ART (FRONT)", "COVER ART (BACK)"}
)
_FUNCTIONS = {
    "arranger": "ARRANGER", "conductor": "CONDUCTOR", "orchestra": "ENSEMBLE",
    "ensemble": "ENSEMBLE", "choir": "CHOIR", "chorus": "CHOIR", "composer": "COMPOSER",
    "lyricist": "LYRICIST", "librettist": "LYRICIST", "writer": "WRITER", "producer": "PRODUCER",
    "engineer": "ENGINEER", "mix": "MIXER", "mixer": "MIXER", "dj-mix": "DJMIXER",
    "remixer": "REMIXER", "editor": "EDITOR", "chorusmaster": "CHORUSMASTER",
    "chorus master": "CHORUSMASTER", "performer": "PERFORMER",
}  # fmt: skip
_SURROGATES = re.compile("[\ud800-\udfff]")


class TagValues:
    """Tag values being gathered: ``add`` names and cleans them, ``values`` gives what came.

    The text of a CUESHEET tag goes to ``sheet``, with the ``sheet_block`` that a reader sets.
    """

    def __init__(self) -> None:
        self._values: dict[str, list[str]] = {}
        self.notes: list[str] = []
        self._sheet = ""
        self.sheet_block: tuple[BlockTrack, ...] = ()

    def __contains__(self, name: str) -> bool:
        return name in self._values

    def add(self, name: str, value: object) -> None:
        """Put *value* under *name*: a NUL splits it, empty parts and repetitions are dropped."""
        name = clean(name).strip().upper()[:200]
        name = _ALIASES.get(name, name)
        if not name or name in _NOT_TEXT:
            return
        if name == "CUESHEET":  # a document, not a value: longer, and with line ends that count
            self._sheet = self._sheet or clean(str(value)[:LARGEST_SHEET_BYTES])
            return
        stem, colon, instrument = name.partition(":")
        for part in str(value).split("\0"):
            text = clean(part).strip()
            if len(text) > LONGEST_VALUE:
                self.notes.append(
                    f"{name} has {len(text)} characters; the first {LONGEST_VALUE} are kept"
                )
                text = text[:LONGEST_VALUE]
            if not text:
                continue
            match = _NUMBER_OF_TOTAL.fullmatch(text) if name in _NUMBERS else None
            if match:
                self._put(name, match[1])
                self._put(_NUMBERS[name], match[2])
            elif stem == "PERFORMER" and colon and instrument:
                self._put(stem, f"{text} ({instrument.lower()})")
            else:
                self._put(name, text)

    def _put(self, name: str, text: str) -> None:
        known = self._values.get(name)
        if known is None:
            if len(self._values) < _MOST_NAMES:
                self._values[name] = [text]
        elif len(known) < _MOST_VALUES and text not in known:
            known.append(text)

    def fill_from(self, other: "TagValues") -> None:
        """Take from *other* the names that are missing here."""
        for name, texts in other._values.items():
            self._values.setdefault(name, texts)
        self.notes += other.notes
        self._sheet = self._sheet or other._sheet

    def values(self) -> dict[str, tuple[str, ...]]:
        """What was gathered."""
        return {name: tuple(texts) for name, texts in self._values.items()}

    @property
    def sheet(self) -> EmbeddedSheet:
        """What was gathered of cue sheets."""
        return EmbeddedSheet(self._sheet, self.sheet_block)


def clean(text: str) -> str:
    """*text* without lone surrogates, which no encoder could write again (U+FFFD stands there)."""
    return text if text.isascii() else _SURROGATES.sub("\ufffd", text)


def from_vorbis(pairs: Iterable[tuple[str, str]], into: TagValues) -> None:
    """Vorbis comments: names as they are, compared without case."""
    for name, value in pairs:
        into.add(name, value)


def from_id3(tags: Any, into: TagValues) -> None:
    """The frames of a mutagen ID3 object, whatever version the tag had in the file."""
    is_23 = tuple(getattr(tags, "version", (2, 4, 0)))[:2] == (2, 3)
    frames = list(tags.values())
    # where the vendor's movement or grouping frames are used, TIT1 holds the work
    in_use = {frame.FrameID for frame in frames}
    tit1 = "WORK" if in_use & {"MVNM", "MVIN", "GRP1"} else "GROUPING"
    for frame in frames:
        kind = frame.FrameID
        if kind == "TXXX":
            name = frame.desc or "TXXX"
            for text in frame.text:
                into.add(name, text)
        elif kind in ("TMCL", "TIPL", "IPLS"):
            for pair in frame.people:
                if len(pair) == 2:
                    _add_person(pair[0], pair[1], kind, into)
        elif kind == "TCON":
            for text in frame.genres:
                into.add("GENRE", text)
        elif kind == "COMM":
            into.add(f"COMMENT:{frame.desc}" if frame.desc else "COMMENT", "\0".join(frame.text))
        elif kind == "USLT":
            into.add("LYRICS", frame.text)
        elif kind == "POPM":
            if frame.rating and "RATING" not in into:  # 0 means "not rated"
                into.add("RATING", str(20 + 20 * bisect_right(_POPM_STARS, frame.rating)))
        elif kind == "MVIN":
            for text in frame.text:
                number, _, total = str(text).partition("/")
                into.add("MOVEMENT", number)
                into.add("MOVEMENTTOTAL", total)
        elif kind[0] == "T" or kind in ID3_NAMES:
            name = tit1 if kind == "TIT1" else ID3_NAMES.get(kind, kind)
            for text in frame.text:
                values = split_23(str(text)) if is_23 and kind in _SLASH_IN_23 else (str(text),)
                for value in values:
                    into.add(name, value)


def split_23(text: str) -> tuple[str, ...]:
    """The values that an ID3v2.3 text with slashes holds.

    ID3v2.3.0 §4.2.1 separates people by ``/``, which cannot be told from a slash in a name. So a
    text is left whole where a part is too short for a name (common practice, no source).
    """
    parts = tuple(part.strip() for part in text.split("/"))
    return parts if len(parts) > 1 and all(len(part) > 3 for part in parts) else (text,)


def _add_person(role: str, name: str, kind: str, into: TagValues) -> None:
    role = role.strip()
    function = _FUNCTIONS.get(role.lower())
    if function is not None and kind != "TMCL":
        into.add(function, name)
    elif role and name.strip():
        into.add("PERFORMER", f"{name.strip()} ({role})")
    else:
        into.add("PERFORMER", name)


def from_mp4(tags: Mapping[str, Any], into: TagValues) -> None:
    """The atoms of a mutagen MP4Tags object; a free-form field counts by its last part."""
    for key, values in tags.items():
        if key in ("covr", "pgap", "hdvd", "shwm", "cpil", "stik", "rtng"):
            if key == "cpil" and values:
                into.add("COMPILATION", "1")
            continue
        if key in ("trkn", "disk"):
            name = "TRACKNUMBER" if key == "trkn" else "DISCNUMBER"
            for number, total in values:
                into.add(name, number or "")
                into.add(_NUMBERS[name], total or "")
            continue
        if key.startswith("----"):
            name = key.rsplit(":", 1)[-1]
        else:
            name = MP4_NAMES.get(key, key.lstrip("©"))
        for value in values if isinstance(values, list) else [values]:
            if isinstance(value, bytes):
                value = bytes(value).decode("utf-8", "replace")
            into.add(name, value)


def from_ape(tags: Mapping[str, Any], into: TagValues) -> None:
    """The text items of a mutagen APEv2 object (kind 0; binary ones and links are not text)."""
    for key, value in tags.items():
        if getattr(value, "kind", None) == 0:
            for text in list(value):
                into.add(key, text)


def from_asf(tags: Iterable[tuple[str, Any]], into: TagValues) -> None:
    """The attributes of a mutagen ASFTags object that are text, numbers or truth values.

    A vendor's names without a Vorbis name lose their prefix. "WM/Track" counts from 0, so that it
    is of use only where "WM/TrackNumber" is missing.
    """
    counted_from_zero = None
    for key, attribute in tags:
        value = attribute.value
        if key == "WM/Track":
            counted_from_zero = str(value)
        elif isinstance(value, bool):
            into.add(ASF_NAMES.get(key, key.removeprefix("WM/")), "1" if value else "")
        elif isinstance(value, (str, int)):
            into.add(ASF_NAMES.get(key, key.removeprefix("WM/")), value)
    if "TRACKNUMBER" not in into and counted_from_zero and counted_from_zero.isdecimal():
        into.add("TRACKNUMBER", int(counted_from_zero) + 1)


def legacy_text(raw: bytes) -> str:
    """Text of unstated encoding: UTF-8 where it is valid, else the Western 8-bit code page."""
    raw = raw.split(b"\0", 1)[0]
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace")
