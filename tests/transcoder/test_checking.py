"""Damage inside masters: found by decoding, told with its place, remembered by audio hash."""

import shutil
import subprocess
from pathlib import Path

import pytest
from transcoder_kit import facts, ffmpeg_encode, master, music, need, recipe_for, track_of

from syncd.errors import ItemProblem
from syncd.library.damage import Damage
from syncd.model import AudioHash, Codec, Span, Track
from syncd.transcoder.checking import DamagedSource, checked, find_damage
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

SAMPLES = 6 * 44100


def torn(path: Path, share: float = 0.5) -> None:
    data = bytearray(path.read_bytes())
    at = int(len(data) * share)
    data[at : at + 24] = bytes(byte ^ 0x5A for byte in data[at : at + 24])
    path.write_bytes(data)


def wrong_checksum(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[26] ^= 1  # the first byte of the MD5 in STREAMINFO (RFC 9639 section 8.2)
    path.write_bytes(data)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_decode_error_is_found_with_its_time(tmp_path: Path, tool: Ffmpeg, share: float) -> None:
    made = master(tmp_path / "m.flac", music(SAMPLES))
    assert find_damage(made.track, tool) is None
    torn(Path(made.track.path), share)
    found = find_damage(made.track, tool)
    assert found is not None
    assert found.words.startswith("decoding says '")
    assert found.at_s is not None
    # The signal swells, so bytes and time do not run quite alike; a frame is 0.1 s.
    assert found.at_s == pytest.approx(6 * share, abs=0.45)


def test_the_flac_program_loses_its_place_where_we_say(tmp_path: Path, tool: Ffmpeg) -> None:
    flac = need("flac", "flac")
    made = master(tmp_path / "m.flac", music(SAMPLES))
    torn(Path(made.track.path))
    found = find_damage(made.track, tool)
    assert found is not None
    assert found.at_s is not None
    said = subprocess.run(
        [flac, "-t", made.track.path], capture_output=True, text=True, check=False
    )
    assert said.returncode != 0
    # Up to the damaged frame the samples are those of the sound file, and in it they are not.
    out = tmp_path / "out.wav"
    subprocess.run(
        [flac, "-d", "-f", "-s", "-F", "-o", str(out), made.track.path],
        check=False,
        stderr=subprocess.DEVNULL,
    )
    import numpy as np
    import soundfile

    decoded, _ = soundfile.read(out, always_2d=True)
    length = min(len(decoded), len(made.samples))
    apart = np.abs(decoded[:length] - made.samples[:length]).max(axis=1) > 0.001
    first_s = float(np.argmax(apart)) / 44100
    assert found.at_s == pytest.approx(first_s, abs=0.11)


@pytest.mark.parametrize("bits", [8, 16, 24])
def test_a_flac_whose_checksum_is_another_is_found_while_pressing_and_while_checking(
    tmp_path: Path, store: Store, tool: Ffmpeg, bits: int
) -> None:
    made = master(tmp_path / "m.flac", music(44100), bits=bits)
    recipe = recipe_for(made.track.audio, codec="mp3", quality=4)
    assert find_damage(made.track, tool) is None
    press(made.track, recipe, store, tool)
    assert store.checks().known(made.track.audio_hash)
    wrong_checksum(Path(made.track.path))
    other = track_of(Path(made.track.path), made.track.audio)
    with pytest.raises(DamagedSource, match="checksum is in its header") as caught:
        press(other, recipe, store, tool)
    assert find_damage(other, tool) == caught.value.damage
    assert store.checks().damage(other.audio_hash) == caught.value.damage
    assert list(store.sizes()) == [(made.track.audio_hash, recipe.key)]


def test_a_flac_without_a_checksum_is_no_worse_for_it(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    made = master(tmp_path / "m.flac", music(44100))
    path = Path(made.track.path)
    data = bytearray(path.read_bytes())
    data[26:42] = bytes(16)
    path.write_bytes(data)
    assert find_damage(made.track, tool) is None
    press(made.track, recipe_for(made.track.audio, codec="mp3", quality=4), store, tool)


def test_a_damaged_master_is_pressed_when_it_is_forgiven(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    made = master(tmp_path / "m.flac", music(SAMPLES))
    torn(Path(made.track.path))
    track = track_of(Path(made.track.path), made.track.audio)
    recipe = recipe_for(track.audio, codec="mp3", quality=4)
    with pytest.raises(DamagedSource, match=r"damaged at 0:00:0[23]\.\d: decoding says"):
        press(track, recipe, store, tool)
    assert press(track, recipe, store, tool, forgiven=True).size_bytes > 10_000
    assert store.checks().damage(track.audio_hash) is not None
    assert not list((store.folder / "parts").iterdir())


def test_what_was_checked_is_not_decoded_again(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    made = master(tmp_path / "m.flac", music(44100))
    assert checked(made.track, tool, store.checks()) is None
    Path(made.track.path).write_bytes(b"nothing that could be decoded")
    assert checked(made.track, tool, store.checks()) is None
    store.checks().forget()
    with pytest.raises(ItemProblem):
        checked(made.track, tool, store.checks())


def test_damage_is_remembered_over_runs_and_a_damaged_memory_is_set_aside(tmp_path: Path) -> None:
    sound, bad = AudioHash("1" * 32), AudioHash("2" * 32)
    with Store(tmp_path) as store:
        store.checks().keep(sound, None)
        store.checks().keep(bad, Damage("it is torn", 3.5))
    with Store(tmp_path) as store:
        assert store.checks().known(sound)
        assert store.checks().damaged() == {bad: Damage("it is torn", 3.5)}
    (tmp_path / "checks.db").write_bytes(b"no database" * 500)
    with Store(tmp_path) as store:
        assert not store.checks().known(sound)
        assert "set aside as checks.db.damaged-1" in store.notices[0]


def lossy(tmp_path: Path, name: str, codec: Codec) -> Track:
    master(tmp_path / "m.wav", music(SAMPLES))
    path = ffmpeg_encode(tmp_path / "m.wav", tmp_path / name)
    kind = "ogg" if path.suffix in (".ogg", ".opus") else path.suffix[1:]
    samples = SAMPLES * 48000 // 44100 if codec is Codec.OPUS else SAMPLES
    rate = 48000 if codec is Codec.OPUS else 44100
    return track_of(path, facts(kind, codec, samples, rate=rate, bits=None))


@pytest.mark.parametrize(
    ("name", "codec"), [("m.mp3", Codec.MP3), ("m.ogg", Codec.VORBIS), ("m.opus", Codec.OPUS)]
)
def test_lossy_masters_are_judged_by_their_structure(
    tmp_path: Path, store: Store, tool: Ffmpeg, name: str, codec: Codec
) -> None:
    track = lossy(tmp_path, name, codec)
    assert find_damage(track, tool) is None
    path = Path(track.path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2] + data[len(data) // 2 + 700 :])
    found = find_damage(track, tool)
    assert found is not None
    assert found.at_s == pytest.approx(3, abs=1.2)
    with pytest.raises(DamagedSource):
        press(track, recipe_for(track.audio, codec="flac"), store, tool)


def test_an_mp3_with_junk_before_and_a_tag_after_is_pressed(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    track = lossy(tmp_path, "m.mp3", Codec.MP3)
    path = Path(track.path)
    data = path.read_bytes()
    start = data.index(b"\xff\xfb")
    path.write_bytes(bytes(1500) + data[start:] + b"TAG" + bytes(125))
    assert find_damage(track, tool) is None
    press(track, recipe_for(track.audio, codec="opus", bitrate_kbps=96), store, tool)
    assert store.checks().known(track.audio_hash)


def test_words_of_damage_in_names_and_tags_are_no_damage(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    folder = tmp_path / "crc error"
    folder.mkdir()
    master(tmp_path / "m.wav", music(44100))
    title = "title=Corrupt\nerror while decoding"
    path = ffmpeg_encode(
        tmp_path / "m.wav", folder / "truncated.m4a", "-c:a", "alac", "-metadata", title
    )
    track = track_of(path, facts("mp4", Codec.ALAC, 44100))
    assert find_damage(track, tool) is None
    press(track, recipe_for(track.audio, codec="mp3", quality=4), store, tool)


def test_of_a_divided_file_only_the_damaged_span_is_damaged(tmp_path: Path, tool: Ffmpeg) -> None:
    made = master(tmp_path / "m.flac", music(SAMPLES))
    torn(Path(made.track.path), 0.6)
    found = []
    for number in range(3):
        span = Span(number * 2 * 44100, 2 * 44100, number + 1)
        audio = facts("flac", Codec.FLAC, 2 * 44100)
        track = Track(made.track.path, AudioHash(f"{number:032}"), audio, 1, span=span)
        found.append(find_damage(track, tool) is not None)
    assert found == [False, True, False]


def test_a_truncated_alac_is_found_by_its_length(tmp_path: Path, tool: Ffmpeg) -> None:
    master(tmp_path / "m.wav", music(SAMPLES))
    path = ffmpeg_encode(tmp_path / "m.wav", tmp_path / "m.m4a", "-c:a", "alac",
                         "-movflags", "+faststart")  # fmt: skip
    whole = track_of(path, facts("mp4", Codec.ALAC, SAMPLES))
    assert find_damage(whole, tool) is None
    shutil.copyfile(path, tmp_path / "whole.m4a")
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 2 // 3])
    found = find_damage(track_of(path, whole.audio), tool)
    assert found is not None
    assert found.at_s == pytest.approx(4, abs=0.4)
