"""Cover pictures: baseline JPEG at the player's size, from any master, whatever the picture is.

JPEG markers: ITU-T T.81 Table B.1, SOF0 (FFC0) is baseline, SOF2 (FFC2) progressive.
"""

import base64
import io
import struct
import zlib
from pathlib import Path

import mutagen
import pytest
from mutagen.flac import Picture
from mutagen.id3 import APIC
from mutagen.mp4 import MP4Cover
from PIL import Image
from transcoder_kit import ffmpeg_encode, master, music

from syncd.model import Art, ContentHash, LibraryPath
from syncd.transcoder.artwork import PictureForm, read_art, scale, scaled_art
from syncd.transcoder.store import Store


def picture(mode: str = "RGB", size: tuple[int, int] = (400, 300), kind: str = "PNG") -> bytes:
    out = io.BytesIO()
    gradient = Image.radial_gradient("L").resize(size)
    gradient.convert(mode).save(out, kind)
    return out.getvalue()


def frame_markers(jpeg: bytes) -> set[int]:
    """The SOF markers of *jpeg*, found by walking its segments."""
    found, at = set(), 2
    while at < len(jpeg) - 4:
        assert jpeg[at] == 0xFF
        marker = jpeg[at + 1]
        if marker in range(0xC0, 0xD0) and marker not in (0xC4, 0xC8, 0xCC):
            found.add(marker)
        if marker == 0xDA:
            break
        at += 2 + struct.unpack(">H", jpeg[at + 2 : at + 4])[0]
    return found


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L", "LA", "P", "1", "I;16"])
def test_every_kind_of_picture_becomes_baseline_jpeg(mode: str) -> None:
    scaled = scale(picture(mode), PictureForm(100))
    assert scaled is not None
    assert frame_markers(scaled) == {0xC0}
    with Image.open(io.BytesIO(scaled)) as image:
        assert (image.mode, image.size) == ("RGB", (100, 75))


def test_a_progressive_cmyk_jpeg_becomes_baseline_rgb() -> None:
    out = io.BytesIO()
    Image.radial_gradient("L").convert("CMYK").save(out, "JPEG", progressive=True)
    assert frame_markers(out.getvalue()) == {0xC2}
    scaled = scale(out.getvalue(), PictureForm(100))
    assert scaled is not None
    assert frame_markers(scaled) == {0xC0}


def test_a_small_picture_is_not_enlarged() -> None:
    scaled = scale(picture(size=(50, 40)), PictureForm(500))
    assert scaled is not None
    with Image.open(io.BytesIO(scaled)) as image:
        assert image.size == (50, 40)


def test_transparent_parts_become_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    scaled = scale(out.getvalue(), PictureForm(20))
    assert scaled is not None
    with Image.open(io.BytesIO(scaled)) as image:
        assert image.getpixel((10, 10)) == (255, 255, 255)


def test_equal_pictures_give_equal_bytes() -> None:
    assert scale(picture(), PictureForm(123)) == scale(picture(), PictureForm(123))


def bomb() -> bytes:
    """A PNG of 50,000 by 50,000 pixels in a few bytes."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    header = struct.pack(">IIBBBBB", 50_000, 50_000, 1, 0, 0, 0, 0)
    body = (
        chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize(
    "data",
    [b"", b"not a picture", picture()[:200], b"<svg xmlns='http://www.w3.org/2000/svg'/>",
     b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n"],
    ids=["empty", "text", "truncated", "svg", "eps"],
)  # fmt: skip
def test_nothing_is_made_of_a_damaged_or_foreign_picture(data: bytes) -> None:
    assert scale(data, PictureForm(100)) is None


def test_a_decompression_bomb_is_not_unpacked() -> None:
    assert scale(bomb(), PictureForm(100)) is None


def embed(path: Path, data: bytes) -> None:
    audio = mutagen.File(path)
    block = Picture()
    block.type, block.mime, block.data = 3, "image/png", data
    back = Picture()
    back.type, back.mime, back.data = 4, "image/png", b"the back cover"
    if path.suffix == ".flac":
        audio.add_picture(back)
        audio.add_picture(block)
    elif path.suffix in (".ogg", ".opus"):
        texts = [base64.b64encode(each.write()).decode() for each in (back, block)]
        audio["METADATA_BLOCK_PICTURE"] = texts
    elif path.suffix == ".m4a":
        audio["covr"] = [MP4Cover(data, imageformat=MP4Cover.FORMAT_PNG)]
    elif path.suffix == ".wv":
        audio["Cover Art (Front)"] = mutagen.apev2.APEValue(b"front.png\0" + data, 1)
    else:
        if audio.tags is None:
            audio.add_tags()
        audio.tags.add(APIC(encoding=0, mime="image/png", type=4, desc="b", data=b"the back"))
        audio.tags.add(APIC(encoding=0, mime="image/png", type=3, desc="", data=data))
    audio.save()


@pytest.mark.parametrize("suffix", ["flac", "mp3", "m4a", "ogg", "opus", "wav", "aiff", "wv"])
def test_the_front_cover_is_read_from_every_kind_of_master(suffix: str, tmp_path: Path) -> None:
    master(tmp_path / "s.wav", music(5000))
    codec = ["-c:a", "libvorbis"] if suffix == "ogg" else []
    path = ffmpeg_encode(tmp_path / "s.wav", tmp_path / f"m.{suffix}", *codec)
    data = picture()
    embed(path, data)
    art = Art(ContentHash("0" * 32), LibraryPath(str(path)), embedded=True)
    assert read_art(art) == data


def test_a_picture_in_the_folder_is_read(tmp_path: Path) -> None:
    (tmp_path / "cover.png").write_bytes(picture())
    art = Art(ContentHash("0" * 32), LibraryPath(str(tmp_path / "cover.png")), embedded=False)
    assert read_art(art) == picture()
    (tmp_path / "cover.png").unlink()
    assert read_art(art) is None


def test_a_picture_is_scaled_once_and_told_once(tmp_path: Path, store: Store) -> None:
    (tmp_path / "cover.png").write_bytes(picture())
    (tmp_path / "bad.png").write_bytes(b"no picture")
    good = Art(ContentHash("1" * 32), LibraryPath(str(tmp_path / "cover.png")), embedded=False)
    bad = Art(ContentHash("2" * 32), LibraryPath(str(tmp_path / "bad.png")), embedded=False)
    notices: list[str] = []
    first = scaled_art(good, PictureForm(100), store, notices)
    assert scaled_art(bad, PictureForm(100), store, notices) is None
    (tmp_path / "cover.png").unlink()
    assert scaled_art(good, PictureForm(100), store, notices) == first
    assert scaled_art(bad, PictureForm(100), store, notices) is None
    assert len(notices) == 1
