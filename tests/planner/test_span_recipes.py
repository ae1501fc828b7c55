"""A span and audio with pre-emphasis are never carried over, and cost no more than they must."""

from dataclasses import replace

import pytest

from syncd.model import AudioFacts, AudioHash, Codec, LibraryPath, Span, Track
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import Unplayable
from syncd.profile import Encode, Plays, Profile

FLAC = AudioFacts("flac", Codec.FLAC, 44100, 2, 100.0, 16, 700_000, 4_410_000)
MP3 = AudioFacts("mp3", Codec.MP3, 44100, 2, 100.0, None, 128_000)
PLAYER = Profile(
    name="test",
    plays=(Plays(codec="flac", max_bits_per_sample=24), Plays(codec="mp3")),
    encode=Encode(codec="flac", compression_level=5),
)
MP3_PLAYER = Profile(
    name="test", plays=(Plays(codec="mp3"),), encode=Encode(codec="mp3", bitrate_kbps=192)
)


def test_a_span_is_encoded_where_the_whole_file_is_carried() -> None:
    assert make_recipe(FLAC, PLAYER).action == "carry"
    recipe = make_recipe(FLAC, PLAYER, part=True)
    assert (recipe.action, recipe.codec, recipe.bits) == ("encode", Codec.FLAC, 16)
    assert not (recipe.dither or recipe.resample)
    assert "part of its file" in recipe.reasons[0]


def test_a_span_of_a_lossy_file_gets_no_higher_bit_rate() -> None:
    recipe = make_recipe(MP3, MP3_PLAYER, part=True)
    assert (recipe.action, recipe.codec, recipe.bitrate_kbps) == ("encode", Codec.MP3, 128)


def test_emphasis_is_undone_with_dither_and_under_a_key_of_its_own() -> None:
    assert make_recipe(FLAC, PLAYER, emphasis=True).action == "encode"
    plain = make_recipe(FLAC, PLAYER, part=True)
    undone = make_recipe(FLAC, PLAYER, part=True, emphasis=True)
    assert undone.deemphasis
    assert undone.dither  # arithmetic makes words longer than 16 bit
    assert undone.key != plain.key
    assert any("50/15 us" in reason for reason in undone.reasons)


def test_keys_of_recipes_without_de_emphasis_are_what_they_were() -> None:
    """Pressings that are in stores already keep their keys."""
    assert make_recipe(FLAC, PLAYER, part=True).key == "r1-flac-44100-2ch-16bit-l5"


@pytest.mark.parametrize("rate", [22050, 384000])
def test_emphasis_at_a_rate_without_a_filter_is_told(rate: int) -> None:
    with pytest.raises(Unplayable, match="pre-emphasis"):
        make_recipe(replace(FLAC, sample_rate_hz=rate), PLAYER, emphasis=True)


def test_the_address_of_a_span_names_its_number() -> None:
    whole = Track(LibraryPath("/m/a.flac"), AudioHash("0" * 32), FLAC, 1)
    assert whole.address == "/m/a.flac"
    assert replace(whole, span=Span(0, 10, 3)).address == "/m/a.flac#03"
