"""Limits of small players: how large tags get, how text and pictures stand in them.

Read back by mutagen and Pillow; sizes by the tag's own size field (ID3v2.4.0 structure section 3.1:
four bytes of seven bits) and by metaflac. RGB565: red in bits 15 to 11, green 10 to 5, blue 4 to 0,
as displays have it (common practice, no source).
"""

import base64
import io
import itertools
import subprocess
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import pytest
from mutagen.flac import FLAC
from mutagen.id3 import ID3
from PIL import Image
from transcoder_kit import ffmpeg_encode, master, music, need

from syncd.library.tags import read_file
from syncd.model import LibraryPath
from syncd.planner.carrying import why_not_carried
from syncd.planner.prescribing import make_recipe
from syncd.profile import Encode, Plays, Profile, TagWriting
from syncd.transcoder.artwork import PictureForm, scale
from syncd.transcoder.dress import dress
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.fitting import LAST_TO_GO
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

KINDS = {
    "mp3": ("m.mp3", "libmp3lame"),
    "flac": ("m.flac", "flac"),
    "mp4": ("m.m4a", "aac"),
    "ogg": ("m.ogg", "libvorbis"),
    "wav": ("m.wav", "pcm_s16le"),
    "wavpack": ("m.wv", "wavpack"),
}
TAGS = (
    ("TITLE", "Symphony No. 1: II. Andante"),
    ("ARTIST", "Velde Concerts Orchestra"),
    ("ALBUM", "Symphony No. 1 (1999)"),
    ("ALBUMARTIST", "Antonín Dvořák"),
    ("TRACKNUMBER", "2"),
    ("GENRE", "Symphony"),
    ("PERFORMER", "Jo Fiddle (violin)"),
    ("PERFORMER", "Ilse Vorhanden (viola)"),
    ("COMMENT", "Recorded in a hall of wood. " * 40),
    ("LYRICS", "La " * 900),
)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("plain")
    master(folder / "source.wav", music(20_000))
    return {
        kind: ffmpeg_encode(
            folder / "source.wav", folder / f"to-{file}", "-c:a", coder, "-map_metadata", "-1"
        )
        for kind, (file, coder) in KINDS.items()
    }


def picture(side: int = 500) -> bytes:
    """Something with detail in it, so that its size follows its sides."""
    out = io.BytesIO()
    image = Image.effect_noise((side, side), 60).convert("RGB")
    image.save(out, "PNG")
    return out.getvalue()


@pytest.fixture(scope="module")
def art() -> bytes:
    made = scale(picture(), PictureForm(300))
    assert made is not None
    return made


def dressed(
    source: Path, kind: str, art: bytes | None, writing: TagWriting, folder: Path,
    tags: Any = TAGS,
) -> Path:  # fmt: skip
    target = folder / f"dressed{source.suffix}"
    with dress(source, kind, tags, art, writing, folder) as made:
        data = b"".join(made.chunks())
        assert len(data) == made.size
    target.write_bytes(data)
    return target


def pictures(path: Path) -> list[bytes]:
    tags: Any = mutagen.File(path)
    if isinstance(tags, FLAC):
        return [one.data for one in tags.pictures]
    if path.suffix == ".m4a":
        return [bytes(one) for one in tags.tags.get("covr", [])]
    if path.suffix == ".ogg":
        blocks = tags.tags.get("METADATA_BLOCK_PICTURE", [])
        return [mutagen.flac.Picture(base64.b64decode(one)).data for one in blocks]
    if path.suffix == ".wv":
        found = tags.tags.get("Cover Art (Front)")
        return [] if found is None else [found.value.partition(b"\0")[2]]
    return [frame.data for frame in tags.tags.getall("APIC")]


def title(path: Path) -> str:
    tags: Any = mutagen.File(path).tags
    for name in ("TIT2", "TITLE", "©nam"):
        if name in tags:
            found = tags[name]
            return str(found.text[0]) if hasattr(found, "text") else str(found[0])
    raise AssertionError("no title")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("most", [400, 1500, 6000, 30_000])
def test_tags_take_no_more_than_the_player_has_room_for(
    kind: str, most: int, plain: dict[str, Path], art: bytes, tmp_path: Path
) -> None:
    bare = dressed(plain[kind], kind, None, TagWriting(), tmp_path, tags=()).stat().st_size
    full = dressed(plain[kind], kind, art, TagWriting(), tmp_path).stat().st_size - bare
    assert full > 30_000
    path = dressed(plain[kind], kind, art, TagWriting(largest_tag_bytes=most), tmp_path)
    # Around the tag: a chunk's head, MP4's boxes, Ogg's pages and lacing.
    assert path.stat().st_size - bare <= most + 256
    assert title(path) == "Symphony No. 1: II. Andante"
    kept = pictures(path)
    if most == 30_000:  # room for a smaller picture beside all text
        with Image.open(io.BytesIO(kept[0])) as image:
            assert 64 <= image.width < 300
    elif most < 6000:
        assert not kept


def test_the_size_field_of_the_id3_tag_is_within_the_limit(
    plain: dict[str, Path], art: bytes, tmp_path: Path
) -> None:
    for most in (700, 4096, 20_000):
        writing = TagWriting(largest_tag_bytes=most, id3_version="2.3", id3_padding_bytes=1 << 16)
        raw = dressed(plain["mp3"], "mp3", art, writing, tmp_path).read_bytes()
        size = raw[6] << 21 | raw[7] << 14 | raw[8] << 7 | raw[9]
        assert most - 80 < size + 10 <= most  # what is left is padding
        assert raw[size + 10] == 0xFF  # and the first frame follows


def test_flac_blocks_are_within_the_limit_by_metaflac(
    plain: dict[str, Path], art: bytes, tmp_path: Path
) -> None:
    path = dressed(plain["flac"], "flac", art, TagWriting(largest_tag_bytes=8000), tmp_path)
    listed = subprocess.run(
        [need("metaflac", "flac"), "--list", str(path)], check=True, capture_output=True, text=True
    ).stdout
    lengths = [int(line.split()[1]) for line in listed.splitlines() if line.startswith("  length:")]
    assert lengths[0] == 34
    assert sum(4 + length for length in lengths[1:]) <= 8000


def test_the_picture_shrinks_first_then_long_values_then_fields_in_order(
    plain: dict[str, Path], art: bytes, tmp_path: Path
) -> None:
    left: list[set[str]] = []
    several = (*TAGS, *(("PERFORMER", f"Player No. {number} (viola)") for number in range(9)))
    for most in (40_000, 4_000, 1_300, 450, 300):
        writing = TagWriting(largest_tag_bytes=most)
        path = dressed(plain["flac"], "flac", art, writing, tmp_path, several)
        tags: Any = FLAC(path)
        left.append({name.upper() for name, _ in tags.tags})
        if most == 40_000:
            assert tags["LYRICS"] == [("La " * 900).strip()]
        if most == 4_000:
            assert not tags.pictures
        if most == 1_300:
            assert len(tags["COMMENT"][0]) <= 256
    assert left[0] == left[1] == {name for name, _ in TAGS}
    for more, fewer in itertools.pairwise(left):
        assert fewer <= more
    gone = [name for name in ("COMMENT", *LAST_TO_GO) if name in left[0] - left[-1]]
    assert gone[:2] == ["COMMENT", "PERFORMER"]
    assert "TITLE" in left[-1] and "ARTIST" in left[-1]


def test_a_title_too_long_for_the_limit_is_cut_and_not_left_out(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    tags = (("TITLE", "A very long title. " * 200), ("ARTIST", "Someone"))
    path = dressed(plain["mp3"], "mp3", None, TagWriting(largest_tag_bytes=256), tmp_path, tags)
    assert len(title(path)) > 50
    assert "A very long title.".startswith(title(path)[:18])


def test_equal_tags_are_cut_to_equal_bytes(
    plain: dict[str, Path], art: bytes, tmp_path: Path
) -> None:
    writing = TagWriting(largest_tag_bytes=9000)
    first = dressed(plain["mp3"], "mp3", art, writing, tmp_path).read_bytes()
    assert dressed(plain["mp3"], "mp3", art, writing, tmp_path).read_bytes() == first


@pytest.mark.parametrize(
    ("version", "form", "encoding", "shown"),
    [
        ("2.4", "auto", 3, "Antonín Dvořák 作曲"),
        ("2.4", "utf8", 3, "Antonín Dvořák 作曲"),
        ("2.4", "utf16", 1, "Antonín Dvořák 作曲"),
        ("2.3", "auto", 1, "Antonín Dvořák 作曲"),
        ("2.3", "utf16", 1, "Antonín Dvořák 作曲"),
        ("2.3", "latin1", 0, "Antonín Dvorák ZuoQu"),
        ("2.4", "latin1", 0, "Antonín Dvorák ZuoQu"),
    ],
)
def test_text_in_id3_stands_as_the_player_reads_it(
    version: str, form: str, encoding: int, shown: str, plain: dict[str, Path], tmp_path: Path
) -> None:
    # ID3v2.3.0 section 3.3: 0 Latin-1, 1 UTF-16; ID3v2.4.0 section 4 adds 2 and 3 (UTF-8).
    writing = TagWriting(id3_version=version, id3_text=form)
    tags = (("COMPOSER", "Antonín Dvořák 作曲"), ("TITLE", "Plain"), ("ARTIST", "Élise"))
    frames: Any = ID3(dressed(plain["mp3"], "mp3", None, writing, tmp_path, tags), translate=False)
    assert (int(frames["TCOM"].encoding), frames["TCOM"].text) == (encoding, [shown])
    assert int(frames["TIT2"].encoding) == 0 or version == "2.3"
    assert frames["TPE1"].text == ["Élise"]


@pytest.mark.parametrize("junk", [b"\0" * 300, bytes(range(250)), b"\xff\xfb\x90junk" * 40])
def test_an_mp3_begins_with_its_first_frame_whatever_stood_before_it(
    junk: bytes, plain: dict[str, Path], tmp_path: Path
) -> None:
    sound = plain["mp3"].read_bytes()
    start = sound.index(b"\xff\xfb")
    damaged = tmp_path / "junk.mp3"
    damaged.write_bytes(junk + sound[start:])
    path = dressed(damaged, "mp3", None, TagWriting(), tmp_path)
    raw = path.read_bytes()
    size = raw[6] << 21 | raw[7] << 14 | raw[8] << 7 | raw[9]
    assert raw[size + 10 :] == sound[start:]


def test_padding_is_as_long_as_asked_for(plain: dict[str, Path], tmp_path: Path) -> None:
    sizes = [
        dressed(plain["mp3"], "mp3", None, TagWriting(id3_padding_bytes=n), tmp_path)
        .stat().st_size for n in (0, 2048)
    ]  # fmt: skip
    assert sizes[1] - sizes[0] == 2048
    assert ID3(tmp_path / "dressed.mp3")["TIT2"].text == ["Symphony No. 1: II. Andante"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_png_is_told_as_png_in_every_kind_of_tag(
    kind: str, plain: dict[str, Path], tmp_path: Path
) -> None:
    writing = TagWriting(art_format="png", art_longest_side_px=80)
    made = scale(picture(200), PictureForm.of(writing))
    assert made is not None
    path = dressed(plain[kind], kind, made, writing, tmp_path)
    with Image.open(io.BytesIO(pictures(path)[0])) as image:
        assert (image.format, image.size) == ("PNG", (80, 80))
    raw = path.read_bytes()
    if kind in ("mp3", "flac", "wav"):
        assert b"image/png" in raw and b"image/jpeg" not in raw


def colours() -> bytes:
    image = Image.new("RGB", (4, 2))
    for at, value in enumerate(
        [(255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255), (0, 0, 0), (8, 4, 8), (128,) * 3,
         (3, 1, 3)]
    ):  # fmt: skip
        image.putpixel((at % 4, at // 4), value)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(("big", "order"), [(False, "little"), (True, "big")])
def test_rgb565_has_the_bits_where_a_display_expects_them(big: bool, order: Any) -> None:
    made = scale(colours(), PictureForm(32, "rgb565", big_endian=big))
    assert made is not None
    assert made[:4] == (b"565B" if big else b"565L")
    assert (int.from_bytes(made[4:6], "little"), int.from_bytes(made[6:8], "little")) == (4, 2)
    assert len(made) == 8 + 2 * 4 * 2
    words = [int.from_bytes(made[at : at + 2], order) for at in range(8, len(made), 2)]
    #        red     green   blue    white   black  one step each  middle   under half a step
    assert words == [0xF800, 0x07E0, 0x001F, 0xFFFF, 0x0000, 0x0821, 0x8410, 0x0000]


def test_rgb565_comes_back_within_half_a_step_of_each_colour() -> None:
    source = Image.radial_gradient("L").resize((40, 40)).convert("RGB")
    out = io.BytesIO()
    source.save(out, "PNG")
    made = scale(out.getvalue(), PictureForm(40, "rgb565"))
    assert made is not None
    for x, y in itertools.product(range(0, 40, 7), repeat=2):
        at = 8 + 2 * (y * 40 + x)
        word = int.from_bytes(made[at : at + 2], "little")
        back = ((word >> 11) * 255 / 31, (word >> 5 & 63) * 255 / 63, (word & 31) * 255 / 31)
        for found, true, step in zip(back, source.getpixel((x, y)), (31, 63, 31), strict=True):
            assert abs(found - true) <= 255 / step / 2 + 0.5


@pytest.mark.parametrize("kind", ["jpeg", "png", "rgb565"])
def test_a_square_picture_has_exactly_its_size_and_black_beside_it(kind: str) -> None:
    out = io.BytesIO()
    Image.new("RGB", (300, 150), (255, 255, 255)).save(out, "PNG")
    form = PictureForm(120, kind, square=True)
    made = scale(out.getvalue(), form)
    assert made is not None
    if kind == "rgb565":
        assert len(made) == 8 + 120 * 120 * 2
        assert made[8:10] == b"\0\0" and made[8 + 2 * 60 * 120 :][:2] == b"\xff\xff"
        return
    with Image.open(io.BytesIO(made)) as image:
        assert image.size == (120, 120)
        shown = image.convert("RGB")
        assert max(shown.getpixel((60, 5))) < 16
        assert min(shown.getpixel((60, 60))) > 240


@pytest.mark.parametrize("bits", [16, 24])
def test_no_flac_frame_is_larger_than_the_players_buffer_even_of_noise(
    bits: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    noise = np.random.default_rng(5).uniform(-1, 1, (60_000, 2))
    source = master(tmp_path / "noise.wav", noise, bits=bits)
    plays = Plays(codec="flac", max_frame_bytes=6000, max_block_samples=4096)
    encode = Encode(codec="flac", max_bits_per_sample=24)
    recipe = make_recipe(source.track.audio, Profile(name="test", plays=(plays,), encode=encode))
    made = press(source.track, recipe, store, tool).path
    listed = subprocess.run(
        [need("metaflac", "flac"), "--show-max-framesize", "--show-max-blocksize", str(made)],
        check=True, capture_output=True, text=True,
    ).stdout.split()  # fmt: skip
    assert 3000 < int(listed[0]) <= 6000
    assert int(listed[1]) == recipe.block_samples == (1152 if bits == 16 else 576)
    facts = read_file(LibraryPath(str(made))).audio
    assert why_not_carried(facts, plays) is None  # it would be carried over as it is now
