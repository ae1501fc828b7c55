"""Tag values under their Vorbis names, translated for each tag system a file may have.

ID3v2.4.0 and 2.3.0 native frames, the movement frames in common use, MP4 item keys, Vorbis
comments. Pure: nothing is opened; where the tag goes in a file is ``syncd.transcoder.dress``'s
affair. Values come from outside: control characters are taken out, overlong ones are cut.
"""

import io
import re
from collections.abc import Iterable
from typing import Any, Literal

from anyascii import anyascii
from mutagen import _vorbis, apev2
from mutagen import id3 as _id3
from mutagen import mp4 as _mp4

from syncd.profile import TagWriting

TagPairs = tuple[tuple[str, str], ...]

# mutagen carries no type hints.
id3: Any = _id3
mp4: Any = _mp4
_new_comment: Any = _vorbis.VComment
_new_ape: Any = apev2.APEv2

LONGEST_VALUE = 10_000
VENDOR = "syncd"
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_NAME = re.compile(r"[\x20-\x3c\x3e-\x7d]+")
_PERFORMER = re.compile(r"(?P<name>.+?)\s*\((?P<part>[^()]+)\)\s*")
_TIMESTAMP = re.compile(r"\d{4}(-\d\d(-\d\d)?)?")

# ID3v2.4.0 native frames; TSOC, TSO2, MVNM and MVIN are extensions in common use.
_FRAMES = {
    "TITLE": "TIT2",
    "SUBTITLE": "TIT3",
    "ARTIST": "TPE1",
    "ALBUMARTIST": "TPE2",
    "CONDUCTOR": "TPE3",
    "REMIXER": "TPE4",
    "ALBUM": "TALB",
    "COMPOSER": "TCOM",
    "LYRICIST": "TEXT",
    "GENRE": "TCON",
    "LABEL": "TPUB",
    "ORGANIZATION": "TPUB",
    "COPYRIGHT": "TCOP",
    "ISRC": "TSRC",
    "DISCSUBTITLE": "TSST",
    "TITLESORT": "TSOT",
    "ALBUMSORT": "TSOA",
    "ARTISTSORT": "TSOP",
    "ALBUMARTISTSORT": "TSO2",
    "COMPOSERSORT": "TSOC",
    "MOVEMENTNAME": "MVNM",
    "GROUPING": "TIT1",
}
_COUNTED = {
    "TRACKNUMBER": ("TRCK", "TRACKTOTAL"),
    "DISCNUMBER": ("TPOS", "DISCTOTAL"),
    "MOVEMENT": ("MVIN", "MOVEMENTTOTAL"),
}
_ATOMS = {
    "TITLE": "©nam",
    "ARTIST": "©ART",
    "ALBUM": "©alb",
    "ALBUMARTIST": "aART",
    "COMPOSER": "©wrt",
    "GROUPING": "©grp",
    "DATE": "©day",
    "GENRE": "©gen",
    "COPYRIGHT": "cprt",
    "WORK": "©wrk",
    "MOVEMENTNAME": "©mvn",
    "TITLESORT": "sonm",
    "ALBUMSORT": "soal",
    "ARTISTSORT": "soar",
    "ALBUMARTISTSORT": "soaa",
    "COMPOSERSORT": "soco",
}
_PAIRS = {
    "TRACKNUMBER": ("trkn", "TRACKTOTAL"),
    "DISCNUMBER": ("disk", "DISCTOTAL"),
}
_FREEFORM = "----:syncd:"


def cleaned(tags: Iterable[tuple[str, str]], writing: TagWriting) -> list[tuple[str, str]]:
    """*tags* fit to be written: names that exist, values in the player's letters, none empty."""
    kept = []
    for name, value in tags:
        text = _CONTROL.sub("", value)[:LONGEST_VALUE]
        if writing.charset == "ascii":
            text = _CONTROL.sub("", anyascii(text))[:LONGEST_VALUE]
        text = text.strip()
        if text and _NAME.fullmatch(name):
            kept.append((name.upper(), text))
    return kept


def vorbis_comment(tags: Iterable[tuple[str, str]], vendor: str = VENDOR) -> Any:
    """The Vorbis comment with *tags* in their order."""
    comment: Any = _new_comment()
    comment.vendor = vendor
    comment.extend(tags)
    return comment


def id3_tag(tags: list[tuple[str, str]], art: bytes | None, writing: TagWriting) -> bytes:
    """The whole ID3v2 tag with *tags* and the front cover *art*.

    The padding is what the profile asks for, less where the largest tag allows no more.
    """
    if writing.id3_text == "latin1":
        tags = [(name, latin1(value)) for name, value in tags]
    frames = _id3_frames(tags, _text_form(writing))
    if art is not None:
        frames.add(id3.APIC(encoding=0, mime=picture_kind(art), type=3, desc="", data=art))
    if not frames:
        return b""
    out = io.BytesIO()
    old = writing.id3_version == "2.3"
    if old:
        frames.update_to_v23()
    frames.save(out, v1=0, v2_version=3 if old else 4, v23_sep="/", padding=lambda info: 0)
    wanted = writing.id3_padding_bytes
    if writing.largest_tag_bytes is not None:
        wanted = max(0, min(wanted, writing.largest_tag_bytes - len(out.getvalue())))
    if wanted:
        out = io.BytesIO()
        frames.save(out, v1=0, v2_version=3 if old else 4, v23_sep="/", padding=lambda info: wanted)
    return out.getvalue()


def latin1(value: str) -> str:
    """*value* in letters of Latin-1; what has none there becomes the nearest plain letters."""
    return "".join(letter if letter <= "\xff" else anyascii(letter) for letter in value)


def picture_kind(art: bytes) -> str:
    """The media type of a scaled picture."""
    return "image/png" if art.startswith(b"\x89PNG") else "image/jpeg"


_TextForm = Literal["latin1 or utf8", "latin1", "utf16", "utf8"]


def _text_form(writing: TagWriting) -> _TextForm:
    if writing.id3_text != "auto":
        return writing.id3_text
    simple = writing.charset == "ascii" or writing.id3_version == "2.3"
    return "latin1 or utf8" if simple else "utf8"


def _id3_frames(tags: list[tuple[str, str]], form: _TextForm) -> Any:
    frames: Any = id3.ID3()
    values = _gathered(tags)
    if "WORK" in values and "GROUPING" not in values:
        values["GROUPING"] = values["WORK"]  # TIT1: the standard's own place for the work
    people = [_player(value) for value in values.pop("PERFORMER", [])]
    arrangers = [["arranger", value] for value in values.pop("ARRANGER", [])]
    if people:
        frames.add(id3.TMCL(encoding=_encoding(people, form), people=people))
    if arrangers:
        frames.add(id3.TIPL(encoding=_encoding(arrangers, form), people=arrangers))
    for name, (frame, total) in _COUNTED.items():
        text = _counted(values, name, total)
        if text:
            frames.add(getattr(id3, frame)(encoding=0, text=[text]))
    for name, texts in values.items():
        _add_texts(frames, name, texts, _encoding(texts, form))
    return frames


def _add_texts(frames: Any, name: str, texts: list[str], encoding: int) -> None:
    frame = _FRAMES.get(name)
    if name == "DATE" and len(texts) == 1 and _TIMESTAMP.fullmatch(texts[0]):
        frames.add(id3.TDRC(encoding=0, text=texts))
    elif name == "KEY" and len(texts) == 1 and len(texts[0]) <= 3:
        frames.add(id3.TKEY(encoding=encoding, text=texts))
    elif name in ("COMMENT", "DESCRIPTION"):
        frames.add(id3.COMM(encoding=encoding, lang="XXX", desc="", text=texts))
    elif frame is not None and frame not in frames:
        frames.add(getattr(id3, frame)(encoding=encoding, text=texts))
    else:
        frames.add(id3.TXXX(encoding=encoding, desc=name, text=texts))


def _encoding(texts: Iterable[object], form: _TextForm) -> int:
    """0 (Latin-1) for plain text, which every reader knows so, and where *form* says so.

    Else 1 (UTF-16) or 3 (UTF-8; ID3 2.3 gets UTF-16 instead).
    """
    plain = "".join(str(text) for text in texts)
    if plain.isascii():
        return 0
    if form == "utf16":
        return 1
    if form in ("latin1", "latin1 or utf8"):
        try:
            plain.encode("latin-1")
        except UnicodeEncodeError:
            return 3
        return 0
    return 3


def _gathered(tags: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    values: dict[str, list[str]] = {}
    for name, value in tags:
        values.setdefault(name, []).append(value)
    return values


def _player(value: str) -> list[str]:
    """``Name (instrument)`` as the pair that TMCL holds."""
    found = _PERFORMER.fullmatch(value)
    return [found["part"], found["name"]] if found else ["performer", value]


def _counted(values: dict[str, list[str]], name: str, total: str) -> str | None:
    """Take *name* and *total* out of *values* as ``1/4``; left in place when not numbers."""
    number = _number(values, name)
    if number is None:
        return None
    del values[name]
    count = _number(values, total)
    if count is None:
        return str(number)
    del values[total]
    return f"{number}/{count}"


def _number(values: dict[str, list[str]], name: str) -> int | None:
    texts = values.get(name, [])
    if len(texts) != 1 or not re.fullmatch(r"[0-9]{1,5}", texts[0]):
        return None
    return int(texts[0])


def mp4_items(tags: list[tuple[str, str]], art: bytes | None) -> dict[str, Any]:
    """The items of an MP4 file under mutagen's keys, in a fixed order."""
    values = _gathered(tags)
    items: dict[str, Any] = {}
    for name, (key, total) in _PAIRS.items():
        text = _counted(values, name, total)
        if text:
            number, _, count = text.partition("/")
            if int(number) < 65536 and int(count or 0) < 65536:
                items[key] = [(int(number), int(count or 0))]
    movement = _counted(values, "MOVEMENT", "MOVEMENTTOTAL")
    if movement:
        number, _, count = movement.partition("/")
        items["©mvi"] = [int(number)]
        if count:
            items["©mvc"] = [int(count)]
    if "WORK" in values:
        items["shwm"] = [1]
    for name, texts in values.items():
        if name in _ATOMS:
            items[_ATOMS[name]] = texts
        else:
            items[_FREEFORM + name] = [mp4.MP4FreeForm(text.encode()) for text in texts]
    if art is not None:
        png = picture_kind(art) == "image/png"
        kind = mp4.MP4Cover.FORMAT_PNG if png else mp4.MP4Cover.FORMAT_JPEG
        items["covr"] = [mp4.MP4Cover(art, imageformat=kind)]
    return items


def ape_tag(tags: list[tuple[str, str]], art: bytes | None) -> bytes:
    """The whole APEv2 tag with *tags* and the front cover *art*."""
    tag: Any = _new_ape()
    names = {"TRACKNUMBER": "TRACK", "DISCNUMBER": "DISC", "DATE": "YEAR", "LABEL": "PUBLISHER"}
    for name, texts in _gathered(tags).items():
        key = names.get(name, name)
        if 2 <= len(key) <= 255 and key not in ("OGGS", "TAG", "MP+", "ID3"):
            tag[key] = texts
    if art is not None:
        file = b"cover.png" if picture_kind(art) == "image/png" else b"cover.jpg"
        tag["Cover Art (Front)"] = file + b"\0" + art
    if not tag:
        return b""
    out = io.BytesIO()
    tag.save(out)
    return out.getvalue()


def mp4_bytes(items: dict[str, Any]) -> int:
    """About what *items* take in a file: their atoms, without what is around all of them."""
    total = 0
    for key, values in items.items():
        if key.startswith("----"):
            total += 8 + sum(12 + len(part.encode()) for part in key.split(":")[1:])
        else:
            total += 8
        for value in values if isinstance(values, list) else [values]:
            raw = value.encode() if isinstance(value, str) else value
            total += 16 + (len(raw) if isinstance(raw, bytes) else 8)
    return total
