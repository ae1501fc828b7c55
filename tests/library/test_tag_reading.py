"""Tags of every system come under their Vorbis names, and a second reader sees the same values."""

import base64
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mutagen
import pytest
import xxhash
from mutagen import id3
from mutagen.apev2 import APEBinaryValue, APEv2
from mutagen.flac import FLAC, Picture
from mutagen.mp4 import MP4, MP4Cover
from tinytag import TinyTag

from syncd.library.tagnames import LONGEST_VALUE, split_23
from syncd.library.tags import FileReading, embedded_picture, read_file
from syncd.model import LibraryPath

Copy = Callable[..., Path]
JPEG = b"\xff\xd8\xff\xe0" + bytes(500)


def read(path: Path) -> FileReading:
    return read_file(LibraryPath(str(path)))


def tags(path: Path) -> dict[str, tuple[str, ...]]:
    return read(path).tags


ID3_FRAMES: dict[str, tuple[Any, dict[str, tuple[str, ...]]]] = {
    # ID3v2.4.0 native frames §4.2; the vendor frames at the end are de facto
    "TIT2": (id3.TIT2(text="Adagio"), {"TITLE": ("Adagio",)}),
    "TIT1": (id3.TIT1(text="Octet"), {"GROUPING": ("Octet",)}),
    "TPE1": (id3.TPE1(text=["Ana Vell", "Bo Tarn"]), {"ARTIST": ("Ana Vell", "Bo Tarn")}),
    "TPE2": (id3.TPE2(text="Lake Players"), {"ALBUMARTIST": ("Lake Players",)}),
    "TPE3": (id3.TPE3(text="Ida Holm"), {"CONDUCTOR": ("Ida Holm",)}),
    "TCOM": (id3.TCOM(text="Clara Schumann"), {"COMPOSER": ("Clara Schumann",)}),
    "TEXT": (id3.TEXT(text="Heine"), {"LYRICIST": ("Heine",)}),
    "TRCK": (id3.TRCK(text="4/9"), {"TRACKNUMBER": ("4",), "TRACKTOTAL": ("9",)}),
    "TPOS": (id3.TPOS(text="1/2"), {"DISCNUMBER": ("1",), "DISCTOTAL": ("2",)}),
    "TDRC": (id3.TDRC(text="1962-03-01"), {"DATE": ("1962-03-01",)}),
    "TPUB": (id3.TPUB(text="Own Label"), {"LABEL": ("Own Label",)}),
    "TKEY": (id3.TKEY(text="Bbm"), {"KEY": ("Bbm",)}),
    "TCON": (id3.TCON(text="(32)"), {"GENRE": ("Classical",)}),
    "TXXX": (id3.TXXX(desc="Work", text="Octet"), {"WORK": ("Octet",)}),
    "TMCL": (id3.TMCL(people=[["violin", "Ana Vell"]]), {"PERFORMER": ("Ana Vell (violin)",)}),
    "TIPL": (id3.TIPL(people=[["arranger", "Bo Tarn"]]), {"ARRANGER": ("Bo Tarn",)}),
    "TSOC": (id3.TSOC(text="Schumann, Clara"), {"COMPOSERSORT": ("Schumann, Clara",)}),
    "MVNM": (id3.MVNM(text="Adagio"), {"MOVEMENTNAME": ("Adagio",)}),
    "MVIN": (id3.MVIN(text="1/4"), {"MOVEMENT": ("1",), "MOVEMENTTOTAL": ("4",)}),
    "GRP1": (id3.GRP1(text="Chamber"), {"GROUPING": ("Chamber",)}),
}


@pytest.mark.parametrize("name", ID3_FRAMES)
@pytest.mark.parametrize("version", [3, 4])
def test_id3_frames_come_under_their_vorbis_names(copy_of: Copy, name: str, version: int) -> None:
    path = copy_of("a.mp3")
    frame, expected = ID3_FRAMES[name]
    tag = id3.ID3()
    tag.add(frame)
    if version == 3:
        tag.update_to_v23()
    tag.save(path, v2_version=version, v23_sep="/")
    assert {key: value for key, value in tags(path).items() if key != "ENCODER"} == expected


def test_tit1_holds_the_work_where_the_movement_frames_are_used(copy_of: Copy) -> None:
    path = copy_of("a.mp3")
    tag = id3.ID3()
    tag.add(id3.TIT1(text="Octet"))
    tag.add(id3.MVNM(text="Adagio"))
    tag.save(path)
    assert tags(path)["WORK"] == ("Octet",)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("Ana Vell/Bo Tarn", ("Ana Vell", "Bo Tarn")),
        ("AC/XY", ("AC/XY",)),
        ("Ana Vell", ("Ana Vell",)),
        ("/", ("/",)),
    ],
)
def test_a_slash_parts_people_in_id3v23_unless_a_part_is_too_short(
    text: str, values: tuple[str, ...]
) -> None:
    """ID3v2.3.0 §4.2.1 for the slash; the exception is common practice without a source."""
    assert split_23(text) == values


def test_a_slash_in_a_title_parts_nothing(copy_of: Copy) -> None:
    path = copy_of("a.mp3")
    tag = id3.ID3()
    tag.add(id3.TIT2(text="Prelude / Fugue"))
    tag.save(path, v2_version=3)
    assert tags(path)["TITLE"] == ("Prelude / Fugue",)


def test_ids_of_the_three_letter_version_are_read(copy_of: Copy) -> None:
    """ID3v2.2: six-byte frame heads, TT2 for the title, TCM for the composer."""
    path = copy_of("a.mp3")
    id3.ID3().delete(path)
    frames = b"".join(
        kind + len(body).to_bytes(3, "big") + body
        for kind, body in [(b"TT2", b"\0Largo"), (b"TCM", b"\0Fanny Hensel"), (b"TRK", b"\x002/3")]
    )
    head = b"ID3\x02\0\0" + bytes([0, 0, len(frames) >> 7, len(frames) & 0x7F])
    path.write_bytes(head + frames + path.read_bytes())
    found = tags(path)
    assert (found["TITLE"], found["COMPOSER"]) == (("Largo",), ("Fanny Hensel",))
    assert (found["TRACKNUMBER"], found["TRACKTOTAL"]) == (("2",), ("3",))


def test_id3v1_is_read_where_there_is_nothing_else(copy_of: Copy) -> None:
    path = copy_of("a.mp3")
    id3.ID3().delete(path)
    block = b"TAG" + b"Largo".ljust(30, b"\0") + b"Ana Vell".ljust(30, b"\0") + bytes(65)
    path.write_bytes(path.read_bytes() + block)
    assert tags(path)["TITLE"] == ("Largo",)
    assert tags(path)["ARTIST"] == ("Ana Vell",)


def test_mp4_atoms_come_under_their_vorbis_names(copy_of: Copy) -> None:
    path = copy_of("aac.m4a")
    tagged = MP4(path)
    tagged.clear()
    tagged["\xa9nam"], tagged["\xa9wrt"] = "Adagio", "Clara Schumann"
    tagged["\xa9wrk"], tagged["\xa9mvn"] = "Octet", "Adagio"
    tagged["\xa9mvi"], tagged["\xa9mvc"] = [2], [4]
    tagged["trkn"], tagged["disk"], tagged["soco"] = [(3, 12)], [(1, 0)], "Schumann, Clara"
    tagged["----:org.example.tagger:Conductor"] = [b"Ida Holm"]
    tagged["----:com.example.other:PERFORMER"] = [b"Ana Vell (violin)", b"Bo Tarn (viola)"]
    tagged.save()
    assert tags(path) == {
        "TITLE": ("Adagio",), "COMPOSER": ("Clara Schumann",), "WORK": ("Octet",),
        "MOVEMENTNAME": ("Adagio",), "MOVEMENT": ("2",), "MOVEMENTTOTAL": ("4",),
        "TRACKNUMBER": ("3",), "TRACKTOTAL": ("12",), "DISCNUMBER": ("1",),
        "COMPOSERSORT": ("Schumann, Clara",), "CONDUCTOR": ("Ida Holm",),
        "PERFORMER": ("Ana Vell (violin)", "Bo Tarn (viola)"),
    }  # fmt: skip


@pytest.mark.parametrize("name", ["a.flac", "a.ogg", "a.opus", "flac.oga"])
def test_vorbis_comments_keep_names_order_and_repetition(copy_of: Copy, name: str) -> None:
    path = copy_of(name)
    tagged: Any = mutagen.File(path)
    tagged["title"] = "Adagio"
    tagged["Composer"] = ["Clara Schumann"]
    tagged["PERFORMER"] = ["Ana Vell (violin)", "Bo Tarn (viola)"]
    tagged["TRACKNUMBER"] = "3/12"
    tagged["OWNFIELD"] = "kept"
    tagged.save()
    found = tags(path)
    assert found["TITLE"] == ("Adagio",)
    assert found["COMPOSER"] == ("Clara Schumann",)
    assert found["PERFORMER"] == ("Ana Vell (violin)", "Bo Tarn (viola)")
    assert (found["TRACKNUMBER"], found["TRACKTOTAL"]) == (("3",), ("12",))
    assert found["OWNFIELD"] == ("kept",)


def test_apev2_items_come_under_their_vorbis_names(copy_of: Copy) -> None:
    path = copy_of("a.wv")
    tag = APEv2()
    tag["Title"], tag["Track"], tag["Year"] = "Adagio", "3/12", "1962"
    tag["Composer"] = ["Clara Schumann", "Fanny Hensel"]
    tag["Album Artist"] = "Lake Players"
    tag["Cover Art (Front)"] = APEBinaryValue(b"cover.jpg\0" + JPEG)
    tag.save(path)
    reading = read(path)
    assert reading.tags == {
        "TITLE": ("Adagio",), "TRACKNUMBER": ("3",), "TRACKTOTAL": ("12",), "DATE": ("1962",),
        "COMPOSER": ("Clara Schumann", "Fanny Hensel"), "ALBUMARTIST": ("Lake Players",),
    }  # fmt: skip
    assert reading.art == xxhash.xxh3_128_hexdigest(JPEG)


@pytest.mark.parametrize("name", ["a.wav", "a.aiff"])
def test_id3_chunks_in_wav_and_aiff_are_read(copy_of: Copy, name: str) -> None:
    path = copy_of(name)
    tagged: Any = mutagen.File(path)
    tagged.add_tags()
    tagged.tags.add(id3.TIT2(text="Adagio"))
    tagged.tags.add(id3.TPE3(text="Ida Holm"))
    tagged.tags.add(id3.APIC(mime="image/jpeg", type=3, data=JPEG))
    tagged.save()
    reading = read(path)
    assert reading.tags["TITLE"] == ("Adagio",)
    assert reading.tags["CONDUCTOR"] == ("Ida Holm",)
    assert embedded_picture(LibraryPath(str(path))) == JPEG


def test_riff_info_written_by_ffmpeg_is_read(
    masters: Path, tmp_path: Path, run_ffmpeg: Callable[..., bytes]
) -> None:
    path = tmp_path / "a.wav"
    run_ffmpeg(
        "-i", masters / "a.wav", "-metadata", "title=Largo é", "-metadata", "artist=Ana Vell", path
    )
    found = tags(path)
    assert (found["TITLE"], found["ARTIST"]) == (("Largo é",), ("Ana Vell",))


@pytest.mark.parametrize(
    "name", ["a.flac", "a.mp3", "aac.m4a", "alac.m4a", "a.ogg", "a.opus", "a.wav", "a.aiff"]
)
def test_a_second_reader_sees_the_same_values(
    masters: Path, tmp_path: Path, run_ffmpeg: Callable[..., bytes], name: str
) -> None:
    """Written by ffmpeg, read by tinytag and by us."""
    path = tmp_path / name
    wanted = {"title": "Adagio é", "artist": "Ana Vell", "album": "Abend", "genre": "Classical"}
    options = [part for key, value in wanted.items() for part in ("-metadata", f"{key}={value}")]
    extra = ["-write_id3v2", "1"] if name == "a.aiff" else []
    run_ffmpeg("-i", masters / name, "-c", "copy", *options, *extra, path)
    ours, theirs = tags(path), TinyTag.get(path)
    for key, value in wanted.items():
        assert ours[key.upper()] == (value,)
        assert getattr(theirs, key) == value
    assert theirs.duration == pytest.approx(read(path).audio.duration_s, abs=0.06)


@pytest.mark.skipif(shutil.which("metaflac") is None, reason="needs Debian's flac (metaflac)")
def test_tags_written_by_metaflac_are_read(copy_of: Copy) -> None:
    path = copy_of("a.flac")
    fields = ["--set-tag=COMPOSER=Clara Schumann", "--set-tag=ARTIST=A", "--set-tag=ARTIST=B"]
    subprocess.run(["metaflac", *fields, path], check=True)
    found = tags(path)
    assert (found["COMPOSER"], found["ARTIST"]) == (("Clara Schumann",), ("A", "B"))


def test_the_front_cover_is_preferred_to_other_pictures(copy_of: Copy) -> None:
    """Picture type 3, RFC 9639 §8.8."""
    path = copy_of("a.flac")
    tagged = FLAC(path)
    for kind, data in ((4, b"back"), (3, JPEG), (3, b"second")):
        picture = Picture()
        picture.type, picture.mime, picture.data = kind, "image/jpeg", data
        tagged.add_picture(picture)
    tagged.save()
    assert embedded_picture(LibraryPath(str(path))) == JPEG


def test_pictures_in_every_container_give_the_hash_of_their_bytes(copy_of: Copy) -> None:
    expected = xxhash.xxh3_128_hexdigest(JPEG)
    mp3 = copy_of("a.mp3")
    tag = id3.ID3()
    tag.add(id3.APIC(mime="image/jpeg", type=3, data=JPEG))
    tag.save(mp3)
    assert read(mp3).art == expected
    mp4 = copy_of("aac.m4a")
    whole = MP4(mp4)
    whole["covr"] = [MP4Cover(JPEG, MP4Cover.FORMAT_JPEG)]
    whole.save()
    assert read(mp4).art == expected
    ogg = copy_of("a.ogg")
    picture = Picture()
    picture.type, picture.mime, picture.data = 3, "image/jpeg", JPEG
    tagged: Any = mutagen.File(ogg)
    tagged["METADATA_BLOCK_PICTURE"] = base64.b64encode(picture.write()).decode()
    tagged.save()
    assert read(ogg).art == expected
    assert "METADATA_BLOCK_PICTURE" not in read(ogg).tags


def test_a_picture_that_is_a_link_is_never_taken(copy_of: Copy) -> None:
    """RFC 9639 §8.8 and ID3v2.4.0 §4.14: MIME type --> means that the data is a URL."""
    path = copy_of("a.mp3")
    tag = id3.ID3()
    tag.add(id3.APIC(mime="-->", type=3, data=b"file:///etc/passwd"))
    tag.save(path)
    assert read(path).art is None


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("two\0values", ("two", "values")),
        ("line\nbreak", ("line\nbreak",)),
        ("\u202eright to left", ("\u202eright to left",)),
        ("../../x", ("../../x",)),
        ("CON", ("CON",)),
        ("dot.", ("dot.",)),
        ("  \0 ", None),
        ("', DROP TABLE files; --", ("', DROP TABLE files; --",)),
    ],
)
def test_odd_values_are_kept_as_data(
    copy_of: Copy, written: str, expected: tuple[str, ...] | None
) -> None:
    path = copy_of("a.flac")
    tagged = FLAC(path)
    tagged["TITLE"] = written
    tagged.save()
    assert tags(path).get("TITLE") == expected


def test_a_value_that_is_too_long_is_cut_and_told(copy_of: Copy) -> None:
    path = copy_of("a.flac")
    tagged = FLAC(path)
    tagged["TITLE"] = "x" * 25_000
    tagged.save()
    reading = read(path)
    assert reading.tags["TITLE"] == ("x" * LONGEST_VALUE,)
    assert any("25000 characters" in note for note in reading.notes)
