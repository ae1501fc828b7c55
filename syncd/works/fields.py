"""What the engine takes from a file's tags and path, cleaned and under one set of names.

Vorbis names are the rule; ID3 and MP4 names that a reader has left are mapped here too, and of a
free-form MP4 name only the last part counts. Nothing is interpreted musically.
"""

import re
from collections.abc import Sequence
from functools import lru_cache

from syncd.model import TaggedFile, span_in
from syncd.works.text import LONGEST_VALUE, clean, fold, repair, slashed
from syncd.works.value import plain_value
from syncd.works.words.numerals import roman

_ALIASES = {
    "TIT2": "TITLE", "©NAM": "TITLE", "TALB": "ALBUM", "©ALB": "ALBUM", "TPE1": "ARTIST",
    "©ART": "ARTIST", "ARTISTS": "ARTISTS", "TPE2": "ALBUMARTIST", "AART": "ALBUMARTIST",
    "ALBUM ARTIST": "ALBUMARTIST", "ALBUM_ARTIST": "ALBUMARTIST", "BAND": "ALBUMARTIST",
    "TCOM": "COMPOSER", "©WRT": "COMPOSER", "TPE3": "CONDUCTOR", "©CON": "CONDUCTOR",
    "TIT1": "GROUPING", "©GRP": "GROUPING", "CONTENTGROUP": "GROUPING", "GRP1": "GROUPING",
    "TIT3": "SUBTITLE", "VERSION": "SUBTITLE", "TCON": "GENRE", "©GEN": "GENRE",
    "TRCK": "TRACKNUMBER", "TRKN": "TRACKNUMBER", "TRACK": "TRACKNUMBER", "TPOS": "DISCNUMBER",
    "DISK": "DISCNUMBER", "DISC": "DISCNUMBER", "MVNM": "MOVEMENTNAME", "©MVN": "MOVEMENTNAME",
    "MVIN": "MOVEMENT", "©MVI": "MOVEMENT", "©MVC": "MOVEMENTTOTAL", "©WRK": "WORK",
    "MOVEMENTNUMBER": "MOVEMENT", "MOVEMENT NUMBER": "MOVEMENT", "MOVEMENT NAME": "MOVEMENTNAME",
    "MOVEMENTCOUNT": "MOVEMENTTOTAL", "TDRC": "DATE", "©DAY": "DATE", "TYER": "DATE",
    "YEAR": "DATE", "TSOC": "COMPOSERSORT", "SOCO": "COMPOSERSORT", "TPE4": "ARRANGER",
    "TEXT": "LYRICIST", "WRITER": "LYRICIST", "TMCL": "PERFORMER", "TIPL": "INVOLVED",
    "ORCHESTRA": "ENSEMBLE", "GROUP": "ENSEMBLE", "CHORUS": "CHOIR", "SOLOIST": "SOLOISTS",
    "ORCHESTRE": "ENSEMBLE", "ORCHESTER": "ENSEMBLE", "DIRIGENT": "CONDUCTOR",
    "TXXX": "", "PARTNUMBER": "MOVEMENT", "CATALOG": "", "OPUSNUMBER": "OPUS", "TCMP": "COMPILATION",  # noqa: E501
    "CPIL": "COMPILATION", "INITIALKEY": "", "TKEY": "", "DISC NUMBER": "DISCNUMBER",
    "TRACK NUMBER": "TRACKNUMBER", "WORKNAME": "WORK", "CLASSICALWORK": "WORK", "INSTRUMENT": "",
}  # fmt: skip
_SPLIT_KEYS = frozenset({"COMPOSER", "ARTIST", "GENRE"})


@plain_value
class Fields:
    """One file's tag values as the engine uses them. Sequences are in the order of the file."""

    path: str
    title: str = ""
    album: str = ""
    artist: tuple[str, ...] = ()
    album_artist: tuple[str, ...] = ()
    composer: tuple[str, ...] = ()
    conductor: tuple[str, ...] = ()
    ensemble: tuple[str, ...] = ()
    choir: tuple[str, ...] = ()
    soloists: tuple[str, ...] = ()
    performer: tuple[str, ...] = ()
    arranger: tuple[str, ...] = ()
    lyricist: tuple[str, ...] = ()
    work: str = ""
    movement: str = ""
    movement_name: str = ""
    movement_total: int | None = None
    part: str = ""
    opus: str = ""
    grouping: str = ""
    subtitle: str = ""
    genre: tuple[str, ...] = ()
    track: int | None = None
    disc: int | None = None
    compilation: bool = False
    repairs: tuple[str, ...] = ()
    stem: str = ""
    folders: tuple[str, ...] = ()
    named_by_file: bool = False


def tag_name(name: str) -> str:
    """The engine's name for a tag *name* of any system (``----:com.x:CONDUCTOR`` → CONDUCTOR)."""
    return _tag_name(name)


@lru_cache(maxsize=2048)
def _tag_name(name: str) -> str:
    upper = name.upper().strip()
    if ":" in upper:
        head, _, last = upper.rpartition(":")
        if upper.startswith("PERFORMER:"):
            return upper
        upper = last.strip() if head else upper
        if not upper:
            upper = head.rpartition(":")[2]
    return _ALIASES.get(upper, upper)


_BLANK = ("",)
_MOST_VALUES = 64
_INTEGER = re.compile(r"\d{1,5}")
_STEM_NUMBER = re.compile(
    r"^(?:(?:CD|Disc|Disk|D)\s*\.?\s*(?P<disc>\d{1,2})\s*[-_. ]+\s*)?(?:(?:Track|Titel|Piste)\s*)?"
    r"(?:(?P<d2>\d{1,2})[-.](?=\d\d))?(?P<n>\d{1,3})(?:\s*[-_.)]+\s*|\s+|$)(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_DISC_FOLDER = re.compile(
    r"^(?P<stem>.*?)[\s\-_,.(\[]*(?:cd|disc|disk|disque|disco|dvd|vol|lp|cd-?rom|диск)\s*[-_.#]?\s*(?P<n>\d{1,3}|[ivx]{1,4}|one|two|three)"
    r"\s*(?:of\s*\d+|von\s*\d+|/\s*\d+)?\s*[)\]]?(?P<after>\s*[-:–(].*)?$",
    re.IGNORECASE | re.DOTALL,
)


def _first_int(values: Sequence[str]) -> int | None:
    for value in values:
        if len(value) <= 5 and value.isdecimal():
            return int(value)
        match = _INTEGER.search(value)
        if match is not None:
            return int(match.group())
    return None


def _is_plain(text: str) -> bool:
    return len(text) <= LONGEST_VALUE and text.isascii() and text.isprintable() and "  " not in text


def _value(text: str) -> tuple[str, str | None]:
    if len(text) <= LONGEST_VALUE and text.isascii() and text.isprintable() and "  " not in text:
        return text.strip(), None
    return _mended(text)


@lru_cache(maxsize=16384)
def _mended(text: str) -> tuple[str, str | None]:
    repaired, how = repair(text)
    return clean(repaired), how


def _extension_cut(name: str) -> str:
    name = span_in(name)[0]
    stem, dot, extension = name.rpartition(".")
    return stem if dot and stem and len(extension) <= 5 and extension.isalnum() else name


@lru_cache(maxsize=4096)
def disc_of_folder(name: str) -> tuple[str, int] | None:
    """(name without its disc, disc number) of a folder that is one disc of a set, or None."""
    match = _DISC_FOLDER.match(name)
    if match is None:
        return None
    text = match.group("n").lower()
    numbers = {"one": 1, "two": 2, "three": 3}
    if text.isdigit():
        number = int(text)
    elif text in numbers:
        number = numbers[text]
    else:
        value = roman(text)
        if value is None:
            return None
        number = value
    stem = match.group("stem").strip(" -_,.([")
    marker = name[len(match.group("stem")) :].strip(" -_,.([").lower()
    if marker.startswith("vol"):
        return None  # volumes are albums of their own
    after = match.group("after")
    if stem and after and after.strip(" -:–()"):
        return None
    return stem, number


@lru_cache(maxsize=1024)
def _folders(folder: str) -> tuple[str, ...]:
    return tuple(_value(part)[0] for part in folder.split("/") if part)


def read_fields(file: TaggedFile) -> Fields:
    """The fields of *file*. Never raises, whatever the tags hold."""
    values: dict[str, tuple[str, ...]] = {}
    repairs: list[str] = []
    instruments: list[str] = []
    for raw_name, raw_values in file.tags.items():
        name = _tag_name(str(raw_name))
        if not name:
            continue
        if isinstance(raw_values, str):
            raw_values = (raw_values,)
        bucket: tuple[str, ...] = ()
        for raw in raw_values if len(raw_values) <= _MOST_VALUES else raw_values[:_MOST_VALUES]:
            if isinstance(raw, str) and _is_plain(raw):
                text = raw.strip()
            else:
                text, how = _value(str(raw)[:20000])
                if how is not None:
                    repairs.append(f"{name} was {how}")
            if text:
                bucket = (*bucket, text)
        if not bucket:
            continue
        if name.startswith("PERFORMER:"):
            role = name.partition(":")[2].lower()
            instruments.extend(f"{value} ({role})" for value in bucket)
        else:
            values[name] = values[name] + bucket if name in values else bucket

    get = values.get
    above, _, own_name = slashed(file.path).rpartition("/")
    stem = _value(_extension_cut(own_name))[0]
    folders = _folders(above)
    track = _first_int(get("TRACKNUMBER", ()))
    disc = _first_int(get("DISCNUMBER", ()))
    rest = stem
    match = _STEM_NUMBER.match(stem)
    if match is not None:
        rest = match.group("rest").strip() or stem
        if track is None:
            track = int(match.group("n"))
        if disc is None:
            inner = match.group("disc") or match.group("d2")
            if inner:
                disc = int(inner)
    if disc is None and folders:
        folder = disc_of_folder(folders[-1])
        if folder is not None:
            disc = folder[1]
    title = get("TITLE", _BLANK)[0]
    named_by_file = not title
    if named_by_file:
        title = rest.replace("_", " ").strip()
    movement_total = _first_int(get("MOVEMENTTOTAL", ()))
    movement = get("MOVEMENT", _BLANK)[0]
    if movement_total is None and "/" in movement:
        movement_total = _first_int([movement.partition("/")[2]])
    performer = (*get("PERFORMER", ()), *instruments)
    composer = get("COMPOSER", ())
    artist = get("ARTIST", ()) or get("ARTISTS", ())
    return Fields(
        path=file.path,
        title=title,
        album=get("ALBUM", _BLANK)[0],
        artist=artist,
        album_artist=get("ALBUMARTIST", ()),
        composer=composer,
        conductor=get("CONDUCTOR", ()),
        ensemble=get("ENSEMBLE", ()),
        choir=get("CHOIR", ()),
        soloists=get("SOLOISTS", ()),
        performer=performer,
        arranger=get("ARRANGER", ()),
        lyricist=get("LYRICIST", ()),
        work=get("WORK", _BLANK)[0],
        movement=movement,
        movement_name=get("MOVEMENTNAME", _BLANK)[0],
        movement_total=movement_total,
        part=get("PART", _BLANK)[0],
        opus=get("OPUS", _BLANK)[0],
        grouping=get("GROUPING", _BLANK)[0],
        subtitle=get("SUBTITLE", _BLANK)[0],
        genre=tuple(map(fold, get("GENRE", ()))),
        track=track,
        disc=disc,
        compilation=get("COMPILATION", _BLANK)[0] in ("1", "true", "True", "yes"),
        repairs=tuple(dict.fromkeys(repairs)) if repairs else (),
        stem=stem,
        folders=folders,
        named_by_file=named_by_file,
    )


def unit_of(path: str) -> str:
    """The key of the album unit that the file at *path* belongs to.

    The folder, where it is a disc by its name the folder above it ("Album/CD 2"), and for
    neighbours that are discs of one set ("Ring - CD1", "Ring - CD2") their common name.
    """
    folder = slashed(path).rpartition("/")[0]
    return _unit_of_folder(folder)


@lru_cache(maxsize=4096)
def _unit_of_folder(folder: str) -> str:
    above, _, name = folder.rpartition("/")
    disc = disc_of_folder(name) if name else None
    if disc is None:
        return folder
    stem, _ = disc
    if not stem:
        return above if above else folder
    return f"{above}/{stem}" if above else stem
