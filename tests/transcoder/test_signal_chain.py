"""Downmix, rate conversion and dither of the press, against published figures.

Downmix: Rec. ITU-R BS.775-3 Annex 4 (coefficients from secondary texts), scaled by their sum.
Dither: TPDF of +-1 LSB has LSB/2 rms in all, -96.33 dBFS at 16 bit (textbook formula).
"""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from transcoder_kit import (
    Samples,
    facts,
    ffmpeg_encode,
    level_db,
    master,
    music,
    recipe_for,
    tone_db,
    track_of,
)

from syncd.model import Codec
from syncd.transcoder import downmix
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

TONES = (300.0, 500.0, 700.0, 900.0, 1100.0, 1300.0)
HALF = 0.70711


def pressed(
    path: Path, data: Samples, rate: int, bits: int, store: Store, tool: Ffmpeg, **encode: object
) -> tuple[Samples, int]:
    source = master(path, data, rate, bits)
    recipe = recipe_for(source.track.audio, **encode)
    found, found_rate = soundfile.read(
        press(source.track, recipe, store, tool).path, always_2d=True
    )
    return found, found_rate


@pytest.mark.parametrize("bits", [16, 24])
def test_five_channels_and_lfe_go_to_two_by_bs_775(
    bits: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(44100) / 44100
    six = np.stack([0.5 * np.sin(2 * np.pi * tone * t) for tone in TONES], axis=1)
    found, _ = pressed(tmp_path / "six.wav", six, 44100, bits, store, tool, codec="flac",
                       max_bits_per_sample=24)  # fmt: skip
    sent = 20 * np.log10(0.5)
    # Order of the channels: L R C LFE Ls Rs (RFC 9639 section 9.1.3; WAV likewise).
    left = dict(zip(TONES, (1, 0, HALF, 0, HALF, 0), strict=True))
    right = dict(zip(TONES, (0, 1, HALF, 0, 0, HALF), strict=True))
    for side, wanted in enumerate((left, right)):
        for tone, coefficient in wanted.items():
            level = tone_db(found[:, side], 44100, tone) - sent
            if coefficient:
                assert level == pytest.approx(20 * np.log10(coefficient / 2.4142), abs=0.01)
            else:
                assert level < -80


def test_side_and_back_surrounds_are_mixed_alike(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(22050) / 44100
    six = np.stack([0.5 * np.sin(2 * np.pi * tone * t) for tone in TONES], axis=1)
    master(tmp_path / "back.wav", six)
    levels = []
    for layout in ("5.1", "5.1(side)"):
        path = ffmpeg_encode(
            tmp_path / "back.wav",
            tmp_path / f"{layout}.flac",
            "-af",
            f"channelmap=0|1|2|3|4|5:{layout}",
        )
        track = track_of(path, facts("flac", Codec.FLAC, 22050, channels=6))
        recipe = recipe_for(track.audio, codec="pcm")
        found, _ = soundfile.read(press(track, recipe, store, tool).path)
        levels.append(tone_db(found[:, 0], 44100, TONES[4]))
    assert levels[0] == pytest.approx(levels[1], abs=0.01)


def test_two_channels_go_to_one_at_half_each(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    t = np.arange(22050) / 44100
    two = np.stack([0.5 * np.sin(2 * np.pi * tone * t) for tone in TONES[:2]], axis=1)
    found, _ = pressed(
        tmp_path / "two.wav", two, 44100, 16, store, tool, codec="pcm", max_channels=1
    )
    for tone in TONES[:2]:
        assert tone_db(found[:, 0], 44100, tone) == pytest.approx(20 * np.log10(0.25), abs=0.01)


@pytest.mark.parametrize(
    "matrix", [f"{n}to2" for n in range(3, 9)] + [f"{n}to1" for n in range(2, 9)]
)
def test_no_matrix_can_clip(matrix: str) -> None:
    layouts = {  # names of the channels that a count may stand for
        2: ["FL FR"],
        3: ["FL FR FC", "FL FR LFE"],
        4: ["FL FR BL BR", "FL FR FC BC"],
        5: ["FL FR FC BL BR", "FL FR FC SL SR"],
        6: ["FL FR FC LFE BL BR", "FL FR FC LFE SL SR"],
        7: ["FL FR FC LFE BC SL SR", "FL FR FC BL BR SL SR"],
        8: ["FL FR FC LFE BL BR SL SR"],
    }
    for layout in layouts[int(matrix[0])]:
        for side in downmix.pan(matrix).split("|")[1:]:
            terms = dict(term.split("*")[::-1] for term in side.split("=")[1].split("+"))
            total = sum(float(terms[name]) for name in layout.split() if name in terms)
            assert 0.3 < total <= 1.00001


@pytest.mark.parametrize(("rate", "limit"), [(96000, 44100), (96000, 48000), (88200, 44100)])
def test_a_tone_above_the_new_nyquist_is_gone_and_those_below_keep_their_level(
    rate: int, limit: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    # A passband ripple below 0.1 dB to 20 kHz, aliases below -100 dBFS.
    t = np.arange(rate) / rate
    above = 24_500.0
    tones = (1000.0, 15_000.0, 19_900.0)
    data = sum(0.2 * np.sin(2 * np.pi * tone * t) for tone in (*tones, above))
    found, found_rate = pressed(
        tmp_path / "tones.wav", np.stack([data, data], axis=1), rate, 24, store, tool,
        codec="flac", max_sample_rate_hz=limit, max_bits_per_sample=24,
    )  # fmt: skip
    assert found_rate == limit
    assert len(found) == -(-rate * limit // rate)
    middle = found[2000:-2000, 0]
    for tone in tones:
        assert tone_db(middle, limit, tone) == pytest.approx(20 * np.log10(0.2), abs=0.1)
    assert tone_db(middle, limit, abs(limit - above)) < -100


def test_a_shorter_word_gets_triangular_dither(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    t = np.arange(88_200) / 44100
    quiet = np.stack([1e-5 * np.sin(2 * np.pi * 1000 * t)] * 2, axis=1)  # -100 dBFS
    found, _ = pressed(
        tmp_path / "quiet.wav", quiet, 44100, 24, store, tool, codec="flac", compression_level=5
    )
    # Truncated, the tone would be gone and a mean of half an LSB there instead.
    assert tone_db(found[:, 0], 44100, 1000) == pytest.approx(-100, abs=0.5)
    assert abs(float(np.mean(found))) < 0.02 / 32768
    assert level_db(found - quiet) == pytest.approx(-96.33, abs=0.2)
    for overtone in (2000, 3000, 4000, 5000):
        assert tone_db(found[:, 0], 44100, overtone) < -120


def test_dither_goes_to_24_bit_where_the_samples_were_longer(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "float.wav", music(44_100), bits=32, float_form=True)
    recipe = recipe_for(source.track.audio, codec="flac", max_bits_per_sample=24)
    assert (recipe.bits, recipe.dither) == (24, True)
    found, _ = soundfile.read(press(source.track, recipe, store, tool).path)
    # -144.49 dBFS by the formula; the encoder drops the bits below, half an LSB of offset at most.
    assert -150 < level_db(found - source.samples) < -137
