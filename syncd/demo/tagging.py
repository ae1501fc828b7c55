"""Writing the invented library's tags, each format in its own words, with mutagen.

This is for files that the demo made itself; what goes to a card is tagged by the transcoder.
"""

import re
from base64 import b64encode
from collections.abc import Callable, Mapping
from importlib import import_module
from pathlib import Path
from typing import Any

from syncd.demo.shelf import DemoFolder

# As Any: mutagen's own annotations cover it only in part.
id3: Any = import_module("mutagen.id3")
flac: Any = import_module("mutagen.flac")
mp4: Any = import_module("mutagen.mp4")

_FRAMES: dict[str, Callable[..., Any]] = {
    "TITLE": id3.TIT2,
    "ARTIST": id3.TPE1,
    "ALBUMARTIST": id3.TPE2,
    "CONDUCTOR": id3.TPE3,
    "COMPOSER": id3.TCOM,
    "ALBUM": id3.TALB,
    "DATE": id3.TDRC,
    "GENRE": id3.TCON,
    "LABEL": id3.TPUB,
    "TRACKNUMBER": id3.TRCK,
    "DISCNUMBER": id3.TPOS,
    "COMPILATION": id3.TCMP,
    "MOVEMENT": id3.MVIN,
    "MOVEMENTNAME": id3.MVNM,
}
_ATOMS = {
    "TITLE": "\xa9nam",
    "ARTIST": "\xa9ART",
    "ALBUMARTIST": "aART",
    "COMPOSER": "\xa9wrt",
    "ALBUM": "\xa9alb",
    "DATE": "\xa9day",
    "GENRE": "\xa9gen",
    "WORK": "\xa9wrk",
    "MOVEMENTNAME": "\xa9mvn",
}
_NUMBER_ATOMS = {"MOVEMENT": "\xa9mvi", "MOVEMENTTOTAL": "\xa9mvc"}
_PAIR_ATOMS = {"TRACKNUMBER": "trkn", "DISCNUMBER": "disk"}
_PERFORMER = re.compile(r"(.+) \((.+)\)")


def write_tags(
    path: Path, folder: DemoFolder, tags: Mapping[str, str], picture: bytes | None
) -> None:
    """Put *tags* (under their Vorbis names) and *picture* (JPEG) into the file at *path*."""
    if folder.form in ("flac", "flac-24-96"):
        _write_flac(path, tags, picture)
    elif folder.form in ("vorbis", "opus"):
        _write_ogg(path, tags, picture, opus=folder.form == "opus")
    elif folder.form in ("aac", "alac"):
        _write_mp4(path, tags, picture)
    else:
        _write_id3(path, tags, picture, folder.id3_version)


def _picture(data: bytes) -> Any:
    picture = flac.Picture()
    picture.type = 3  # front cover
    picture.mime = "image/jpeg"
    picture.data = data
    return picture


def _write_flac(path: Path, tags: Mapping[str, str], picture: bytes | None) -> None:
    file = flac.FLAC(path)
    for name, value in tags.items():
        file[name] = value
    if picture is not None:
        file.add_picture(_picture(picture))
    file.save()


def _write_ogg(path: Path, tags: Mapping[str, str], picture: bytes | None, opus: bool) -> None:
    kind, name = ("oggopus", "OggOpus") if opus else ("oggvorbis", "OggVorbis")
    file: Any = getattr(import_module(f"mutagen.{kind}"), name)(path)
    for tag, value in tags.items():
        file[tag] = value
    if picture is not None:
        file["METADATA_BLOCK_PICTURE"] = b64encode(_picture(picture).write()).decode()
    file.save()


def _write_mp4(path: Path, tags: Mapping[str, str], picture: bytes | None) -> None:
    file = mp4.MP4(path)
    for name, value in tags.items():
        if name in _ATOMS:
            file[_ATOMS[name]] = [value]
        elif name in _NUMBER_ATOMS:
            file[_NUMBER_ATOMS[name]] = [int(value)]
        elif name in _PAIR_ATOMS:
            file[_PAIR_ATOMS[name]] = [(int(value), 0)]
        else:
            file[f"----:org.xiph:{name}"] = [mp4.MP4FreeForm(value.encode())]
    if picture is not None:
        file["covr"] = [mp4.MP4Cover(picture, imageformat=mp4.MP4Cover.FORMAT_JPEG)]
    file.save()


def _write_id3(path: Path, tags: Mapping[str, str], picture: bytes | None, version: int) -> None:
    kind, name = ("wave", "WAVE") if path.suffix == ".wav" else ("mp3", "MP3")
    file: Any = getattr(import_module(f"mutagen.{kind}"), name)(path)
    if file.tags is None:
        file.add_tags()
    for tag, value in tags.items():
        player = _PERFORMER.fullmatch(value) if tag == "PERFORMER" else None
        if player is not None:
            file.tags.add(id3.TMCL(encoding=1, people=[[player.group(2), player.group(1)]]))
        elif tag in _FRAMES:
            file.tags.add(_FRAMES[tag](encoding=1, text=[value]))
        else:
            file.tags.add(id3.TXXX(encoding=1, desc=tag, text=[value]))
    if picture is not None:
        file.tags.add(id3.APIC(encoding=0, mime="image/jpeg", type=3, desc="", data=picture))
    if version == 3:
        file.tags.update_to_v23()
    file.save(v2_version=version)


def flac_tags(path: Path) -> Any:
    """The FLAC file at *path* as mutagen's mapping of tag values, with ``save``."""
    return flac.FLAC(path)
