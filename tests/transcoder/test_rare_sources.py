"""Pressings from the rarer sources, end to end from file to pressing, judged from outside.

Signals are made with numpy and pressings decoded by flac, mpg123 or libsndfile. One-bit files and
APE are the tests' own; TTA, ALAC and WMA are written by ffmpeg, so that there the second opinion is
the signal that went in.
"""

import shutil
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from mutagen.flac import FLAC, Picture
from rare_sources_kit import (
    PICTURE,
    set_tags,
    write_ape,
)
from transcoder_kit import (
    FLAC24,
    HALF,
    TONES,
    Samples,
    decode,
    ffmpeg_encode,
    level_db,
    music,
    pressed,
    recipe_for,
    tone_db,
    track_of,
)

from syncd.errors import ItemProblem
from syncd.library.tags import read_file
from syncd.model import Codec, LibraryPath
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


def wav(path: Path, data: Samples, rate: int, form: str, mask: int | None = None) -> Path:
    """A WAV file with samples of the numpy type *form*, extensible when *mask* is given."""
    kind = np.dtype(form)
    scale = {"u1": 127.0, "<i2": 2.0**15, "<i4": 2.0**31}.get(form, 1.0)
    words: Any = data * scale
    if kind.kind in "iu":
        top = scale if form == "u1" else scale - 1
        words = np.clip(np.round(words), -scale, top) + (128 if form == "u1" else 0)
    raw = words.astype(kind).tobytes()
    channels, bits, tag = data.shape[1], 8 * kind.itemsize, 3 if kind.kind == "f" else 1
    align = channels * kind.itemsize
    layout = struct.pack("<HIIHH", channels, rate, rate * align, align, bits)
    if mask is None:
        layout = struct.pack("<H", tag) + layout
    else:
        guid = bytes.fromhex("000000001000800000aa00389b71")
        layout = b"\xfe\xff" + layout + struct.pack("<HHIH", 22, bits, mask, tag) + guid
    body = b"WAVEfmt " + struct.pack("<I", len(layout)) + layout
    body += b"data" + struct.pack("<I", len(raw)) + raw
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    return path


def test_ape_is_pressed_sample_for_sample(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    wanted = np.round(music(12_000, channels=1)[:, 0] * 32767).astype(int)
    path = write_ape(tmp_path / "a.ape", wanted.tolist())
    _, data, _, _ = pressed(path, store, tool, codec="flac")
    assert np.array_equal(np.round(data[:, 0] * 32768).astype(int), wanted)


@pytest.mark.parametrize("kind", ["ape", "tta"])
def test_a_checksum_that_is_wrong_refuses_the_source(
    kind: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    """Only the checksum is changed: the samples decode without any other complaint."""
    wanted = np.round(music(12_000, channels=1)[:, 0] * 32767).astype("<i2")
    path = tmp_path / f"a.{kind}"
    if kind == "ape":
        write_ape(path, wanted.tolist())
        at = 80
    else:
        soundfile.write(tmp_path / "a.wav", wanted, 44100)
        ffmpeg_encode(tmp_path / "a.wav", path, "-fflags", "+bitexact")
        at = path.stat().st_size - 4  # a frame ends with its CRC-32
    raw = bytearray(path.read_bytes())
    raw[at] ^= 1
    path.write_bytes(raw)
    with pytest.raises(ItemProblem, match=r"damaged|CRC"):
        pressed(path, store, tool, codec="flac")


@pytest.mark.parametrize(
    ("name", "options", "rate", "bits"),
    [
        ("a.tta", [], 44100, 16),
        ("b.tta", [], 96000, 24),
        ("a.m4a", ["-c:a", "alac", "-sample_fmt", "s32p"], 96000, 24),
    ],
)
def test_lossless_words_come_through_unchanged(
    name: str, options: list[str], rate: int, bits: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = tmp_path / "source.wav"
    soundfile.write(source, music(20_000, rate), rate, subtype=f"PCM_{bits}")
    path = ffmpeg_encode(source, tmp_path / name, *options)
    recipe, data, found, _ = pressed(path, store, tool, **FLAC24)
    wanted, _ = soundfile.read(source)
    assert (found, recipe.bits, recipe.dither) == (rate, bits, False)
    assert np.array_equal(data, wanted)


def test_words_of_32_bit_in_a_flac_become_24(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    sound = music(20_000)
    source = wav(tmp_path / "a.wav", sound, 44100, "<i4")
    path = ffmpeg_encode(source, tmp_path / "a.flac", "-strict", "-2", "-bits_per_raw_sample", "32")
    recipe, data, _, audio = pressed(path, store, tool, **FLAC24)
    assert (audio.bits_per_sample, recipe.bits, recipe.dither) == (32, 24, True)
    assert np.max(np.abs(data - sound)) < 2.5 * 2**-23  # dither of +-1 and rounding


@pytest.mark.parametrize(("subtype", "bits", "form"), [
    ("PCM_S8", 8, ""), ("PCM_24", 24, ""), ("PCM_32", 32, ""), ("FLOAT", 32, "float"),
    ("DOUBLE", 64, "float"),
])  # fmt: skip
def test_every_word_of_aiff_is_read_and_pressed(
    subtype: str, bits: int, form: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    path = tmp_path / "a.aiff"
    soundfile.write(path, music(20_000), 44100, subtype=subtype, format="AIFF")
    _, data, _, audio = pressed(path, store, tool, **FLAC24)
    assert (audio.bits_per_sample, audio.profile) == (bits, form)
    wanted, _ = soundfile.read(path)
    assert np.max(np.abs(data - wanted)) < 2.5 * 2**-23


@pytest.mark.parametrize(("kind", "options"), [
    ("tta", []), ("m4a", ["-c:a", "alac"]), ("wv", ["-c:a", "wavpack"]),
])  # fmt: skip
def test_six_channels_keep_their_places_in_every_lossless_codec(
    kind: str, options: list[str], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(22_050) / 44100
    sound = np.stack([0.5 * np.sin(2 * np.pi * hz * t) for hz in TONES[:6]], axis=1)
    source = wav(tmp_path / "a.wav", sound, 44100, "<i2", 0x3F)
    path = ffmpeg_encode(source, tmp_path / f"a.{kind}", *options)
    _, data, _, _ = pressed(path, store, tool, codec="flac")
    for hz, coefficient in zip(TONES, (1, 0, HALF, 0, HALF, 0), strict=False):
        level = tone_db(data[:, 0], 44100, hz)
        if coefficient:
            wanted = 20 * np.log10(0.5 * coefficient / 2.4142)
            assert level == pytest.approx(wanted, abs=0.02)
        else:
            assert level < -80


@pytest.mark.parametrize("mime", ["image/jpeg", "image/png"])
def test_an_embedded_picture_that_is_broken_does_not_count_as_damage_of_the_audio(
    mime: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    path = tmp_path / "a.flac"
    soundfile.write(path, music(40_000), 44100, subtype="PCM_16")
    tagged, picture = FLAC(path), Picture()
    picture.data, picture.mime, picture.type = PICTURE, mime, 3
    if mime == "image/png":
        picture.data = b"\x89PNG\r\n\x1a\n" + bytes(500)
    tagged.add_picture(picture)
    tagged.save()
    _, data, _, _ = pressed(path, store, tool, codec="flac")
    assert len(data) == 40_000


@pytest.mark.parametrize("kind", ["dsf", "dff", "ape", "tta", "wma"])
def test_tags_and_a_picture_change_nothing_in_the_samples(
    kind: str, one_bit: dict[str, Path], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    path = tmp_path / f"a.{kind}"
    if kind in one_bit:
        shutil.copyfile(one_bit[kind], path)
    elif kind == "ape":
        words = np.round(music(12_000, channels=1)[:, 0] * 32767).astype(int)
        write_ape(path, words.tolist())
    else:
        soundfile.write(tmp_path / "a.wav", music(40_000), 44100, subtype="PCM_16")
        ffmpeg_encode(tmp_path / "a.wav", path)
    _, before, _, _ = pressed(path, store, tool, **FLAC24)
    set_tags(path)
    # another hash here than in the library, so that it is pressed again
    _, after, _, _ = pressed(path, store, tool, **FLAC24)
    assert np.array_equal(before, after)


@pytest.mark.parametrize("codec", ["wmav1", "wmav2"])
def test_wma_is_pressed_at_its_level_and_not_above_its_bit_rate(
    codec: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = tmp_path / "source.wav"
    sound = music(66_150)
    soundfile.write(source, sound, 44100, subtype="PCM_16")
    path = ffmpeg_encode(source, tmp_path / "a.wma", "-c:a", codec, "-b:a", "128k")
    recipe, data, rate, audio = pressed(path, store, tool, codec="mp3", quality=0)
    assert recipe.bitrate_kbps is not None and recipe.bitrate_kbps <= 128
    assert rate == 44100
    assert abs(len(data) / rate - audio.duration_s) < 0.1
    # What ffmpeg encodes and decodes so begins at sample 2048: a block is lost at the front
    # (measured with two versions; files of other encoders were not at hand).
    assert level_db(data[:64_000]) == pytest.approx(level_db(sound[2048:66_048]), abs=0.5)
    _, plain, _, _ = pressed(path, store, tool, codec="flac")
    assert level_db(plain[:64_000] - sound[2048:66_048]) < level_db(sound) - 40


def test_layer_ii_is_pressed_at_its_level(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    source = tmp_path / "source.wav"
    sound = music(66_150)
    soundfile.write(source, sound, 44100, subtype="PCM_16")
    path = ffmpeg_encode(source, tmp_path / "a.mp2", "-c:a", "mp2", "-b:a", "192k")
    recipe, data, _, audio = pressed(path, store, tool, codec="mp3", bitrate_kbps=320)
    assert audio.codec is Codec.MP2 and recipe.bitrate_kbps == 192
    assert level_db(data[:66_150]) == pytest.approx(level_db(sound), abs=0.5)


@pytest.mark.parametrize("form", ["<i4", "<f4", "<f8"])
@pytest.mark.parametrize(("bits", "quiet_db"), [(16, -105), (24, -150)])
def test_longer_words_are_rounded_with_dither(
    form: str, bits: int, quiet_db: float, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    """A tone far below the last bit survives beside a loud one; the error is that of TPDF dither
    and rounding, LSB * sqrt(1/6 + 1/12) (textbook), and has no mean.
    """
    t = np.arange(88_200) / 44100
    sound = 0.5 * np.sin(2 * np.pi * 3000 * t) + 10 ** (quiet_db / 20) * np.sin(
        2 * np.pi * 1000 * t
    )
    path = wav(tmp_path / "a.wav", sound[:, None], 44100, form)
    _, data, _, _ = pressed(path, store, tool, codec="flac", max_bits_per_sample=bits)
    error = (data[:, 0] - sound) * 2 ** (bits - 1)
    assert tone_db(data[:, 0], 44100, 1000) == pytest.approx(quiet_db, abs=2.5)
    assert np.std(error) == pytest.approx(0.5, abs=0.02)
    assert (
        abs(np.mean(error)) < 0.12 if form == "<f4" and bits == 24 else abs(np.mean(error)) < 0.02
    )


@pytest.mark.parametrize("form", ["<f4", "<f8"])
@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("rate", [44100, 22050])
def test_floats_over_full_scale_are_clipped_and_never_wrap(
    form: str, bits: int, rate: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(44_100) / 44100
    loud = 1.9 * np.sin(2 * np.pi * 100 * t)
    path = wav(tmp_path / "a.wav", loud[:, None], 44100, form)
    _, data, found, _ = pressed(
        path, store, tool, codec="flac", max_bits_per_sample=bits, max_sample_rate_hz=rate
    )
    wanted = np.clip(loud, -1, 1)[:: 44100 // found]
    assert np.max(np.abs(data[:, 0] - wanted)) < 0.01


def test_eight_bit_words_come_through_unchanged(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    sound = music(20_000, channels=1)
    path = wav(tmp_path / "a.wav", sound, 44100, "u1")
    recipe, data, _, _ = pressed(path, store, tool, codec="flac")
    wanted, _ = soundfile.read(path, always_2d=True)
    assert (recipe.bits, recipe.dither) == (16, False)
    assert np.array_equal(data, wanted)


@pytest.mark.parametrize("rate", [352_800, 384_000])
def test_the_highest_rates_are_kept_in_blocks_of_the_subset(
    rate: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    """RFC 9639 §7: at most 16384 samples a block; ffmpeg would take 32768 here."""
    source = tmp_path / "a.wav"
    soundfile.write(source, music(rate // 4, rate), rate, subtype="PCM_24")
    audio = read_file(LibraryPath(str(source))).audio
    recipe = recipe_for(audio, **FLAC24, compression_level=8)
    made = press(track_of(source, audio), recipe, store, tool)
    assert int.from_bytes(made.path.read_bytes()[10:12], "big") <= 16384
    data, found = decode(made.path)
    wanted, _ = soundfile.read(source)
    assert found == rate and np.array_equal(data, wanted)
    _, low, low_rate, _ = pressed(source, store, tool, codec="flac", max_sample_rate_hz=48000)
    assert low_rate == (44100 if rate == 352_800 else 48000)
    assert level_db(low) == pytest.approx(level_db(wanted), abs=0.05)


@pytest.mark.parametrize(("mask", "channels"), [(0x1, 1), (0x2, 1), (0x30, 2), (0xC0, 2), (0, 2)])
@pytest.mark.parametrize("codec", ["flac", "mp3"])
def test_one_or_two_channels_come_through_whatever_the_mask_calls_them(
    mask: int, channels: int, codec: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(44_100) / 44100
    tones = (440.0, 550.0)[:channels]
    sound = np.stack([0.4 * np.sin(2 * np.pi * hz * t) for hz in tones], axis=1)
    path = wav(tmp_path / "a.wav", sound, 44100, "<i2", mask)
    _, data, _, _ = pressed(path, store, tool, codec=codec)
    assert data.shape == (44_100, channels)
    for side, hz in enumerate(tones):
        assert tone_db(data[:, side], 44100, hz) == pytest.approx(20 * np.log10(0.4), abs=0.1)


@pytest.mark.parametrize(
    ("mask", "channels", "left", "scale"),
    [
        (None, 3, (1, 0, HALF), 1.7071),  # left, right, centre
        (0x7, 3, (1, 0, HALF), 1.7071),
        (0xB, 3, (1, 0, 0), 1.7071),  # left, right, LFE
        (None, 4, (1, 0, HALF, 0), 2.2071),  # two in front, two behind
        (0x107, 4, (1, 0, HALF, 0.5), 2.2071),  # left, right, centre, back centre
        (None, 5, (1, 0, HALF, HALF, 0), 2.4142),
        (None, 6, (1, 0, HALF, 0, HALF, 0), 2.4142),
        (0x60F, 6, (1, 0, HALF, 0, HALF, 0), 2.4142),
        (None, 7, (1, 0, HALF, 0, 0.5, HALF, 0), 3.1213),
        (None, 8, (1, 0, HALF, 0, HALF, 0, HALF, 0), 3.1213),
        (0x63F, 8, (1, 0, HALF, 0, HALF, 0, HALF, 0), 3.1213),
        (0xFF, 8, (1, 0, HALF, 0, HALF, 0, HALF, 0), 3.1213),  # with left and right of centre
        (0x503F, 8, (1, 0, HALF, 0, HALF, 0, HALF, 0), 3.1213),  # with two above in front
    ],
)
@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_each_channel_of_a_wav_is_mixed_by_its_place(
    mask: int | None, channels: int, left: tuple[float, ...], scale: float, kind: str,
    tmp_path: Path, store: Store, tool: Ffmpeg,
) -> None:  # fmt: skip
    """BS.775-3 Annex 4 for centre and surrounds, by the sum of the coefficients; order of unnamed
    channels as RFC 9639 §9.1.3 has it (common practice for WAV too); bits of the mask:
    WAVEFORMATEXTENSIBLE. No figure is published for the last two.
    """
    t = np.arange(22_050) / 44100
    sound = np.stack([0.5 * np.sin(2 * np.pi * hz * t) for hz in TONES[:channels]], axis=1)
    path = wav(tmp_path / "a.wav", sound, 44100, "<i2", mask)
    if kind == "flac":
        named = {} if mask is None else {"mask": mask}
        path = _flac_of(path, tmp_path / "a.flac", **named)
    _, data, _, _ = pressed(path, store, tool, codec="flac")
    assert data.shape[1] == 2
    for hz, coefficient in zip(TONES, left, strict=False):
        level = tone_db(data[:, 0], 44100, hz)
        if coefficient:
            wanted = 20 * np.log10(0.5 * coefficient / scale)
            assert level == pytest.approx(wanted, abs=0.02)
        else:
            assert level < -80


def _flac_of(source: Path, target: Path, mask: int | None = None) -> Path:
    """FLAC by libsndfile, which writes no mask, with one added as a tag (RFC 9639 §8.6.2)."""
    data, rate = soundfile.read(source, dtype="int16")
    soundfile.write(target, data, rate, subtype="PCM_16")
    if mask is not None:
        tagged = FLAC(target)
        tagged["WAVEFORMATEXTENSIBLE_CHANNEL_MASK"] = f"0x{mask:x}"
        tagged.save()
    return target
