"""What happens to samples on their way through a press, against published figures.

Sources. Downmix: Rec. ITU-R BS.775-3 Annex 4 (coefficients from secondary texts; back centre and
the second pair of surrounds by common practice), order of channels RFC 9639 section 9.1.3. Dither:
TPDF of +-1 LSB is LSB/2 rms in all, -96.33 dBFS at 16 bit, and sends silence to -1, 0, 1 with
1/8, 3/4, 1/8 (textbook). Opus: pre-skip is dropped, length ceil(N 48000 / rate), RFC 7845 section
4.2. MP3: delay and padding in the info tag as LAME documents it; 1152 samples a frame (ISO/IEC
11172-3). CD: 588 samples a frame (RFC 9639 section 8.7).
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from transcoder_kit import Master, Samples, decode, level_db, master, recipe_for

from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.pool import press_all
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

LSB = 1 / 32768


def pressed(source: Master, store: Store, tool: Ffmpeg, **encode: Any) -> Samples:
    made = press(source.track, recipe_for(source.track.audio, **encode), store, tool)
    return decode(made.path)[0]


def amplitudes(data: Samples) -> Samples:
    """Amplitude at each whole Hz of *data*, which is one second long."""
    found: Samples = np.abs(np.fft.rfft(data)) / (len(data) / 2)
    return found


def db(amplitude: Any) -> Any:
    return 20 * np.log10(np.maximum(amplitude, 1e-12))


# -- downmix ----------------------------------------------------------------------------------

H = 0.7071
LAYOUTS = {  # coefficients to the left, to mono; the sum by which the left is scaled, and the mono
    "3.0": ("L R C", (1, 0, H), (H, H, 1), 1.7071, 2.4142),
    "quad": ("L R Ls Rs", (1, 0, H, 0), (H, H, 0.5, 0.5), 2.2071, 3.1213),
    "5.0": ("L R C Ls Rs", (1, 0, H, H, 0), (H, H, 1, 0.5, 0.5), 2.4142, 3.4142),
    "5.1": ("L R C LFE Ls Rs", (1, 0, H, 0, H, 0), (H, H, 1, 0, 0.5, 0.5), 2.4142, 3.4142),
    "6.1": (
        "L R C LFE Cs Ls Rs",
        (1, 0, H, 0, 0.5, H, 0), (H, H, 1, 0, H, 0.5, 0.5), 3.1213, 4.4142,
    ),
    "7.1": (
        "L R C LFE Lb Rb Ls Rs",
        (1, 0, H, 0, H, 0, H, 0), (H, H, 1, 0, 0.5, 0.5, 0.5, 0.5), 3.1213, 4.4142,
    ),
}  # fmt: skip
MIRRORED = {"L": "R", "Ls": "Rs", "Lb": "Rb"} | {"R": "L", "Rs": "Ls", "Rb": "Lb"}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_each_channel_arrives_with_its_share(
    layout: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    text, to_left, to_mono, stereo_sum, mono_sum = LAYOUTS[layout]
    names = text.split()
    tones = [500 + 200 * index for index in range(len(names))]
    t = np.arange(44100) / 44100
    data = np.stack([0.5 * np.sin(2 * np.pi * tone * t) for tone in tones], axis=1)
    source = master(tmp_path / "a.flac", data, bits=24)
    how = {"codec": "flac", "max_bits_per_sample": 24}
    left, right = (amplitudes(side) for side in pressed(source, store, tool, **how).T)
    mono = amplitudes(pressed(source, store, tool, max_channels=1, **how)[:, 0])
    for name, tone, side, both in zip(names, tones, to_left, to_mono, strict=True):
        mirrored = to_left[names.index(MIRRORED.get(name, name))]
        assert left[tone] / 0.5 == pytest.approx(side / stereo_sum, abs=1e-4)
        assert right[tone] / 0.5 == pytest.approx(mirrored / stereo_sum, abs=1e-4)
        assert mono[tone] / 0.5 == pytest.approx(both / mono_sum, abs=1e-4)


# -- resampling -------------------------------------------------------------------------------


@pytest.mark.parametrize(("rate", "new"), [(96000, 44100), (48000, 44100), (192000, 48000)])
def test_the_passband_is_flat_and_nothing_folds_back(
    rate: int, new: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    passed = [20, 997, 4001, 9001, 14009, 17011, 18013, 19001, 19501, 20000]
    half = new // 2
    above = [hz for hz in (22103, 22501, 23003, 25013, 30011, 40009, 70001) if half < hz < rate / 2]
    above = [hz for hz in above if hz >= half + 50]
    t = np.arange(rate * 2) / rate
    tones = sum(np.sin(2 * np.pi * hz * t + hz) for hz in (*passed, *above))
    data = np.stack([0.05 * tones] * 2, axis=1)
    how = {"codec": "flac", "max_sample_rate_hz": new, "max_bits_per_sample": 24}
    found = pressed(master(tmp_path / "a.wav", data, rate, 24), store, tool, **how)
    seen = db(amplitudes(found[new // 2 : new // 2 + new, 0]))
    assert np.abs(seen[passed] - db(0.05)).max() < 0.1
    assert len(above) >= 3
    images = [abs((hz + half) % new - half) for hz in above]
    assert seen[images].max() < -120  # the tones themselves are at -26 dBFS
    quiet = np.delete(seen, [*passed, 0])
    assert quiet.max() < -120


# -- word length ------------------------------------------------------------------------------


def test_a_tone_below_one_step_survives_without_overtones(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    size, segments = 4096, 160
    hz = 44100 * 93 / size  # a whole number of periods a segment
    t = np.arange(size * segments) / 44100
    quiet = np.stack([1e-5 * np.sin(2 * np.pi * hz * t)] * 2, axis=1)  # -100 dBFS
    found = pressed(master(tmp_path / "a.wav", quiet, bits=24), store, tool, codec="flac")
    power = averaged(found, size)
    assert 10 * np.log10(power[93]) == pytest.approx(-100, abs=0.3)
    assert overtones_db(power) < 1.5
    # The same check of a louder tone that was rounded without dither: it would tell.
    rounded = np.round(quiet * 10 / LSB) * LSB
    assert overtones_db(averaged(rounded, size)) > 10


def averaged(data: Samples, size: int) -> Samples:
    """Mean power of each bin over segments of *size* and both channels; a full sine is 1."""
    frames = data[: len(data) // size * size].T.reshape(-1, size)
    found: Samples = np.mean((np.abs(np.fft.rfft(frames, axis=1)) / (size / 2)) ** 2, axis=0)
    return found


def overtones_db(power: Samples) -> float:
    """How far the largest of the overtones of bin 93 is above the noise around it."""
    ratios = []
    for overtone in range(2 * 93, 1000, 93):
        around = np.r_[power[overtone - 20 : overtone - 2], power[overtone + 3 : overtone + 21]]
        ratios.append(power[overtone] / (np.mean(around) + 1e-20))
    return float(10 * np.log10(max(ratios)))


def test_dithered_silence_is_three_values_in_their_proportion_and_repeatable(
    tmp_path: Path, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "a.wav", np.zeros((88200, 2)), bits=24)
    made = []
    for name in ("a", "b"):
        with Store(tmp_path / name) as store:
            recipe = recipe_for(source.track.audio, codec="flac")
            path = press(source.track, recipe, store, tool).path
            words = np.round(decode(path)[0] / LSB).astype(int)
            made.append(path.read_bytes())
    assert made[0] == made[1]
    values, counts = np.unique(words, return_counts=True)
    assert values.tolist() == [-1, 0, 1]
    assert counts / words.size == pytest.approx([0.125, 0.75, 0.125], abs=0.01)


@pytest.mark.parametrize("level", [0.5, 10 ** (-90 / 20)])
def test_the_noise_of_dither_does_not_depend_on_the_music(
    level: float, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(44100) / 44100
    data = np.stack([level * np.sin(2 * np.pi * 997 * t)] * 2, axis=1)
    found = pressed(master(tmp_path / "a.wav", data, bits=24), store, tool, codec="flac")
    assert level_db(found - data) == pytest.approx(-96.33, abs=0.2)


@pytest.mark.parametrize(
    "how",
    [
        {"codec": "flac"},
        {"codec": "flac", "max_bits_per_sample": 24},
        {"codec": "pcm"},
        {"codec": "flac", "max_sample_rate_hz": 32000},
    ],
)
def test_what_is_beyond_full_scale_is_clipped_and_does_not_wrap(
    how: dict[str, Any], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(22050) / 44100
    data = np.stack([1.5 * np.sin(2 * np.pi * 220 * t)] * 2, axis=1)
    source = master(tmp_path / "a.wav", data, bits=32, float_form=True)
    found = pressed(source, store, tool, **how)
    wanted = np.interp(np.arange(len(found)) * 22050 / len(found), np.arange(22050), data[:, 0])
    loud = np.abs(wanted) > 1.02
    assert np.abs(found[loud, 0] - np.sign(wanted[loud])).max() < 0.001
    assert np.abs(found[:, 0] - np.clip(wanted, -1, 1)).max() < 0.01


# -- delay and length -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "how",
    [
        {"codec": "mp3", "quality": 2},
        {"codec": "mp3", "bitrate_kbps": 128},
        {"codec": "opus", "bitrate_kbps": 128},
        {"codec": "vorbis", "bitrate_kbps": 160},
    ],
)
@pytest.mark.parametrize("rate", [44100, 48000])
def test_a_second_decoder_finds_every_sample_in_its_place(
    how: dict[str, Any], rate: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    samples = rate * 3 // 5
    noise = np.random.default_rng(5).normal(0, 1, samples)
    spectrum = np.fft.rfft(noise)
    spectrum[int(5000 * samples / rate) :] = 0  # what no codec leaves out
    wave = np.fft.irfft(spectrum, samples)
    data = np.stack([0.3 * wave / np.abs(wave).max()] * 2, axis=1)
    found = pressed(master(tmp_path / "a.wav", data, rate), store, tool, **how)
    new = 48000 if how["codec"] == "opus" else rate
    assert len(found) == -(-samples * new // rate)
    # samples * new / rate is whole, so one spectrum serves both rates
    wanted = np.fft.irfft(np.fft.rfft(data[:, 0]), len(found))
    likeness = np.fft.irfft(np.fft.rfft(found[:, 0]) * np.conj(np.fft.rfft(wanted)), len(found))
    assert int(np.argmax(likeness)) == 0


@pytest.mark.parametrize("codec", ["mp3", "opus"])
def test_every_rest_of_a_frame_and_cd_lengths_keep_their_samples(
    codec: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    rests = range(48) if codec == "mp3" else (0, 1, 24, 47)
    lengths = [1152 * 4 + rest for rest in rests] + [588 * frames for frames in (10, 75, 77, 149)]
    rng = np.random.default_rng(1)
    sources = [
        master(tmp_path / f"{samples}.wav", rng.normal(0, 0.1, (samples, 2))) for samples in lengths
    ]
    items = [
        (source.track, recipe_for(source.track.audio, codec=codec, bitrate_kbps=128))
        for source in sources
    ]
    wanted = {
        source.track.path: samples if codec == "mp3" else -(-samples * 48000 // 44100)
        for source, samples in zip(sources, lengths, strict=True)
    }
    found = {}
    for outcome in press_all(items, store, tool, workers=2):
        assert outcome.pressing is not None, outcome.problem
        found[outcome.track.path] = len(decode(outcome.pressing.path)[0])
    assert found == wanted


def test_a_full_scale_square_at_another_rate_overshoots_into_the_clip(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    square = np.sign(np.sin(2 * np.pi * 100 * (np.arange(48000) + 0.5) / 48000))
    source = master(tmp_path / "a.wav", np.stack([square] * 2, axis=1) * (1 - LSB))
    audio = source.track.audio
    assert audio.sample_rate_hz == 44100
    found = pressed(source, store, tool, codec="flac", max_sample_rate_hz=32000)
    words, _ = soundfile.read(
        press(
            source.track, recipe_for(audio, codec="flac", max_sample_rate_hz=32000), store, tool
        ).path,
        dtype="int16",
    )
    assert words.max() == 32767
    assert words.min() == -32768
    edges = np.count_nonzero(np.diff(np.sign(found[:, 0])))
    assert edges == np.count_nonzero(np.diff(square))
