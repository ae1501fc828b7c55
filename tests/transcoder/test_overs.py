"""Masters above full scale: what is measured, what is written, and what is told of it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from transcoder_kit import (
    Master,
    Samples,
    decode,
    facts,
    ffmpeg_encode,
    master,
    profile_for,
    recipe_for,
    track_of,
)

from syncd.model import Codec
from syncd.planner.gain import Heard, baked_gain_db, with_gain
from syncd.planner.prescribing import make_recipe
from syncd.profile import Encode, Levelling
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.listening import listen
from syncd.transcoder.loudness import Measurement, joined
from syncd.transcoder.measuring import Sink
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

PEAK_DB = 9.5
RATE = 44100


class Kept(Sink):
    def __init__(self) -> None:
        self.found: list[Measurement] = []

    def known(self, key: object) -> bool:
        return False

    def keep(self, key: object, measured: Measurement) -> None:
        self.found.append(measured)


def loud(level_db: float = PEAK_DB, seconds: float = 1.5) -> Samples:
    t = np.arange(round(seconds * RATE)) / RATE
    tone = np.sin(2 * np.pi * 997 * t) * (0.2 + 0.8 * np.minimum(1, t))
    return np.stack([tone, tone], axis=1) * 10 ** (level_db / 20) / np.abs(tone).max()


def floats(path: Path, level_db: float = PEAK_DB) -> Master:
    return master(path, loud(level_db), bits=32, float_form=True)


def lufs_by_pyloudnorm(samples: Samples, rate: int) -> float:
    meter = pytest.importorskip("pyloudnorm").Meter(rate)
    return float(meter.integrated_loudness(samples))


def test_loudness_of_floats_above_full_scale_is_that_of_the_unclipped(
    tmp_path: Path, tool: Ffmpeg
) -> None:
    source = floats(tmp_path / "a.wav")
    recipe = recipe_for(source.track.audio, codec="flac", max_bits_per_sample=24)
    heard = joined([listen(source.track, recipe, tool)])
    assert heard.lufs == pytest.approx(lufs_by_pyloudnorm(source.samples, RATE), abs=0.1)
    assert 20 * np.log10(heard.sample_peak) == pytest.approx(PEAK_DB, abs=0.01)


@pytest.mark.parametrize("encode", [
    {"codec": "flac", "max_bits_per_sample": 24},
    {"codec": "flac", "max_bits_per_sample": 16},
    {"codec": "pcm", "max_bits_per_sample": 16},
])  # fmt: skip
def test_a_baked_gain_brings_floats_above_full_scale_to_the_target(
    encode: dict[str, object], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = floats(tmp_path / "a.wav")
    recipe = recipe_for(source.track.audio, **encode)
    heard = joined([listen(source.track, recipe, tool)])
    wanted = Levelling(mode="baked", target_lufs=-18)
    gain = baked_gain_db(Heard(heard.lufs, heard.sample_peak, heard.true_peak), wanted)
    assert gain is not None
    baked = with_gain(recipe, source.track.audio, gain, profile_for(Encode(**encode)))
    made = press(source.track, baked, store, tool)
    samples, rate = soundfile.read(made.path, always_2d=True)
    assert lufs_by_pyloudnorm(samples, rate) == pytest.approx(-18.0, abs=0.1)
    ideal = source.samples * 10 ** (gain / 20)
    assert np.abs(samples - ideal).max() < 3 / 2 ** (baked.bits or 0) * 2  # dither, not clipping
    assert store.overs.sentences() == ()


@pytest.mark.parametrize(("encode", "rate"), [
    ({"codec": "flac", "max_bits_per_sample": 24}, RATE),
    ({"codec": "pcm", "max_bits_per_sample": 16}, RATE),
    ({"codec": "flac", "max_bits_per_sample": 16, "max_sample_rate_hz": 32000}, 32000),
])  # fmt: skip
def test_what_words_clip_is_told_with_peak_and_remedy(
    encode: dict[str, object], rate: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = floats(tmp_path / "a.wav")
    kept = Kept()
    recipe = recipe_for(source.track.audio, **encode)
    made = press(source.track, recipe, store, tool, kept)
    samples, found = soundfile.read(made.path, always_2d=True)
    assert found == rate
    assert np.abs(samples).max() >= 1 - 2.0**-15
    (told,) = store.overs.sentences()
    assert "a.wav (+9.5 dBFS)" in told
    assert 'mode = "baked" under [loudness]' in told
    # On the way it is measured as listening does, so that a gain is right later.
    assert joined(kept.found).lufs == pytest.approx(
        lufs_by_pyloudnorm(source.samples, RATE), abs=0.1
    )


def test_a_lossy_master_that_decodes_above_full_scale_is_told_when_it_becomes_words(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    soundfile.write(tmp_path / "a.wav", loud(3.0), RATE, subtype="FLOAT")
    file = ffmpeg_encode(tmp_path / "a.wav", tmp_path / "a.mp3", "-b:a", "256k")
    track = track_of(file, facts("mp3", Codec.MP3, None, bits=None))
    track = replace(track, audio=replace(track.audio, duration_s=1.5, bitrate_bps=256_000))
    recipe = recipe_for(track.audio, codec="flac", max_bits_per_sample=16)
    press(track, recipe, store, tool)
    (told,) = store.overs.sentences()
    assert "Clipped" in told
    assert "a.mp3 (+" in told


@pytest.mark.parametrize(("codec", "suffix"), [("mp3", ".mp3"), ("opus", ".opus")])
def test_a_lossy_pressing_above_full_scale_is_whole_and_told(
    codec: str, suffix: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = floats(tmp_path / "a.wav", 5.0)
    press(source.track, recipe_for(source.track.audio, codec=codec), store, tool)
    (told,) = store.overs.sentences()
    assert "players clip" in told
    assert "a.wav (+5." in told


@pytest.mark.parametrize(("bits", "float_form"), [(16, False), (24, False), (32, True)])
def test_what_stays_within_full_scale_is_not_told(
    bits: int, float_form: bool, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "a.wav", loud(-0.1), bits=bits, float_form=float_form)
    made = press(
        source.track, recipe_for(source.track.audio, codec="flac", max_bits_per_sample=16),
        store, tool,
    )  # fmt: skip
    samples, _ = decode(made.path)
    assert len(samples) == len(source.samples)
    assert store.overs.sentences() == ()


def test_many_that_exceed_are_one_sentence_with_the_loudest_first(store: Store) -> None:
    recipe = recipe_for(facts("wav", Codec.PCM, 100, bits=32, form="float"), codec="flac")
    for number in range(5):
        store.overs.see(f"{number}.wav", recipe, 10 ** ((number + 1) / 20))
    store.overs.see("ripple.wav", recipe, 1.001)
    (told,) = store.overs.sentences()
    assert "4.wav (+5.0 dBFS), 3.wav (+4.0 dBFS), 2.wav (+3.0 dBFS) and 2 more" in told
    assert "ripple" not in told


@pytest.mark.parametrize(("form", "words"), [
    ("float", "floating point to 24 bit, with dither"),
    ("", "word length 32 to 24 bit, with dither"),
])  # fmt: skip
def test_a_recipe_calls_floats_floats(form: str, words: str) -> None:
    audio = facts("wav", Codec.PCM, RATE, bits=32, form=form)
    wanted = Encode(codec="flac", max_bits_per_sample=24)
    assert words in make_recipe(audio, profile_for(wanted)).reasons
