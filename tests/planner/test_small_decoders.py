"""What a small decoder is particular about: carried within its limits, made within them otherwise.

FLAC's streamable subset: RFC 9639 section 7 (blocks of 4608 samples at most up to 48 kHz, 16384
above); frame layout section 9.
"""

import pytest

from syncd.model import (
    AudioFacts,
    AudioHash,
    CataloguedTrack,
    Codec,
    Identity,
    Kind,
    LibraryPath,
    LibrarySnapshot,
    Track,
)
from syncd.planner.card_state import CardState
from syncd.planner.planning import make_plan
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import Recipe, Unplayable
from syncd.profile import CardLayout, Encode, Plays, Profile


def flac(
    rate: int = 44100,
    bits: int = 16,
    block: int | None = 4096,
    frame: int | None = 14_000,
    varies: bool | None = False,
) -> AudioFacts:
    return AudioFacts(
        "flac", Codec.FLAC, rate, 2, 100.0, bits, 700_000, rate * 100, "", varies, block, frame
    )


def lossy(codec: Codec, container: str, varies: bool | None, profile: str = "") -> AudioFacts:
    return AudioFacts(
        container, codec, 44100, 2, 100.0, None, 192_000, None, profile, variable=varies
    )


def recipe(audio: AudioFacts, encode: Encode, *plays: Plays) -> Recipe:
    return make_recipe(audio, Profile(name="test", plays=plays, encode=encode))


FLAC = Encode(codec="flac", max_bits_per_sample=24, max_sample_rate_hz=192000)
MP3 = Encode(codec="mp3", bitrate_kbps=128)


@pytest.mark.parametrize(
    ("audio", "limit", "carried", "word"),
    [
        (flac(), {"max_block_samples": 4096}, True, "carried"),
        (flac(block=4608), {"max_block_samples": 4096}, False, "4608 samples"),
        (flac(block=None), {"max_block_samples": 4096}, False, "not known"),
        (flac(block=4608), {"subset": True}, True, "carried"),
        (flac(block=8192), {"subset": True}, False, "4608 at most"),
        (flac(96000, block=8192), {"subset": True}, True, "carried"),
        (flac(varies=True), {"fixed_blocks": True}, False, "varies"),
        (flac(varies=None), {"fixed_blocks": True}, False, "not known"),
        (flac(frame=9000), {"max_frame_bytes": 10_000}, True, "carried"),
        (flac(frame=14_000), {"max_frame_bytes": 10_000}, False, "14000 bytes"),
        (flac(frame=None), {"max_frame_bytes": 10_000}, False, "not known"),
        (flac(48000), {"sample_rates_hz": (44100, 96000)}, False, "44.1, 96 kHz, not at 48 kHz"),
        (flac(96000), {"sample_rates_hz": (44100, 96000)}, True, "carried"),
        (flac(bits=20), {"bits_per_sample": (16, 24)}, False, "16, 24 bit"),
        (flac(bits=24), {"bits_per_sample": (16, 24)}, True, "carried"),
        # Nothing in a profile that does not limit it is asked of the header.
        (flac(block=65535, frame=None, varies=True), {}, True, "carried"),
    ],
)
def test_a_flac_is_carried_exactly_when_the_decoder_has_room_for_it(
    audio: AudioFacts, limit: dict[str, object], carried: bool, word: str
) -> None:
    made = recipe(audio, FLAC, Plays(codec="flac", **limit))
    assert (made.action == "carry") is carried
    assert word in made.reasons[0]


@pytest.mark.parametrize(
    ("profile", "action"), [("LC", "carry"), ("HE", "encode"), ("HEv2", "encode"), ("", "encode")]
)
def test_aac_is_carried_by_its_object_type(profile: str, action: str) -> None:
    audio = lossy(Codec.AAC, "mp4", None, profile)
    made = recipe(audio, MP3, Plays(codec="aac", object_types=("LC",)), Plays(codec="mp3"))
    assert made.action == action
    if profile == "HE":
        assert "not HE" in made.reasons[0]


def test_another_entry_of_the_profile_may_allow_what_one_refuses() -> None:
    # HE-AAC in ADTS and LC in MP4: each where the player has it.
    plays = (
        Plays(codec="aac", containers=("aac",), object_types=("HE",)),
        Plays(codec="aac", object_types=("LC",), max_bitrate_kbps=320),
        Plays(codec="mp3"),
    )
    assert recipe(lossy(Codec.AAC, "mp4", None, "LC"), MP3, *plays).action == "carry"
    assert recipe(lossy(Codec.AAC, "aac", None, "HE"), MP3, *plays).action == "carry"
    assert recipe(lossy(Codec.AAC, "aac", None, "LC"), MP3, *plays).action == "remux"
    assert recipe(lossy(Codec.AAC, "mp4", None, "HE"), MP3, *plays).action == "encode"


@pytest.mark.parametrize(
    ("varies", "action"), [(False, "carry"), (True, "encode"), (None, "encode")]
)
def test_a_player_of_constant_rates_gets_no_other(varies: bool | None, action: str) -> None:
    encode = Encode(codec="mp3", quality=2)
    made = recipe(lossy(Codec.MP3, "mp3", varies), encode, Plays(codec="mp3", bitrate="constant"))
    assert made.action == action
    if action == "encode":
        # A scale of variable rates is of no use to it: the next rate that exists, and no more
        # than the source has.
        assert (made.quality, made.bitrate_kbps) == (None, 192)


def test_opus_and_vorbis_of_constant_rate_are_told_apart_from_those_that_vary() -> None:
    for codec in ("opus", "vorbis"):
        free = recipe(flac(), Encode(codec=codec, bitrate_kbps=96), Plays(codec=codec))
        fixed = recipe(
            flac(), Encode(codec=codec, bitrate_kbps=96, bitrate="constant"), Plays(codec=codec)
        )
        assert (free.constant, fixed.constant) == (False, True)
        assert fixed.key == free.key + "-cbr"
        assert fixed.estimate_bytes(100) < free.estimate_bytes(100)


@pytest.mark.parametrize(
    ("limit", "block"),
    [
        ({"max_block_samples": 2048}, 2048),
        ({"max_block_samples": 3000}, 2304),
        ({"max_block_samples": 4608}, None),
        ({"max_frame_bytes": 10_000}, 2304),  # 2 x 2304 x 17 bit are 9792 bytes, and 22 of frame
        ({"max_frame_bytes": 9_700}, 2048),
        ({"max_frame_bytes": 1 << 20}, None),
    ],
)
def test_flac_is_made_in_blocks_that_the_decoder_has_room_for(
    limit: dict[str, int], block: int | None
) -> None:
    made = recipe(flac(block=16384, frame=1 << 21), FLAC, Plays(codec="flac", **limit))
    assert made.action == ("encode")
    assert made.block_samples == block
    if block is None:
        assert made.key.endswith(
            "l5"
        )  # pressings made before there were such limits keep their key


def test_a_list_of_rates_is_kept_to_when_a_file_is_made() -> None:
    plays = Plays(codec="flac", sample_rates_hz=(32000, 44100))
    assert recipe(flac(48000), FLAC, plays).sample_rate_hz == 44100
    assert recipe(flac(88200), FLAC, plays).sample_rate_hz == 44100
    with pytest.raises(Unplayable, match="sample_rates_hz"):
        recipe(flac(22050), FLAC, plays)  # nothing is invented: no rate above the source's
    with pytest.raises(Unplayable, match="48 kHz"):
        opus = Plays(codec="opus", sample_rates_hz=(44100,))
        recipe(flac(), Encode(codec="opus"), opus)


def test_a_list_of_word_lengths_is_kept_to_when_a_file_is_made() -> None:
    plays = Plays(codec="flac", bits_per_sample=(24,))
    made = recipe(flac(), FLAC, plays)
    assert (made.bits, made.dither) == (24, False)  # the words are filled up with zeros
    with pytest.raises(Unplayable, match="16 or 24"):
        recipe(flac(), FLAC, Plays(codec="flac", bits_per_sample=(8,)))


def test_aac_is_not_made_for_a_player_of_other_kinds_of_it() -> None:
    with pytest.raises(Unplayable, match="LC"):
        recipe(flac(), Encode(codec="aac"), Plays(codec="aac", object_types=("HE",)))


def test_a_file_larger_than_the_player_takes_is_told() -> None:
    audio = AudioFacts("flac", Codec.FLAC, 44100, 2, 100.0, 16, 700_000, 4_410_000)
    track = Track(LibraryPath("/m/a.flac"), AudioHash("a" * 32), audio, 8 << 20, title="Long")
    library = LibrarySnapshot((CataloguedTrack(track, Identity(Kind.POPULAR, artist="Nobody")),))
    card = CardState(bytes_free=1 << 30, largest_file_bytes=(1 << 32) - 1)

    def told(limit: int | None) -> list[str]:
        profile = Profile(
            name="test",
            plays=(Plays(codec="flac"),),
            encode=FLAC,
            card=CardLayout(largest_file_bytes=limit),
        )
        return [item.reason for item in make_plan(library, card, profile).not_fitting]

    assert told(4 << 20) == ["One of its files is larger than the player allows."]
    assert told(64 << 20) == told(None) == []
