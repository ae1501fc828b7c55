"""The recipe: what is carried, what is encoded, and that nothing is invented."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncd.model import LOSSLESS, AudioFacts, Codec
from syncd.planner.encoding import MP3_KBPS, MP3_LOW_KBPS
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import USUAL_CONTAINER, Recipe, Unplayable
from syncd.profile import Encode, Plays, Profile, read_profile, sample_profiles


def profile(encode: Encode, *plays: Plays) -> Profile:
    return Profile(name="test", plays=plays or (Plays(codec=encode.codec),), encode=encode)


def flac(rate: int = 44100, bits: int = 16, channels: int = 2) -> AudioFacts:
    return AudioFacts("flac", Codec.FLAC, rate, channels, 100.0, bits, 700_000, rate * 100)


def lossy(codec: Codec, kbps: int | None, rate: int = 44100, channels: int = 2) -> AudioFacts:
    bps = None if kbps is None else kbps * 1000
    return AudioFacts(USUAL_CONTAINER[codec], codec, rate, channels, 100.0, None, bps)


MP3_V2 = profile(Encode(codec="mp3", quality=2))
FLAC_16_48 = profile(
    Encode(codec="flac", compression_level=8),
    Plays(codec="flac", max_sample_rate_hz=48000, max_bits_per_sample=16, max_channels=2),
)


def test_a_file_that_the_player_plays_is_carried_over() -> None:
    recipe = make_recipe(flac(), FLAC_16_48)
    assert (recipe.action, recipe.suffix) == ("carry", ".flac")
    assert "carried over" in recipe.reasons[0]


@pytest.mark.parametrize(
    ("audio", "word"),
    [
        (flac(96000), "48 kHz"),
        (flac(bits=24), "16 bit"),
        (flac(channels=6), "2 channels"),
        (lossy(Codec.AAC, 256), "does not play AAC"),
    ],
)
def test_what_is_over_a_limit_is_encoded_and_the_reason_names_the_limit(
    audio: AudioFacts, word: str
) -> None:
    recipe = make_recipe(audio, FLAC_16_48)
    assert recipe.action == "encode"
    assert word in recipe.reasons[0]


@pytest.mark.parametrize(
    ("source", "limit", "target"),
    [
        (88200, 48000, 44100),
        (176400, 48000, 44100),
        (352800, 48000, 44100),
        (96000, 48000, 48000),
        (192000, 48000, 48000),
        (176400, 96000, 88200),
        (192000, 96000, 96000),
        (48000, 44100, 44100),  # 32 kHz would be the simple ratio, and a loss of bandwidth
        (22050, 48000, 22050),
        (37800, 48000, 37800),
    ],
)
def test_rates_come_down_in_a_simple_ratio_where_there_is_one(
    source: int, limit: int, target: int
) -> None:
    wanted = profile(
        Encode(codec="flac", max_sample_rate_hz=limit, max_bits_per_sample=16),
        Plays(codec="flac", max_sample_rate_hz=limit, max_bits_per_sample=16),
    )
    recipe = make_recipe(flac(source, bits=24), wanted)
    assert recipe.sample_rate_hz == target
    assert recipe.resample == (source != target)


def test_the_players_own_limit_binds_where_it_is_lower_than_that_of_the_encoder() -> None:
    wanted = profile(
        Encode(codec="flac", max_sample_rate_hz=96000, max_bits_per_sample=24),
        Plays(codec="flac", max_sample_rate_hz=48000, max_bits_per_sample=16),
    )
    recipe = make_recipe(flac(96000, 24), wanted)
    assert (recipe.sample_rate_hz, recipe.bits, recipe.dither) == (48000, 16, True)


@pytest.mark.parametrize(
    ("bits", "form", "rate", "limit", "target", "dither"),
    [
        (24, "", 44100, 16, 16, True),
        (16, "", 44100, 16, 16, False),
        (16, "", 96000, 16, 16, True),  # resampled: the samples have become longer than any word
        (8, "", 44100, 16, 16, False),
        (24, "", 44100, 24, 24, False),
        (32, "float", 44100, 24, 24, True),
        (32, "", 44100, 16, 16, True),
    ],
)
def test_dither_is_asked_for_exactly_when_the_word_length_falls(
    bits: int, form: str, rate: int, limit: int, target: int, dither: bool
) -> None:
    audio = AudioFacts("wav", Codec.PCM, rate, 2, 10.0, bits, None, rate * 10, form)
    wanted = profile(Encode(codec="flac", max_bits_per_sample=limit, max_sample_rate_hz=48000))
    recipe = make_recipe(audio, wanted)
    assert (recipe.bits, recipe.dither) == (target, dither)


@pytest.mark.parametrize(
    ("rate", "limit", "target"),
    [
        (2_822_400, 384000, 88200),
        (2_822_400, 48000, 44100),
        (5_644_800, 384000, 176400),
        (5_644_800, 96000, 88200),
        (3_072_000, 192000, 96000),
    ],
)
def test_one_bit_audio_counts_as_24_bit_at_a_thirty_second_of_its_rate(
    rate: int, limit: int, target: int
) -> None:
    audio = AudioFacts("dsf", Codec.DSD, rate, 2, 10.0, 1, rate * 2, rate * 10)
    wanted = profile(Encode(codec="flac", max_bits_per_sample=24, max_sample_rate_hz=limit))
    recipe = make_recipe(audio, wanted)
    assert (recipe.sample_rate_hz, recipe.bits, recipe.resample) == (target, 24, True)
    small = make_recipe(audio, profile(Encode(codec="flac", max_sample_rate_hz=48000)))
    assert (small.bits, small.dither) == (16, True)


def test_wide_words_with_few_valid_bits_are_judged_by_their_width() -> None:
    wide = AudioFacts("wav", Codec.PCM, 48000, 2, 10.0, 24, 48000 * 64, 480_000)
    plays = Plays(codec="pcm", max_bits_per_sample=24)
    wanted = profile(Encode(codec="pcm", max_bits_per_sample=24), plays)
    recipe = make_recipe(wide, wanted)
    assert (recipe.action, recipe.bits, recipe.dither) == ("remux", 24, False)
    whole = AudioFacts("wav", Codec.PCM, 48000, 2, 10.0, 24, 48000 * 48, 480_000)
    assert make_recipe(whole, wanted).action == "carry"


@pytest.mark.parametrize(
    ("kbps", "quality", "bitrate"),
    [(320, 2, None), (256, None, 192), (128, None, 128), (100, None, 96), (48, None, 48)],
)
def test_a_lossy_source_is_never_given_more_bits_than_it_has(
    kbps: int, quality: int | None, bitrate: int | None
) -> None:
    recipe = make_recipe(lossy(Codec.AAC, kbps), MP3_V2)
    assert (recipe.quality, recipe.bitrate_kbps) == (quality, bitrate)


def test_speech_at_a_very_low_bit_rate_comes_down_to_a_rate_that_has_such_bit_rates() -> None:
    # Bit rates below 32 kbit/s exist for MPEG-2 only, up to 24 kHz (ISO/IEC 13818-3; memory).
    recipe = make_recipe(lossy(Codec.OPUS, 24, 48000, 1), MP3_V2)
    assert (recipe.sample_rate_hz, recipe.bitrate_kbps) == (24000, 24)


@pytest.mark.parametrize("codec", ["opus", "vorbis", "aac", "mp3"])
@pytest.mark.parametrize("kbps", [16, 320])
def test_a_bit_rate_that_the_codec_does_not_have_is_brought_to_one_that_it_has(
    codec: str, kbps: int
) -> None:
    recipe = make_recipe(flac(8000, channels=1), profile(Encode(codec=codec, bitrate_kbps=kbps)))
    # Opus RFC 7845; MPEG-2.5 tables (memory); Vorbis and AAC as measured with their encoders.
    highest = {"opus": 240, "vorbis": 40, "aac": 48, "mp3": 64}[codec]
    assert recipe.bitrate_kbps == (highest if kbps == 320 else 16)


def test_mono_stays_mono() -> None:
    recipe = make_recipe(flac(channels=1, rate=96000), FLAC_16_48)
    assert (recipe.channels, recipe.downmix) == (1, None)


def test_six_channels_are_mixed_down_by_a_named_matrix() -> None:
    recipe = make_recipe(flac(channels=6), MP3_V2)
    assert (recipe.channels, recipe.downmix) == (2, "6to2")


def test_a_container_that_the_player_does_not_read_is_a_reason_to_remux() -> None:
    aac = AudioFacts("aac", Codec.AAC, 44100, 2, 100.0, None, 128_000)
    wanted = profile(
        Encode(codec="mp3", quality=2), Plays(codec="mp3"), Plays(codec="aac", containers=("mp4",))
    )
    recipe = make_recipe(aac, wanted)
    assert (recipe.action, recipe.container, recipe.codec) == ("remux", "mp4", Codec.AAC)
    assert "untouched" in recipe.reasons[0]
    assert make_recipe(lossy(Codec.AAC, 128), wanted).action == "carry"


def test_a_container_that_nothing_can_be_put_into_is_a_reason_to_encode() -> None:
    wanted = profile(
        Encode(codec="mp3", quality=2), Plays(codec="mp3"), Plays(codec="flac", containers=("mp4",))
    )
    assert make_recipe(flac(), wanted).action == "encode"


def test_a_bit_rate_above_the_players_is_encoded_again_below_it() -> None:
    wanted = profile(
        Encode(codec="mp3", bitrate_kbps=192), Plays(codec="mp3", max_bitrate_kbps=160)
    )
    assert make_recipe(lossy(Codec.MP3, 320), wanted).bitrate_kbps == 160
    assert make_recipe(lossy(Codec.MP3, 128), wanted).action == "carry"


def test_the_key_tells_audio_work_apart_and_nothing_else() -> None:
    other = profile(Encode(codec="mp3", quality=2), Plays(codec="mp3"), Plays(codec="vorbis"))
    one, same = make_recipe(flac(), MP3_V2), make_recipe(flac(), other)
    assert one.key == same.key == "r1-mp3-44100-2ch-q2"
    assert make_recipe(flac(bits=24), FLAC_16_48).key != make_recipe(flac(96000), FLAC_16_48).key
    assert make_recipe(flac(channels=6), MP3_V2).key != one.key


@pytest.mark.parametrize(
    ("audio", "word"),
    [
        (AudioFacts("wav", Codec.PCM, 0, 2, 1.0, 16), "damaged"),
        (AudioFacts("wav", Codec.PCM, 44100, 12, 1.0, 16), "12 channels"),
        (lossy(Codec.VORBIS, 6), "below the least"),
        (AudioFacts("wav", Codec.PCM, 6000, 1, 1.0, 16), "6000 Hz"),
    ],
)
def test_what_cannot_be_made_is_refused_in_a_sentence(audio: AudioFacts, word: str) -> None:
    wanted = profile(Encode(codec="mp3", quality=2), Plays(codec="mp3"))
    with pytest.raises(Unplayable, match=word) as caught:
        make_recipe(audio, wanted)
    assert str(caught.value).endswith(".")


@pytest.mark.parametrize("name", sorted(sample_profiles()))
def test_every_sample_profile_has_a_recipe_for_common_sources(name: str) -> None:
    wanted = read_profile(sample_profiles()[name])
    sources = [flac(), flac(96000, 24), flac(192000, 24, 6), lossy(Codec.MP3, 128)]
    sources += [lossy(Codec.AAC, 256), lossy(Codec.OPUS, 96, 48000), lossy(Codec.VORBIS, 160)]
    for audio in sources:
        assert make_recipe(audio, wanted).channels <= 2


def test_the_estimate_is_not_below_what_a_fixed_bit_rate_takes() -> None:
    recipe = make_recipe(flac(), profile(Encode(codec="mp3", bitrate_kbps=192)))
    assert recipe.estimate_bytes(100.0) >= 192_000 * 100 // 8


RATES = (8000, 11025, 16000, 22050, 32000, 37800, 44100, 48000, 64000, 88200, 96000, 176400, 192000)
DSD_RATES = (2_822_400, 3_072_000, 5_644_800, 11_289_600)
CODECS = ("mp3", "flac", "opus", "vorbis", "aac", "pcm")


@st.composite
def sources(draw: st.DrawFn) -> AudioFacts:
    codec = draw(st.sampled_from(list(Codec)))
    lossless = codec in LOSSLESS
    one_bit = codec is Codec.DSD
    words = (1,) if one_bit else (8, 16, 20, 24, 32)
    return AudioFacts(
        container=USUAL_CONTAINER[codec],
        codec=codec,
        sample_rate_hz=draw(st.sampled_from(DSD_RATES if one_bit else RATES)),
        channels=draw(st.integers(1, 8)),
        duration_s=10.0,
        bits_per_sample=draw(st.sampled_from(words)) if lossless else None,
        bitrate_bps=draw(st.integers(6_000, 9_000_000 if lossless else 512_000)),
        profile=draw(st.sampled_from(("", "float"))) if codec is Codec.PCM else "",
    )


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    codec = draw(st.sampled_from(CODECS))
    top = 48000 if codec == "mp3" else 384000
    setting = {}
    if codec == "mp3" and draw(st.booleans()):
        setting = {"quality": draw(st.integers(0, 9))}
    elif codec not in ("flac", "pcm") and draw(st.booleans()):
        setting = {"bitrate_kbps": draw(st.integers(16, 320))}
    encode = Encode(
        codec=codec,
        max_sample_rate_hz=draw(st.sampled_from([rate for rate in RATES if rate <= top])),
        max_bits_per_sample=draw(st.sampled_from((16, 24))),
        max_channels=draw(st.sampled_from((1, 2))),
        **setting,
    )
    limit = st.none() | st.sampled_from(RATES)
    others = [
        Plays(
            codec=name,
            max_sample_rate_hz=draw(limit),
            max_bits_per_sample=draw(st.none() | st.sampled_from((16, 24))),
            max_channels=draw(st.none() | st.integers(1, 2)),
            max_bitrate_kbps=draw(st.none() | st.integers(64, 320)),
        )
        for name in draw(st.lists(st.sampled_from(CODECS), max_size=3))
    ]
    return Profile(name="drawn", plays=(Plays(codec=codec), *others), encode=encode)


def recipe_or_none(audio: AudioFacts, wanted: Profile) -> Recipe | None:
    try:
        return make_recipe(audio, wanted)
    except Unplayable:
        return None


@given(sources(), profiles())
def test_nothing_is_invented(audio: AudioFacts, wanted: Profile) -> None:
    recipe = recipe_or_none(audio, wanted)
    if recipe is None:
        return
    # Opus has one clock, 48 kHz (RFC 7845 section 4); a word is written as 16 or 24 bit.
    if recipe.codec is not Codec.OPUS:
        share = 32 if audio.codec is Codec.DSD else 1
        assert recipe.sample_rate_hz <= audio.sample_rate_hz // share
    assert recipe.channels <= audio.channels
    if recipe.bits is not None:
        source_bits = 24 if audio.codec is Codec.DSD else audio.bits_per_sample or 16
        assert recipe.bits <= (16 if source_bits <= 16 else max(24, source_bits))
    if recipe.action == "encode" and not audio.lossless and not recipe.lossless:
        source_bps = audio.bitrate_bps
        assert source_bps is not None
        if recipe.quality is None:
            assert recipe.bitrate_kbps is not None
            assert recipe.bitrate_kbps * 1000 <= source_bps
        else:
            assert source_bps >= 320_000  # no variable-rate frame can have more


@given(sources(), profiles())
def test_what_is_made_is_within_the_limits_of_the_profile(
    audio: AudioFacts, wanted: Profile
) -> None:
    recipe = recipe_or_none(audio, wanted)
    if recipe is None or recipe.action == "carry":
        return
    assert recipe.codec.value == wanted.encode.codec
    assert recipe.channels <= wanted.encode.max_channels
    if recipe.codec is not Codec.OPUS:
        assert recipe.sample_rate_hz <= wanted.encode.max_sample_rate_hz
    if recipe.bits is not None:
        assert recipe.bits <= wanted.encode.max_bits_per_sample
    if recipe.codec is Codec.MP3 and recipe.bitrate_kbps is not None:
        # ISO/IEC 11172-3 and 13818-3 (tables from memory): which bit rates exist at which rates.
        table = MP3_KBPS if recipe.sample_rate_hz >= 32000 else MP3_LOW_KBPS
        assert recipe.bitrate_kbps in table


@given(sources(), profiles())
def test_a_recipe_is_determined_by_its_inputs(audio: AudioFacts, wanted: Profile) -> None:
    first, second = recipe_or_none(audio, wanted), recipe_or_none(audio, wanted)
    assert first == second
    if first is not None:
        assert first.reasons
        assert first.key.replace("-", "").isalnum()
        assert first.estimate_bytes(10.0) > 0
