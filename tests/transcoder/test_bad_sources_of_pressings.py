"""Masters that are damaged, mislabelled or hostile: told in a sentence, never passed on."""

import os
import subprocess
from pathlib import Path

import pytest
import soundfile
from transcoder_kit import Master, facts, ffmpeg_encode, master, music, recipe_for, track_of

from syncd.errors import ItemProblem
from syncd.model import AudioFacts, Codec, LibraryPath, Track
from syncd.transcoder.ffmpeg_port import DEMUXERS, Ffmpeg, source
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


def refusal(track: Track, store: Store, tool: Ffmpeg, **encode: object) -> str:
    recipe = recipe_for(track.audio, **(encode or {"codec": "mp3", "quality": 2}))
    with pytest.raises(ItemProblem) as caught:
        press(track, recipe, store, tool)
    assert not store.sizes()
    assert not list((store.folder / "parts").iterdir())
    text = str(caught.value)
    assert text.endswith(".")
    return text


def changed(source: Master, data: bytes) -> Track:
    Path(source.track.path).write_bytes(data)
    return track_of(Path(source.track.path), source.track.audio)


@pytest.mark.parametrize("kind", ["flac", "wav", "aiff"])
def test_a_truncated_master_is_found_by_its_length(
    kind: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    whole = master(tmp_path / f"m.{kind}", music(100_000))
    data = Path(whole.track.path).read_bytes()
    text = refusal(changed(whole, data[: len(data) * 2 // 3]), store, tool)
    assert "damaged" in text
    assert f"m.{kind}" in text


def test_a_truncated_mp3_is_found_by_its_info_frame(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    master(tmp_path / "m.wav", music(200_000))
    path = ffmpeg_encode(tmp_path / "m.wav", tmp_path / "m.mp3")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    audio = facts("mp3", Codec.MP3, 200_000, bits=None)
    text = refusal(track_of(path, audio), store, tool, codec="opus", bitrate_kbps=96)
    assert "of the 175 frames" in text or "of the 174 frames" in text
    assert "damaged at 0:00:02." in text


@pytest.mark.parametrize("seed", range(4))
def test_a_flac_with_damage_in_the_middle_is_found(
    seed: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    whole = master(tmp_path / "m.flac", music(200_000))
    data = bytearray(Path(whole.track.path).read_bytes())
    at = len(data) // 5 * (seed + 1)
    data[at : at + 3] = bytes(byte ^ 0x5A for byte in data[at : at + 3])
    assert "damaged" in refusal(changed(whole, bytes(data)), store, tool)


@pytest.mark.parametrize("kind", sorted(DEMUXERS))
@pytest.mark.parametrize(
    "data", [b"", b"This is a text file.\n" * 50, bytes(5000)], ids=["empty", "text", "zeros"]
)
def test_what_is_no_audio_is_refused_in_every_kind(
    kind: str, data: bytes, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    path = tmp_path / f"odd.{kind}"
    path.write_bytes(data)
    audio = AudioFacts(kind, Codec.FLAC, 44100, 2, 10.0, 16, 700_000, 441_000)
    text = refusal(track_of(path, audio), store, tool)
    assert "odd." in text


@pytest.mark.parametrize("kind", sorted(DEMUXERS))
@pytest.mark.parametrize("form", ["concat", "playlist", "sdp"])
def test_a_script_named_as_audio_opens_no_other_file(
    kind: str, form: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    secret = master(tmp_path / "secret.wav", music(44_100))
    scripts = {
        "concat": f"ffconcat version 1.0\nfile '{secret.track.path}'\n",
        "playlist": f"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nfile:{secret.track.path}\n",
        "sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\nm=audio 5004 RTP/AVP 0\nc=IN IP4 127.0.0.1\n",
    }
    path = tmp_path / f"script.{kind}"
    path.write_text(scripts[form])
    audio = AudioFacts(kind, Codec.FLAC, 44100, 2, 1.0, 16, 700_000, None)
    refusal(track_of(path, audio), store, tool)


def test_the_script_would_have_worked_had_ffmpeg_been_let_choose(
    tmp_path: Path, tool: Ffmpeg
) -> None:
    # The counterpart of the test above: without the forced demuxer the other file is read.
    secret = master(tmp_path / "secret.wav", music(44_100))
    script = tmp_path / "script.flac"
    script.write_text(f"ffconcat version 1.0\nfile '{Path(secret.track.path).name}'\n")
    naive = [tool.executable, "-v", "error", "-i", str(script), "-f", "null", "-"]
    assert subprocess.run(naive, capture_output=True, check=False).returncode == 0


ODD_NAMES = [
    b"new\nline.flac",
    b"per%cent %d %03d.flac",
    b"-dash.flac",
    b"quo'te\".flac",
    b"pipe|and;semi.flac",
    b"concat:a.flac|b.flac",
    b"http:%2f%2fnowhere.flac",
    b"not utf-8 \xff\xfe.flac",
    "Dvořák – «Novosvětská» 🎻.flac".encode(),
    b"back\\slash [brackets] {braces}.flac",
    b" leading and trailing .flac ",
    b"$(touch x) `touch y`.flac",
]


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_master_of_any_name_is_pressed(
    name: bytes, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    plain = master(tmp_path / "m.flac", music(5000))
    path = os.fsdecode(os.path.join(os.fsencode(tmp_path), name))  # noqa: PTH118 - bytes
    Path(plain.track.path).rename(path)
    track = Track(LibraryPath(path), plain.track.audio_hash, plain.track.audio, 1)
    recipe = recipe_for(track.audio, codec="mp3", quality=2)
    assert press(track, recipe, store, tool).size_bytes > 1000


def test_a_name_that_is_not_utf_8_can_be_printed_in_its_problem(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    path = os.fsdecode(os.fsencode(tmp_path) + b"/bad \xff.flac")
    Path(path).write_bytes(b"no audio")
    track = Track(LibraryPath(path), track_of(Path(path), facts("flac", Codec.FLAC, 10)).audio_hash,
                  facts("flac", Codec.FLAC, 44_100), 8)  # fmt: skip
    refusal(track, store, tool).encode("utf-8")


def test_only_file_and_pipe_may_be_opened(tool: Ffmpeg) -> None:
    for address in ("http://127.0.0.1:9/a.flac", "concat:/etc/hostname|/etc/hostname"):
        stream = source(address, "flac")
        # The name is a file's name, whatever it looks like.
        with pytest.raises(ItemProblem, match="No such file"):
            tool.run(stream.output("-", f="null"), item=address, limit_s=20)


def test_an_unknown_kind_has_no_reader() -> None:
    with pytest.raises(ItemProblem, match="no reader"):
        source("x.mid", "midi")


def test_a_master_that_is_longer_than_its_header_says_is_told(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    whole = master(tmp_path / "m.wav", music(50_000))
    audio = facts("wav", Codec.PCM, 40_000)
    path = Path(whole.track.path)
    assert "promises" in refusal(track_of(path, audio), store, tool)


def test_a_pressing_that_is_not_its_source_fails_inspection(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    from syncd.transcoder.inspect import check_level, inspect
    from syncd.transcoder.meters import Level

    source_file = master(tmp_path / "m.flac", music(60_000))
    recipe = recipe_for(source_file.track.audio, codec="mp3", quality=2)
    pressing = press(source_file.track, recipe, store, tool)
    right = inspect("m.flac", pressing.path, recipe, Level(60_000, 0.01, 0.7), tool)
    assert right.samples == 60_000
    with pytest.raises(ItemProblem, match="59999 went into"):
        inspect("m.flac", pressing.path, recipe, Level(59_999, 0.01, 0.7), tool)
    louder = Level(right.samples, right.mean_square * 10**0.06, right.sample_peak)
    with pytest.raises(ItemProblem, match=r"-0\.6 dB"):
        check_level("m.flac", louder, right, louder.mean_dbfs, right.mean_dbfs)
    check_level("m.flac", louder, right, -30.0, -30.2)  # equal where both have signal


def test_a_flac_pressing_with_a_changed_sample_fails_inspection(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    from syncd.transcoder.inspect import inspect
    from syncd.transcoder.meters import Level

    source_file = master(tmp_path / "m.wav", music(60_000))
    recipe = recipe_for(source_file.track.audio, codec="flac")
    data = bytearray(press(source_file.track, recipe, store, tool).path.read_bytes())
    data[30] ^= 1  # a bit of the MD5 in STREAMINFO
    odd = tmp_path / "odd.flac"
    odd.write_bytes(data)
    with pytest.raises(ItemProblem, match="checksum"):
        inspect("m.wav", odd, recipe, Level(60_000, 0.01, 0.7), tool)


def test_the_reader_of_the_tests_agrees_that_the_damage_matters(tmp_path: Path) -> None:
    whole = master(tmp_path / "m.flac", music(200_000))
    path = Path(whole.track.path)
    data = bytearray(path.read_bytes())
    at = len(data) // 5
    data[at : at + 3] = bytes(byte ^ 0x5A for byte in data[at : at + 3])
    path.write_bytes(bytes(data))
    with pytest.raises(soundfile.LibsndfileError):
        soundfile.read(path)
