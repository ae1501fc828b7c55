"""Remuxing: another container, the same samples, judged by decoders outside the project.

FLAC: Debian's flac tests the MD5 that STREAMINFO holds. AAC frames are compared byte by byte, by
their ADTS heads (ISO/IEC 14496-3 annex 1.A). Plain samples are read by libsndfile.
"""

import struct
import subprocess
from pathlib import Path

import mutagen
import numpy as np
import pytest
import soundfile
from transcoder_kit import ffmpeg_encode, music, need

from syncd.errors import ItemProblem
from syncd.library.tags import read_file
from syncd.model import AudioHash, LibraryPath, Track
from syncd.planner.prescribing import make_recipe
from syncd.profile import Encode, Plays, Profile, TagWriting
from syncd.transcoder import copying
from syncd.transcoder.dress import dress
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


def player(codec: str, *containers: str, **limits: object) -> Profile:
    return Profile(
        name="test",
        plays=(Plays(codec=codec, containers=containers, **limits), Plays(codec="mp3")),
        encode=Encode(codec="mp3", quality=2),
    )


def track(path: Path) -> Track:
    return Track(
        LibraryPath(str(path)), AudioHash("0" * 32), read_file(LibraryPath(str(path))).audio,
        path.stat().st_size,
    )  # fmt: skip


def remuxed(path: Path, profile: Profile, store: Store, tool: Ffmpeg) -> Path:
    one = track(path)
    recipe = make_recipe(one.audio, profile)
    assert recipe.action == "remux"
    made = press(one, recipe, store, tool)
    assert made.path.suffix == recipe.suffix
    assert made.path.stat().st_size < recipe.estimate_bytes(one.audio.duration_s)
    return made.path


def adts_payloads(data: bytes) -> list[bytes]:
    found = []
    while data:
        length = (data[3] & 3) << 11 | data[4] << 3 | data[5] >> 5
        found.append(data[7 if data[1] & 1 else 9 : length])
        data = data[length:]
    return found


@pytest.fixture
def wav(tmp_path: Path) -> Path:
    soundfile.write(tmp_path / "m.wav", music(60_000), 44100, subtype="PCM_16")
    return tmp_path / "m.wav"


def test_flac_in_ogg_becomes_native_flac_frame_by_frame(
    wav: Path, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = ffmpeg_encode(wav, tmp_path / "m.oga", "-c:a", "flac", "-f", "ogg")
    made = remuxed(source, player("flac", "flac"), store, tool)
    told = subprocess.run([need("flac", "flac"), "-t", str(made)], check=True, capture_output=True)
    assert b"WARNING" not in told.stderr  # the checksum that the Ogg file lacked is there
    assert soundfile.info(made).frames == 60_000
    found, _ = soundfile.read(made, dtype="int16")
    assert np.array_equal(found, soundfile.read(wav, dtype="int16")[0])


def test_native_flac_goes_into_ogg_for_a_player_that_wants_that(
    wav: Path, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = ffmpeg_encode(wav, tmp_path / "m.flac")
    made = remuxed(source, player("flac", "ogg"), store, tool)
    subprocess.run([need("flac", "flac"), "-s", "-t", "--ogg", str(made)], check=True)


def test_aac_from_mp4_becomes_adts_with_the_very_same_frames(
    wav: Path, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = ffmpeg_encode(wav, tmp_path / "m.m4a", "-c:a", "aac", "-b:a", "128k")
    made = remuxed(source, player("aac", "aac"), store, tool)
    frames = adts_payloads(made.read_bytes())
    assert len(frames) == -(-60_000 // 1024) + 1  # and one of priming
    assert b"".join(frames) in source.read_bytes()  # they lie together in the mdat box


def test_aac_in_adts_goes_into_mp4_and_back_to_the_same_bytes(
    wav: Path, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = ffmpeg_encode(wav, tmp_path / "m.aac", "-c:a", "aac", "-b:a", "128k")
    made = remuxed(source, player("aac", "mp4"), store, tool)
    assert mutagen.File(made).info.codec == "mp4a.40.2"
    assert b"".join(adts_payloads(source.read_bytes())) in made.read_bytes()
    with dress(made, "mp4", (("TITLE", "Song"),), None, TagWriting(), tmp_path) as dressed:
        (tmp_path / "dressed.m4a").write_bytes(b"".join(dressed.chunks()))
    assert mutagen.File(tmp_path / "dressed.m4a").tags["©nam"] == ["Song"]


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32"])
@pytest.mark.parametrize(("kind", "other"), [("wav", "aiff"), ("aiff", "wav")])
def test_plain_samples_change_their_container_and_no_value(
    subtype: str, kind: str, other: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = tmp_path / f"m.{kind}"
    soundfile.write(source, music(20_000), 44100, subtype=subtype, format=kind.upper())
    made = remuxed(source, player("pcm", other), store, tool)
    assert soundfile.info(made).subtype == subtype
    assert soundfile.info(made).format.startswith(other.upper())  # or WAVEX
    before, _ = soundfile.read(source, dtype="int32")
    assert np.array_equal(soundfile.read(made, dtype="int32")[0], before)


def test_eight_bit_samples_change_their_sign_form_with_the_container(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = tmp_path / "m.wav"
    soundfile.write(source, music(20_000), 44100, subtype="PCM_U8")
    made = remuxed(source, player("pcm", "aiff"), store, tool)
    assert soundfile.info(made).subtype == "PCM_S8"
    before, _ = soundfile.read(source, dtype="int16")
    assert np.array_equal(soundfile.read(made, dtype="int16")[0], before)


def padded_wav(path: Path, exact: bool) -> Path:
    """24-bit samples in words of 32, as WAVEFORMATEXTENSIBLE tells them (valid bits 24)."""
    rng = np.random.default_rng(24)
    samples = rng.integers(-(1 << 23), 1 << 23, (10_000, 2)).astype("<i4") << 8
    if not exact:
        samples += 1  # the header lies: something is in the lowest byte
    data = samples.astype("<i4").tobytes()
    guid = b"\x01\0\0\0\0\0\x10\0\x80\0\0\xaa\0\x38\x9b\x71"
    form = struct.pack("<HHIIHHHHI", 0xFFFE, 2, 44100, 44100 * 8, 8, 32, 22, 24, 3) + guid
    body = b"WAVEfmt " + struct.pack("<I", 40) + form + b"data" + struct.pack("<I", len(data))
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body) + len(data)) + body + data)
    return path


def test_24_bit_samples_in_words_of_32_are_written_in_their_own_length(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = padded_wav(tmp_path / "m.wav", exact=True)
    assert make_recipe(track(source).audio, player("pcm", "wav")).action == "carry"
    made = remuxed(source, player("pcm", "wav", max_bits_per_sample=24), store, tool)
    assert soundfile.info(made).subtype == "PCM_24"
    before, _ = soundfile.read(source, dtype="int32")
    assert np.array_equal(soundfile.read(made, dtype="int32")[0], before)


def test_a_header_that_says_fewer_bits_than_there_are_loses_none_unsaid(
    tmp_path: Path, tool: Ffmpeg
) -> None:
    source = track(padded_wav(tmp_path / "m.wav", exact=False))
    recipe = make_recipe(source.audio, player("pcm", "wav", max_bits_per_sample=24))
    with pytest.raises(ItemProblem, match="other samples"):
        copying.remux(source, recipe, tmp_path / "part.wav", "item", tool)


def test_what_the_player_cannot_decode_is_not_remuxed(wav: Path, tmp_path: Path) -> None:
    source = track(ffmpeg_encode(wav, tmp_path / "m.m4a", "-c:a", "aac"))
    recipe = make_recipe(source.audio, player("aac", "aac", max_sample_rate_hz=32000))
    assert recipe.action == "encode"
    assert "does not read AAC from mp4" in recipe.reasons[0]


def test_a_remux_with_other_samples_fails_its_inspection(
    wav: Path, tmp_path: Path, tool: Ffmpeg, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = track(ffmpeg_encode(wav, tmp_path / "m.m4a", "-c:a", "aac"))
    recipe = make_recipe(source.audio, player("aac", "aac"))
    real = copying.copying
    monkeypatch.setattr(copying, "copying", lambda recipe: {**real(recipe), "t": 1})
    with pytest.raises(ItemProblem, match="other samples"):
        copying.remux(source, recipe, tmp_path / "part.aac", "item", tool)


def test_a_damaged_lossless_master_is_not_remuxed(wav: Path, tmp_path: Path, tool: Ffmpeg) -> None:
    path = ffmpeg_encode(wav, tmp_path / "m.flac")
    one = track(path)
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 0x55
    path.write_bytes(raw)
    recipe = make_recipe(one.audio, player("flac", "ogg"))
    with pytest.raises(ItemProblem, match="damaged"):
        copying.remux(one, recipe, tmp_path / "part.ogg", "item", tool)
