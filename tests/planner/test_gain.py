"""Gains and how they are written, by ReplayGain 2.0 and RFC 7845; and what the planner makes."""

import math
import re
import subprocess
import sys

import pytest

from syncd.model import AudioFacts, AudioHash, Codec
from syncd.planner.gain import (
    Heard,
    baked_gain_db,
    bakes,
    gain_tags,
    gain_text,
    level_key,
    loudest_gain_db,
    r128_text,
    with_gain,
)
from syncd.planner.prescribing import make_recipe
from syncd.profile import Encode, Levelling, Plays, Profile


@pytest.mark.parametrize(
    ("lufs", "text"),
    [(-23.0, "+5.00 dB"), (-10.37, "-7.63 dB"), (-6.5, "-11.50 dB"), (-41.2, "+23.20 dB")],
)
def test_gains_have_the_text_form_of_replaygain(lufs: float, text: str) -> None:
    # ReplayGain 2.0: reference -18 LUFS, two decimals, a space, dB
    assert gain_text(lufs, -18.0) == text


def test_a_gain_of_nothing_has_no_minus() -> None:
    assert gain_text(-17.999, -18.0) == "+0.00 dB"


@pytest.mark.parametrize(
    ("lufs", "text"),
    [(-18.0, "-1280"), (-23.0, "0"), (-10.37, "-3233"), (-41.2, "4659"), (300.0, "-32768")],
)
def test_opus_gains_are_q7_8_against_minus_23(lufs: float, text: str) -> None:
    # RFC 7845 section 5.2.1: at most six characters
    assert r128_text(lufs) == text
    assert len(text) <= 6


def test_opus_files_get_no_replaygain_and_others_no_r128() -> None:
    heard = Heard(-15.0, 0.5, 0.6)
    opus = dict(gain_tags(Codec.OPUS, heard, heard, Levelling(mode="tags", target_lufs=-20)))
    assert opus == {"R128_TRACK_GAIN": "-2048", "R128_ALBUM_GAIN": "-2048"}  # G = -3 -> -2048
    mp3 = dict(gain_tags(Codec.MP3, heard, Heard(-16.0, 0.9, 1.0), Levelling(mode="tags")))
    assert mp3 == {
        "REPLAYGAIN_TRACK_GAIN": "-3.00 dB",
        "REPLAYGAIN_TRACK_PEAK": "0.500000",
        "REPLAYGAIN_ALBUM_GAIN": "-2.00 dB",
        "REPLAYGAIN_ALBUM_PEAK": "0.900000",
        "REPLAYGAIN_REFERENCE_LOUDNESS": "-18.00 LUFS",
    }


def test_what_was_not_heard_gets_no_tag() -> None:
    silent = Heard(None, 0.0, 0.0)
    assert gain_tags(Codec.MP3, silent, silent, Levelling(mode="tags")) == ()
    assert gain_tags(Codec.OPUS, silent, silent, Levelling(mode="tags")) == ()
    assert baked_gain_db(silent, Levelling(mode="baked")) is None


@pytest.mark.parametrize("target", [-5.0, -14.0, -18.0, -23.0])
@pytest.mark.parametrize("peak", [0.01, 0.3333, 0.8913, 1.0, 1.7])
@pytest.mark.parametrize("ceiling", [0.0, -1.0, -3.7])
def test_a_baked_gain_stays_under_the_ceiling(target: float, peak: float, ceiling: float) -> None:
    wanted = Levelling(mode="baked", target_lufs=target, true_peak_ceiling_dbtp=ceiling)
    for lufs in (-40.0, -23.456, -9.0):
        gain = baked_gain_db(Heard(lufs, peak, peak), wanted) or 0.0
        assert 20 * math.log10(peak) + gain <= ceiling + 1e-9
        assert lufs + gain <= target + 0.005
        reached = abs(lufs + gain - target) <= 0.005
        at_ceiling = 20 * math.log10(peak) + gain > ceiling - 0.0101
        assert reached or at_ceiling


def test_loud_music_is_lowered_and_nothing_is_said_of_it() -> None:
    loud = Heard(-8.0, 1.0, 1.1)
    assert baked_gain_db(loud, Levelling(mode="baked")) == -10.0
    assert loudest_gain_db([loud], Levelling(mode="tags")) == 0.0
    assert loudest_gain_db([loud, Heard(-25.0, 0.1, 0.1)], Levelling(mode="tags")) == 7.0


def facts(codec: Codec, container: str, bits: int | None, rate: int = 44100) -> AudioFacts:
    return AudioFacts(container, codec, rate, 2, 60.0, bits, 700_000, rate * 60)


def profile(*plays: str, encode: str = "mp3") -> Profile:
    return Profile(
        name="test", plays=tuple(Plays(codec=one) for one in plays), encode=Encode(codec=encode)
    )


def test_a_gain_enters_the_key_and_its_absence_does_not() -> None:
    player = profile("mp3")
    plain = make_recipe(facts(Codec.FLAC, "flac", 16), player)
    louder = with_gain(plain, facts(Codec.FLAC, "flac", 16), 3.21, player)
    softer = with_gain(plain, facts(Codec.FLAC, "flac", 16), -3.21, player)
    assert "gain" not in plain.key
    assert len({plain.key, louder.key, softer.key}) == 3
    assert re.fullmatch(r"[A-Za-z0-9-]+", softer.key)
    assert not louder.dither  # lossy encoders take floats


@pytest.mark.parametrize(("bits", "made"), [(16, 16), (20, 24), (24, 24)])
def test_a_carried_lossless_master_is_made_anew_in_its_own_form(bits: int, made: int) -> None:
    player = profile("flac", "mp3")
    audio = facts(Codec.FLAC, "flac", bits, 96000)
    recipe = make_recipe(audio, player)
    assert recipe.action == "carry"
    assert bakes(recipe, audio)
    baked = with_gain(recipe, audio, -2.0, player)
    assert (baked.action, baked.codec, baked.container) == ("encode", Codec.FLAC, "flac")
    assert (baked.sample_rate_hz, baked.bits, baked.dither) == (96000, made, True)


@pytest.mark.parametrize(
    ("codec", "container", "bits"),
    [(Codec.MP3, "mp3", None), (Codec.OPUS, "ogg", None), (Codec.ALAC, "mp4", 16)],
)
def test_what_is_lossy_or_has_no_encoder_here_is_not_made_anew(
    codec: Codec, container: str, bits: int | None
) -> None:
    audio = facts(codec, container, bits)
    recipe = make_recipe(audio, profile(codec.value, "mp3"))
    assert recipe.action == "carry"
    assert not bakes(recipe, audio)


def test_loudness_is_known_by_what_is_done_before_the_gain() -> None:
    surround = AudioFacts("flac", Codec.FLAC, 48000, 6, 60.0, 24, None, 48000 * 60)
    player = profile("mp3")
    recipe = make_recipe(surround, player)
    digest = AudioHash("0" * 32)
    assert level_key(digest, recipe) == (digest, "mix6to2")
    assert level_key(digest, with_gain(recipe, surround, 1.0, player)) == (digest, "mix6to2")
    assert level_key(digest, make_recipe(facts(Codec.FLAC, "flac", 24), player)) == (digest, "")


def test_planning_and_pressing_do_not_load_numpy_unless_something_is_measured() -> None:
    code = (
        "import sys, syncd.updating.updater, syncd.cli.plan_command, syncd.cli.update_command;"
        "print(sorted({'numpy', 'scipy'} & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"
