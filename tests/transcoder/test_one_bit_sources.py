"""Pressings from one-bit files (DSF, DSDIFF), end to end, judged from outside.

The files are the tests' own, made with numpy; pressings are decoded by flac, mpg123 or libsndfile.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rare_sources_kit import (
    DSD64_HZ,
    modulated,
    tone,
    write_dff,
    write_dsf,
)
from transcoder_kit import (
    FLAC24,
    HALF,
    TONES,
    Samples,
    decode,
    pressed,
    profile_for,
    tone_db,
    track_of,
)

from syncd.library.tags import read_file
from syncd.model import AudioHash, LibraryPath, Span
from syncd.planner.prescribing import make_recipe
from syncd.profile import Encode
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


@pytest.mark.parametrize("kind", ["dsf", "dff"])
@pytest.mark.parametrize(("limit", "rate", "bits"), [(384000, 88200, 24), (48000, 44100, 16)])
def test_one_bit_audio_keeps_length_and_level(
    one_bit: dict[str, Path],
    kind: str,
    limit: int,
    rate: int,
    bits: int,
    store: Store,
    tool: Ffmpeg,
) -> None:
    """Full modulation is 0 dBFS, so that 50 %, the 0 dB of the SACD, comes out at -6.02 dBFS."""
    recipe, data, found, _ = pressed(
        one_bit[kind], store, tool, codec="flac", max_bits_per_sample=bits, max_sample_rate_hz=limit
    )
    assert (found, recipe.bits, recipe.resample) == (rate, bits, True)
    assert abs(len(data) - rate // 5) <= 1
    middle = data[len(data) // 10 : -len(data) // 10]
    for side, peak in enumerate((0.5, 0.25)):
        level = tone_db(middle[:, side], rate, 1000)
        assert level == pytest.approx(20 * np.log10(peak), abs=0.01)


def test_both_forms_of_one_bit_audio_give_the_same_samples(
    one_bit: dict[str, Path], store: Store, tool: Ffmpeg
) -> None:
    _, first, _, _ = pressed(one_bit["dsf"], store, tool, **FLAC24)
    _, second, _, _ = pressed(one_bit["dff"], store, tool, **FLAC24)
    assert np.array_equal(first, second)


def test_the_noise_of_one_bit_audio_is_gone_above_the_new_band(
    one_bit: dict[str, Path], store: Store, tool: Ffmpeg
) -> None:
    """What the modulator moved to high frequencies must not fold back: to 20 kHz the rest beside
    the tone is no louder than in the bits themselves, low-passed exactly (by Fourier transform).
    """
    _, data, rate, _ = pressed(
        one_bit["dsf"], store, tool, codec="flac", max_bits_per_sample=24, max_sample_rate_hz=48000
    )
    bits = 2.0 * modulated(tone(1000, 0.5, DSD64_HZ // 5)) - 1

    def rest_db(samples: Samples, hz: int) -> float:
        spectrum = np.abs(np.fft.rfft(samples * np.blackman(len(samples)))) / len(samples)
        at = np.fft.rfftfreq(len(samples), 1 / hz)
        band = (at > 3000) & (at < 20_000)
        return float(10 * np.log10(np.sum(spectrum[band] ** 2)))

    assert rest_db(data[:, 0], rate) < rest_db(bits, DSD64_HZ) + 1


def test_the_highest_tones_of_one_bit_audio_lose_less_than_a_decibel(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    both = tone(1000, 0.25, DSD64_HZ // 10) + tone(20_000, 0.25, DSD64_HZ // 10)
    path = write_dsf(tmp_path / "a.dsf", [modulated(both)])
    _, data, rate, _ = pressed(path, store, tool, **FLAC24)
    middle = data[len(data) // 10 : -len(data) // 10, 0]
    low, high = (tone_db(middle, rate, hz) for hz in (1000, 20_000))
    assert abs(high - low) < 1.0


@pytest.mark.parametrize("write", [write_dsf, write_dff])
def test_six_channels_of_one_bit_audio_are_mixed_by_their_places(
    write: Any, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    """Left, right, centre, LFE, surrounds; coefficients of BS.775-3 by their sum."""
    bits = [modulated(tone(10 * hz, 0.4, DSD64_HZ // 20)) for hz in TONES[:6]]
    path = write(tmp_path / f"a.{write.__name__[-3:]}", bits)
    _, data, rate, _ = pressed(path, store, tool, **FLAC24)
    middle = data[len(data) // 10 : -len(data) // 10, 0]
    for hz, coefficient in zip(TONES, (1, 0, HALF, 0, HALF, 0), strict=False):
        level = tone_db(middle, rate, 10 * hz)
        if coefficient:
            assert level == pytest.approx(20 * np.log10(0.4 * coefficient / 2.4142), abs=0.05)
        else:
            assert level < -70


def test_a_span_of_one_bit_audio_is_cut_at_its_place(
    one_bit: dict[str, Path], store: Store, tool: Ffmpeg
) -> None:
    audio = read_file(LibraryPath(str(one_bit["dff"]))).audio
    recipe = make_recipe(audio, profile_for(Encode(**FLAC24)))
    start, length = DSD64_HZ // 10, DSD64_HZ // 20
    part = replace(audio, samples=length, duration_s=length / DSD64_HZ)
    whole = track_of(one_bit["dff"], audio)
    spanned = replace(
        whole, audio=part, audio_hash=AudioHash("a" * 32), span=Span(start, length, 1)
    )
    found, rate = decode(press(spanned, recipe, store, tool).path)
    wanted, _ = decode(press(whole, recipe, store, tool).path)
    assert len(found) == rate // 20
    there = wanted[rate // 10 :][: len(found)]
    inner = slice(200, -200)  # the resampler hears other neighbours at the ends
    assert np.max(np.abs(found[inner] - there[inner])) < 1e-4


def test_one_bit_audio_becomes_mp3(one_bit: dict[str, Path], store: Store, tool: Ffmpeg) -> None:
    _, data, rate, audio = pressed(one_bit["dff"], store, tool, codec="mp3", quality=2)
    assert rate == 44100
    assert abs(len(data) - round(audio.duration_s * rate)) <= 1
    assert tone_db(data[2000:-2000, 0], rate, 1000) == pytest.approx(-6.02, abs=0.2)
