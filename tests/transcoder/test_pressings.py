"""Every kind of pressing, decoded by something that did not make it, against its source.

Lengths: FLAC and WAV to the sample; MP3 by delay and padding (LAME technical FAQ); Opus
N * 48000 / rate by pre-skip and granule position (RFC 7845 sections 4.2, 4.3).
"""

import hashlib
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from transcoder_kit import (
    decode,
    facts,
    ffmpeg_encode,
    level_db,
    master,
    music,
    need,
    recipe_for,
    track_of,
)

from syncd.errors import ItemProblem
from syncd.model import Codec
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

ENCODINGS = {
    "mp3 V2": {"codec": "mp3", "quality": 2},
    "mp3 192": {"codec": "mp3", "bitrate_kbps": 192},
    "flac": {"codec": "flac", "compression_level": 8},
    "opus": {"codec": "opus", "bitrate_kbps": 128},
    "vorbis": {"codec": "vorbis", "bitrate_kbps": 160},
    "wav": {"codec": "pcm"},
}


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("channels", [1, 2])
def test_a_pressing_is_as_long_and_as_loud_as_its_source(
    encoding: str, channels: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "master.flac", music(60_000, channels=channels))
    recipe = recipe_for(source.track.audio, **ENCODINGS[encoding])
    pressing = press(source.track, recipe, store, tool)
    data, rate = decode(pressing.path)
    assert data.shape[1] == channels
    assert rate == (48000 if recipe.codec is Codec.OPUS else 44100)
    # To the sample; at another rate to the nearest one (soxr rounds where others round up).
    assert len(data) == round(60_000 * rate / 44100)
    assert abs(level_db(data) - level_db(source.samples)) < 0.5


def test_an_aac_pressing_keeps_length_and_level(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    source = master(tmp_path / "master.flac", music(60_000))
    pressing = press(
        source.track, recipe_for(source.track.audio, codec="aac", bitrate_kbps=160), store, tool
    )
    # Another build of ffmpeg (Debian's) is the only second decoder of AAC at hand.
    out = tmp_path / "decoded.wav"
    debian = need("ffmpeg", "ffmpeg")
    subprocess.run([debian, "-v", "error", "-i", pressing.path, out], check=True)
    data, _ = soundfile.read(out)
    assert abs(len(data) - 60_000) <= 1024  # Debian's build may keep the last block whole
    assert abs(level_db(data) - level_db(source.samples)) < 0.5


@pytest.mark.parametrize("bits", [16, 24])
def test_a_flac_pressing_has_exactly_the_samples_of_its_source(
    bits: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "master.wav", music(50_001), bits=bits)
    recipe = recipe_for(source.track.audio, codec="flac", max_bits_per_sample=24)
    pressing = press(source.track, recipe, store, tool)
    wanted, _ = soundfile.read(tmp_path / "master.wav", dtype="int32")
    found, _ = soundfile.read(pressing.path, dtype="int32")
    assert np.array_equal(wanted, found)
    assert soundfile.info(pressing.path).subtype == f"PCM_{bits}"


@pytest.mark.parametrize("bits", [16, 24])
def test_the_md5_in_a_flac_pressing_is_that_of_its_samples(
    bits: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    # RFC 9639 section 8.2: interleaved samples, signed, little-endian, in whole bytes.
    source = master(tmp_path / "master.wav", music(10_000), bits=bits)
    recipe = recipe_for(source.track.audio, codec="flac", max_bits_per_sample=24)
    pressing = press(source.track, recipe, store, tool)
    samples, _ = soundfile.read(tmp_path / "master.wav", dtype="int32")
    words = (samples >> (32 - bits)).astype("<i4").reshape(-1)
    plain = words.view(np.uint8).reshape(-1, 4)[:, : bits // 8].tobytes()
    assert pressing.path.read_bytes()[26:42] == hashlib.md5(plain).digest()


@pytest.mark.parametrize(("rate", "longest"), [(44100, 4608), (96000, 16384), (384000, 16384)])
def test_a_flac_pressing_stays_within_the_streamable_subset(
    rate: int, longest: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    # RFC 9639 section 7: blocks of at most 16384 samples, 4608 up to 48 kHz.
    source = master(tmp_path / "master.wav", music(rate // 4, rate=rate), rate, bits=24)
    recipe = recipe_for(
        source.track.audio,
        codec="flac",
        compression_level=8,
        max_sample_rate_hz=384000,
        max_bits_per_sample=24,
    )
    pressing = press(source.track, recipe, store, tool)
    assert struct.unpack(">H", pressing.path.read_bytes()[10:12])[0] <= longest
    if rate <= 48000:
        text = subprocess.run(
            [need("flac", "flac"), "-s", "-a", "-o", "-", "-f", pressing.path],
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        orders = [int(line.split("order=")[1].split()[0]) for line in text.splitlines()
                  if "type=LPC" in line]  # fmt: skip
        assert orders
        assert max(orders) <= 12


# N mod 1152 = 1, 12, 46 decode too long unless the padding is mended (measured with ffmpeg's own
# muxer); 0 and 47 are the neighbours. CD lengths (multiples of 588) hit 12, 24, 36.
@pytest.mark.parametrize("rest", [0, 1, 12, 24, 36, 46, 47, 1151])
@pytest.mark.parametrize("rate", [44100, 22050])
def test_an_mp3_pressing_decodes_to_exactly_the_samples_that_went_in(
    rest: int, rate: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    samples = 20 * 1152 + rest
    source = master(tmp_path / "master.wav", music(samples, rate=rate), rate)
    recipe = recipe_for(source.track.audio, codec="mp3", quality=2)
    pressing = press(source.track, recipe, store, tool)
    data, _ = decode(pressing.path)
    assert len(data) == samples


@pytest.mark.parametrize(
    ("name", "codec", "options"),
    [
        ("m.m4a", Codec.ALAC, ["-c:a", "alac"]),
        ("m.m4a", Codec.AAC, ["-c:a", "aac", "-b:a", "192k"]),
        ("m.ogg", Codec.VORBIS, ["-c:a", "libvorbis"]),
        ("m.opus", Codec.OPUS, ["-c:a", "libopus"]),
        ("m.wv", Codec.WAVPACK, ["-c:a", "wavpack"]),
        ("m.mp3", Codec.MP3, ["-c:a", "libmp3lame"]),
    ],
)
def test_every_kind_of_master_can_be_pressed(
    name: str, codec: Codec, options: list[str], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = music(57_600)
    soundfile.write(tmp_path / "plain.wav", data, 44100)
    path = ffmpeg_encode(tmp_path / "plain.wav", tmp_path / name, *options)
    kinds = {".m4a": "mp4", ".ogg": "ogg", ".opus": "ogg", ".wv": "wavpack", ".mp3": "mp3"}
    exact = codec in (Codec.ALAC, Codec.WAVPACK)
    rate = 48000 if codec is Codec.OPUS else 44100
    audio = facts(kinds[path.suffix], codec, 57_600 if exact else None, rate,
                  bits=16 if exact else None)  # fmt: skip
    target = "mp3" if codec is not Codec.MP3 else "opus"
    recipe = recipe_for(audio, codec=target, bitrate_kbps=96)
    pressing = press(track_of(path, audio), recipe, store, tool)
    decoded, decoded_rate = decode(pressing.path)
    assert abs(len(decoded) / decoded_rate - 57_600 / 44100) < 0.05
    assert abs(level_db(decoded) - level_db(data)) < 0.5


# No AIFF of 8 bit: libsndfile writes it in another form than plain PCM.
@pytest.mark.parametrize(
    ("kind", "bits"), [("wav", 8), ("wav", 16), ("wav", 24), ("aiff", 16), ("aiff", 24)]
)
def test_pcm_masters_of_every_word_length_are_pressed_at_their_level(
    kind: str, bits: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / f"master.{kind}", music(30_000), bits=bits)
    recipe = recipe_for(source.track.audio, codec="mp3", quality=2)
    data, _ = decode(press(source.track, recipe, store, tool).path)
    assert abs(level_db(data) - level_db(source.samples)) < 0.5


def test_the_same_input_gives_the_same_bytes(tmp_path: Path, tool: Ffmpeg) -> None:
    source = master(tmp_path / "master.flac", music(30_000), bits=24)
    for encode in ({"codec": "mp3", "quality": 2}, {"codec": "flac"}, {"codec": "opus"}):
        recipe = recipe_for(source.track.audio, **encode)
        made = []
        for number in (1, 2):
            with Store(tmp_path / f"store{number}") as kept:
                made.append(press(source.track, recipe, kept, tool).path.read_bytes())
        assert made[0] == made[1]


def test_a_pressing_holds_no_tags(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    soundfile.write(tmp_path / "plain.wav", music(30_000), 44100)
    path = ffmpeg_encode(tmp_path / "plain.wav", tmp_path / "m.flac", "-metadata", "title=Secret")
    audio = facts("flac", Codec.FLAC, 30_000)
    for encode in ENCODINGS.values():
        pressing = press(track_of(path, audio), recipe_for(audio, **encode), store, tool)
        assert b"Secret" not in pressing.path.read_bytes()


def test_a_pressing_is_made_once(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    source = master(tmp_path / "master.flac", music(10_000))
    recipe = recipe_for(source.track.audio, codec="mp3", quality=2)
    first = press(source.track, recipe, store, tool)
    Path(source.track.path).unlink()  # nothing reads the master any more
    assert press(source.track, recipe, store, tool) == first


def test_a_quiet_master_and_silence_pass_inspection(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    for number, level in enumerate((0.0, 2e-5, 1e-3)):
        source = master(tmp_path / f"m{number}.flac", music(30_000, level=level), bits=24)
        recipe = recipe_for(source.track.audio, codec="mp3", quality=2)
        assert press(source.track, recipe, store, tool).size_bytes > 0


def test_noise_that_the_codec_cuts_at_the_top_passes_inspection(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    # White noise loses more than 0.5 dB to the encoder's low-pass; what is below it is untouched.
    noise = np.random.default_rng(5).normal(0, 0.1, (60_000, 2))
    source = master(tmp_path / "noise.flac", noise)
    recipe = recipe_for(source.track.audio, codec="mp3", bitrate_kbps=96)
    data, _ = decode(press(source.track, recipe, store, tool).path)
    assert level_db(data) < level_db(noise) - 0.5


def test_a_carried_master_is_its_own_pressing(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    source = master(tmp_path / "master.flac", music(10_000))
    from syncd.planner.prescribing import make_recipe
    from syncd.profile import Encode, Plays, Profile

    player = Profile(name="p", plays=(Plays(codec="flac"),), encode=Encode(codec="flac"))
    pressing = press(source.track, make_recipe(source.track.audio, player), store, tool)
    assert pressing.carried
    assert pressing.path == Path(source.track.path)
    assert not store.sizes()


def test_a_master_that_is_gone_is_told(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    source = master(tmp_path / "master.flac", music(10_000))
    Path(source.track.path).unlink()
    recipe = recipe_for(source.track.audio, codec="mp3", quality=2)
    with pytest.raises(ItemProblem, match="no longer there"):
        press(source.track, recipe, store, tool)
