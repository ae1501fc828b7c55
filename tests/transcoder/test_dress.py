"""Dressing: tags read back by readers that did not write them, and audio that did not change.

Frames: ID3v2.4.0 and 2.3.0 native frames, sections 4.2; TPE3 is the conductor, TIT1 the content
group. FLAC metadata blocks: RFC 9639 section 8. Second readers: ffprobe, metaflac, tinytag.
"""

import base64
import io
import json
import subprocess
from pathlib import Path

import mutagen
import numpy as np
import pytest
import soundfile
import xxhash
from mutagen.flac import FLAC, Picture
from mutagen.id3 import APIC, ID3, TIT2
from PIL import Image
from tinytag import TinyTag
from transcoder_kit import ffmpeg_encode, master, music, need

from syncd.errors import ItemProblem
from syncd.model import ContentHash
from syncd.profile import TagWriting
from syncd.transcoder.dress import DamagedPressing, dress, undressed

OPTIONS = {
    "mp3": ("m.mp3", ["-c:a", "libmp3lame"]),
    "flac": ("m.flac", ["-c:a", "flac"]),
    "mp4": ("m.m4a", ["-c:a", "aac"]),
    "ogg": ("m.ogg", ["-c:a", "libvorbis"]),
    "ogg opus": ("m.opus", ["-c:a", "libopus"]),
    "wav": ("m.wav", ["-c:a", "pcm_s16le"]),
    "aiff": ("m.aiff", ["-c:a", "pcm_s16be"]),
    "wavpack": ("m.wv", ["-c:a", "wavpack"]),
}
TAGS = (
    ("TITLE", "Élégie for nobody"),
    ("ARTIST", "Ilse Vorhanden"),
    ("ARTIST", "Second Name"),
    ("COMPOSER", "Antonín Dvořák"),
    ("CONDUCTOR", "Mira Taktell"),
    ("WORK", "Symphony No. 9"),
    ("MOVEMENTNAME", "Largo"),
    ("MOVEMENT", "2"),
    ("MOVEMENTTOTAL", "4"),
    ("TRACKNUMBER", "3"),
    ("TRACKTOTAL", "12"),
    ("PERFORMER", "Jo Fiddle (violin)"),
    ("ALBUM", "An Evening"),
    ("DATE", "1999-02-03"),
)


def jpeg(side: int = 64) -> bytes:
    out = io.BytesIO()
    Image.radial_gradient("L").resize((side, side)).convert("RGB").save(out, "JPEG")
    return out.getvalue()


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("plain")
    master(folder / "source.wav", music(30_000))
    return {
        name: ffmpeg_encode(folder / "source.wav", folder / file, *options,
                            "-metadata", "title=Old title")
        for name, (file, options) in OPTIONS.items()
    }  # fmt: skip


def written(
    source: Path, kind: str, tmp_path: Path, writing: TagWriting | None = None, **named: object
) -> Path:
    tags, art = named.get("tags", TAGS), named.get("art", jpeg())
    target = tmp_path / f"dressed{source.suffix}"
    with dress(source, kind.split()[0], tags, art, writing or TagWriting(), tmp_path) as dressed:
        data = b"".join(dressed.chunks())
        assert len(data) == dressed.size
        assert b"".join(dressed.chunks()) == data
    target.write_bytes(data)
    return target


def probe(path: Path) -> dict[str, str]:
    command = [need("ffprobe", "ffmpeg"), "-v", "error", "-of", "json", "-show_streams"]
    text = subprocess.run([*command, "-show_format", str(path)], check=True, capture_output=True)
    found = json.loads(text.stdout)
    tags = dict(found["format"].get("tags", {}))
    for stream in found["streams"]:
        if stream["codec_type"] == "audio":
            tags |= stream.get("tags", {})
    return {name.lower(): value for name, value in tags.items()}


def audio_md5(path: Path) -> bytes:
    command = [need("ffmpeg", "ffmpeg"), "-v", "error", "-i", str(path), "-map", "0:a:0"]
    return subprocess.run([*command, "-f", "md5", "-"], check=True, capture_output=True).stdout


@pytest.mark.parametrize("kind", OPTIONS)
def test_a_second_reader_finds_the_tags_and_the_audio_is_untouched(
    kind: str, plain: dict[str, Path], tmp_path: Path
) -> None:
    target = written(plain[kind], kind, tmp_path)
    assert audio_md5(target) == audio_md5(plain[kind])
    tags = probe(target)
    assert tags["title"] == "Élégie for nobody"
    assert tags["composer"] == "Antonín Dvořák"
    assert tags["album"] == "An Evening"
    assert tags.get("track", tags.get("tracknumber")) in ("3", "3/12")
    assert b"Old title" not in target.read_bytes()


@pytest.mark.parametrize("kind", [kind for kind in OPTIONS if kind != "wavpack"])
def test_a_third_reader_finds_them_too(kind: str, plain: dict[str, Path], tmp_path: Path) -> None:
    tag = TinyTag.get(written(plain[kind], kind, tmp_path), image=True)
    assert tag.title == "Élégie for nobody"
    assert tag.composer == "Antonín Dvořák"
    assert tag.artist == "Ilse Vorhanden"
    assert (tag.track, tag.year) == (3, "1999-02-03")
    assert abs((tag.duration or 0) - 30_000 / 44100) < 0.06
    if kind != "aiff":  # this reader knows no pictures there
        assert tag.images.any is not None
        assert tag.images.any.data == jpeg()


def test_a_flac_keeps_its_streaminfo_and_nothing_else_of_its_old_head(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    target = written(plain["flac"], "flac", tmp_path)
    metaflac = need("metaflac", "flac")
    shown = subprocess.run(
        [metaflac, "--list", str(target)], check=True, capture_output=True, text=True
    ).stdout
    types = [
        line.split("(")[1][:-1]
        for line in shown.splitlines()
        if line.startswith("  type: ") and line[8].isdigit() and "Cover" not in line
    ]
    assert types == ["STREAMINFO", "VORBIS_COMMENT", "PICTURE"]
    comments = [
        line.split(": ", 1)[1] for line in shown.splitlines() if line.strip().startswith("comment[")
    ]
    assert comments == [f"{name}={value}" for name, value in TAGS]
    subprocess.run([need("flac", "flac"), "-s", "-t", str(target)], check=True)
    before, _ = soundfile.read(plain["flac"], dtype="int16")
    after, _ = soundfile.read(target, dtype="int16")
    assert np.array_equal(before, after)


def test_id3_24_has_the_standards_frames(plain: dict[str, Path], tmp_path: Path) -> None:
    tag = ID3(written(plain["mp3"], "mp3", tmp_path))
    assert tag.version == (2, 4, 0)
    assert tag["TPE3"].text == ["Mira Taktell"]
    assert tag["TIT1"].text == tag["TXXX:WORK"].text == ["Symphony No. 9"]
    assert (tag["MVNM"].text, tag["MVIN"].text) == (["Largo"], ["2/4"])
    assert tag["TPE1"].text == ["Ilse Vorhanden", "Second Name"]
    assert tag["TMCL"].people == [["violin", "Jo Fiddle"]]
    assert tag["TRCK"].text == ["3/12"]
    assert tag.getall("APIC")[0].data == jpeg()


def test_id3_23_has_the_older_frames_and_encodings(plain: dict[str, Path], tmp_path: Path) -> None:
    target = written(plain["mp3"], "mp3", tmp_path, TagWriting(id3_version="2.3"))
    raw = target.read_bytes()
    assert raw[3:5] == b"\x03\x00"
    tag = ID3(target, translate=False)
    assert tag["IPLS"].people == [["violin", "Jo Fiddle"]]
    assert str(tag["TYER"]) == "1999"
    assert str(tag["TDAT"]) == "0302"  # DDMM, ID3v2.3.0 section 4.2.1
    assert tag["TPE1"].text == ["Ilse Vorhanden/Second Name"]
    # Encodings 0 (Latin-1) and 1 (UTF-16) are all that 2.3 knows (section 3.3).
    assert {int(frame.encoding) for frame in tag.values() if hasattr(frame, "encoding")} <= {0, 1}


def test_an_ascii_player_gets_ascii_tags(plain: dict[str, Path], tmp_path: Path) -> None:
    writing = TagWriting(charset="ascii", id3_version="2.3")
    tag = ID3(written(plain["mp3"], "mp3", tmp_path, writing))
    assert tag["TIT2"].text == ["Elegie for nobody"]
    assert tag["TCOM"].text == ["Antonin Dvorak"]
    assert all(frame.encoding == 0 for frame in tag.values() if hasattr(frame, "encoding"))


def test_several_values_stay_several(plain: dict[str, Path], tmp_path: Path) -> None:
    for kind in ("flac", "ogg", "ogg opus", "mp4"):
        tags = mutagen.File(written(plain[kind], kind, tmp_path)).tags
        assert tags["©ART" if kind == "mp4" else "ARTIST"] == ["Ilse Vorhanden", "Second Name"]


def test_work_and_movement_have_their_own_items_in_mp4(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    tags = mutagen.File(written(plain["mp4"], "mp4", tmp_path)).tags
    assert tags["©wrk"] == ["Symphony No. 9"]
    assert (tags["©mvn"], tags["©mvi"], tags["©mvc"]) == (["Largo"], [2], [4])
    assert tags["trkn"] == [(3, 12)]


@pytest.mark.parametrize("kind", ["ogg", "ogg opus"])
def test_the_picture_in_ogg_is_a_picture_block(
    kind: str, plain: dict[str, Path], tmp_path: Path
) -> None:
    tags = mutagen.File(written(plain[kind], kind, tmp_path)).tags
    picture = Picture(base64.b64decode(tags["METADATA_BLOCK_PICTURE"][0]))
    assert (picture.type, picture.mime, picture.data) == (3, "image/jpeg", jpeg())
    assert (picture.width, picture.height) == (64, 64)


@pytest.mark.parametrize("kind", OPTIONS)
def test_equal_inputs_give_equal_bytes_and_leave_nothing_behind(
    kind: str, plain: dict[str, Path], tmp_path: Path
) -> None:
    first = written(plain[kind], kind, tmp_path).read_bytes()
    assert written(plain[kind], kind, tmp_path).read_bytes() == first
    again = written(tmp_path / f"dressed{plain[kind].suffix}", kind, tmp_path)
    assert again.read_bytes() == first  # dressing what is dressed changes nothing
    assert [path.name for path in tmp_path.iterdir()] == [again.name]


def test_pictures_are_left_out_where_the_player_wants_none(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    writing = TagWriting(art="none")
    for kind in OPTIONS:
        assert jpeg() not in written(plain[kind], kind, tmp_path, writing).read_bytes()


def test_no_tags_at_all_is_a_bare_file(plain: dict[str, Path], tmp_path: Path) -> None:
    target = written(plain["mp3"], "mp3", tmp_path, tags=(), art=None)
    assert target.read_bytes()[:2] == b"\xff\xfb"


def test_every_old_tag_of_an_mp3_goes(plain: dict[str, Path], tmp_path: Path) -> None:
    bare = written(plain["mp3"], "mp3", tmp_path, tags=(), art=None).read_bytes()
    ape = io.BytesIO()
    tag = mutagen.apev2.APEv2()
    tag["Title"] = "Old title"
    tag.save(ape)
    head = io.BytesIO()
    old = ID3()
    old.add(TIT2(encoding=3, text=["Old title"]))
    old.add(APIC(encoding=0, mime="image/jpeg", type=3, desc="", data=jpeg(300)))
    old.save(head, v1=0)
    lyrics = b"LYRICSBEGININD0000200" + b"000021LYRICS200"
    full = tmp_path / "full.mp3"
    full.write_bytes(head.getvalue() + bare + ape.getvalue() + lyrics + b"TAG" + bytes(125))
    assert written(full, "mp3", tmp_path, tags=(), art=None).read_bytes() == bare


def test_the_channel_mask_of_a_multichannel_flac_survives(tmp_path: Path) -> None:
    master(tmp_path / "six.flac", music(5000, channels=6))
    audio = FLAC(tmp_path / "six.flac")
    audio["WAVEFORMATEXTENSIBLE_CHANNEL_MASK"] = "0x60f"
    audio.save()
    target = FLAC(written(tmp_path / "six.flac", "flac", tmp_path))
    assert target["WAVEFORMATEXTENSIBLE_CHANNEL_MASK"] == ["0x60F"]


def test_hostile_values_are_written_as_plain_text(plain: dict[str, Path], tmp_path: Path) -> None:
    tags = (
        ("TITLE", "a\0b\x1bc"),
        ("ALBUM", "x" * 50_000),
        ("COMPOSER", "bad \udcff surrogate"),
        ("ARTIST", "../../x; rm -rf ~"),
        ("BAD=NAME", "dropped"),
        ("", "dropped"),
        ("GENRE", "   "),
        ("TRACKNUMBER", "9" * 4000),
        ("DISCNUMBER", "70000"),
        ("MOVEMENT", "IV"),
        ("DATE", "sometime"),
        ("PERFORMER", "(("),
    )
    for kind in OPTIONS:
        target = written(plain[kind], kind, tmp_path, tags=tags)
        assert audio_md5(target) == audio_md5(plain[kind])
        found = probe(target)
        assert found["title"] == "abc"
        assert found["composer"] == "bad  surrogate"
        assert len(found["album"]) == 10_000
        assert "dropped" not in found.values()
        assert "genre" not in found


def test_a_damaged_pressing_is_found_before_its_last_piece(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    for kind in OPTIONS:
        source = tmp_path / plain[kind].name
        data = plain[kind].read_bytes()
        source.write_bytes(data)
        expect = ContentHash(xxhash.xxh3_128_hexdigest(data))

        def whole(kind: str = kind, source: Path = source, expect: ContentHash = expect) -> bytes:
            container = kind.split()[0]
            with dress(
                source, container, TAGS, None, TagWriting(), tmp_path, expect=expect
            ) as dressed:
                return b"".join(dressed.chunks())

        assert whole()
        source.write_bytes(data[:-2000] + bytes([data[-2000] ^ 1]) + data[-1999:])
        with pytest.raises(DamagedPressing, match="made again"):
            whole()
    assert not list(tmp_path.glob("dress-*"))


def test_a_source_that_shrinks_while_it_is_read_is_told(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    source = tmp_path / "m.flac"
    source.write_bytes(plain["flac"].read_bytes())
    dressed = dress(source, "flac", TAGS, None, TagWriting(), tmp_path)
    source.write_bytes(plain["flac"].read_bytes()[:-500])
    with pytest.raises(ItemProblem, match="became shorter"):
        list(dressed.chunks())


@pytest.mark.parametrize("kind", sorted({kind.split()[0] for kind in OPTIONS}))
@pytest.mark.parametrize(
    "data",
    [b"", b"#EXTM3U\n/etc/passwd\n", b"ID3\x04\0\0\x7f\x7f\x7f\x7f", b"fLaC\0\0\0\x22", b"\0" * 99],
)
def test_what_is_not_of_its_kind_is_an_item_problem(kind: str, data: bytes, tmp_path: Path) -> None:
    source = tmp_path / "odd"
    source.write_bytes(data)
    with pytest.raises(ItemProblem):
        dress(source, kind, TAGS, None, TagWriting(), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["odd"]


def test_a_missing_source_and_an_unknown_kind_are_told(tmp_path: Path) -> None:
    with pytest.raises(ItemProblem, match="cannot be read"):
        dress(tmp_path / "no.flac", "flac", (), None, TagWriting(), tmp_path)
    with pytest.raises(ItemProblem, match="cannot be read"):
        dress(tmp_path / "no.m4a", "mp4", (), None, TagWriting(), tmp_path)
    with pytest.raises(ItemProblem, match="no way to put tags"):
        (tmp_path / "x").write_bytes(b"x")
        dress(tmp_path / "x", "midi", (), None, TagWriting(), tmp_path)


def test_a_file_can_go_as_it_is(plain: dict[str, Path]) -> None:
    for path in plain.values():
        with undressed(path) as same:
            assert b"".join(same.chunks()) == path.read_bytes()
            assert same.size == path.stat().st_size


def test_a_wav_cut_off_by_its_recorder_is_dressed_to_its_real_length(
    plain: dict[str, Path], tmp_path: Path
) -> None:
    data = bytearray(plain["wav"].read_bytes())
    at = data.index(b"data")
    data[at + 4 : at + 8] = b"\xff\xff\xff\xff"
    (tmp_path / "cut.wav").write_bytes(data)
    target = written(tmp_path / "cut.wav", "wav", tmp_path)
    assert soundfile.info(target).frames == 30_000
