"""The loudness meter against BS.1770-5, EBU Tech 3341 and 3342 (2023), pyloudnorm and ffmpeg."""

import re
import subprocess
import tracemalloc
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from loudness_signals import RATES, Samples, coloured_noise, measured, sine

from syncd.transcoder.ffmpeg_port import find_ffmpeg
from syncd.transcoder.loudness import Measurement, joined, momentary, short_term
from syncd.transcoder.meters import Level, LevelMeter, Meter
from syncd.transcoder.weighting import HIGHPASS_48K, SHELF_48K, k_weighting

rates = pytest.mark.parametrize("rate", RATES)


def lufs(samples: Samples, rate: int) -> float:
    found = joined([measured(samples, rate)]).lufs
    assert found is not None
    return found


# -- K weighting (BS.1770-5 Annex 1, Tables 1 and 2) -----------------------------------------------


def test_the_weighting_at_48_khz_is_that_of_the_tables() -> None:
    # BS.1770-5 Annex 1: Tables 1 and 2
    assert k_weighting(48000) == (
        (
            1.53512485958697,
            -2.69169618940638,
            1.19839281085285,
            -1.69065929318241,
            0.73248077421585,
        ),
        (1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621),
    )


def test_moving_the_weighting_to_its_own_rate_gives_it_back() -> None:
    from syncd.transcoder.weighting import _moved

    for section in (SHELF_48K, HIGHPASS_48K):
        assert np.allclose(_moved(section, 48000), section, atol=1e-12)


def response_db(rate: int, hz: float) -> float:
    z = np.exp(-2j * np.pi * hz / rate)
    total = 1.0 + 0j
    for b0, b1, b2, a1, a2 in k_weighting(rate):
        total *= (b0 + b1 * z + b2 * z * z) / (1 + a1 * z + a2 * z * z)
    return float(20 * np.log10(abs(total)))


@pytest.mark.parametrize("rate", [32000, 44100, 88200, 96000, 192000])
@pytest.mark.parametrize("hz", [20, 40, 100, 1000, 2000, 5000, 10000])
def test_the_weighting_is_the_same_curve_at_every_rate(rate: int, hz: float) -> None:
    # A bilinear transform bends frequencies near half the rate; below 10 kHz little is left of it.
    assert response_db(rate, hz) == pytest.approx(response_db(48000, hz), abs=0.08)


def test_blocks_of_matrices_filter_as_the_recursion_does() -> None:
    # scipy's sosfilt as the outside judge: energies of steps, fed in odd pieces
    signal = pytest.importorskip("scipy.signal", reason="scipy is not installed")
    rate = 44100
    samples = coloured_noise(1.3, rate, 3)
    sections = [[b0, b1, b2, 1, a1, a2] for b0, b1, b2, a1, a2 in k_weighting(rate)]
    weighted = signal.sosfilt(sections, samples.astype(np.float32), axis=0)
    wanted = (weighted[: 65 * 882].reshape(65, 882, 2) ** 2).sum(axis=(1, 2)) / 882
    for piece in (977, 4410, 50000):
        found = measured(samples, rate, piece)
        assert len(found.steps) == 65
        assert np.allclose(found.steps, wanted, rtol=2e-5)


# -- BS.1770-5 and EBU Tech 3341 Table 1 -----------------------------------------------------------


@rates
def test_a_full_scale_sine_in_one_front_channel_reads_minus_3_01(rate: int) -> None:
    # BS.1770-5 Annex 1, note 1
    wave = sine(rate, [(5, 0.0)], hz=997)
    wave[:, 1] = 0
    assert lufs(wave, rate) == pytest.approx(-3.01, abs=0.1)
    assert lufs(wave[:, :1], rate) == pytest.approx(-3.01, abs=0.1)


CASES = {
    1: ([(20, -23)], -23.0),
    2: ([(20, -33)], -33.0),
    3: ([(10, -36), (60, -23), (10, -36)], -23.0),
    4: ([(10, -72), (10, -36), (60, -23), (10, -36), (10, -72)], -23.0),
    5: ([(20, -26), (20.1, -20), (20, -26)], -23.0),
}


@pytest.mark.parametrize(
    ("rate", "case"),
    [
        *((48000, case) for case in CASES),
        *((rate, case) for rate in (44100, 96000) for case in (1, 5)),
    ],
)
def test_integrated_loudness_of_tech_3341(rate: int, case: int) -> None:
    levels, expected = CASES[case]
    part = measured(sine(rate, levels), rate)
    assert joined([part]).lufs == pytest.approx(expected, abs=0.1)
    if case in (1, 2):
        assert np.allclose(momentary(part)[1:], expected, atol=0.1)
        assert np.allclose(short_term(part)[1:], expected, atol=0.1)


@rates
def test_case_6_surrounds_weigh_more(rate: int) -> None:
    t = 2 * np.pi * 1000 * np.arange(5 * rate) / rate
    levels = (-28, -28, -24, -30, -30)
    five = np.stack([10 ** (level / 20) * np.sin(t) for level in levels], axis=1)
    assert lufs(five, rate) == pytest.approx(-23.0, abs=0.1)
    with_lfe = np.insert(five, 3, 0.9 * np.sin(t), axis=1)  # BS.1770-5 Table 3: LFE left out
    assert lufs(with_lfe, rate) == pytest.approx(lufs(five, rate), abs=1e-6)


def test_channels_behind_120_degrees_weigh_as_front_ones() -> None:
    # BS.1770-5 Annex 3 Table 4, in FLAC's order FL FR FC LFE BL BR SL SR
    wave = sine(48000, [(2, -23)])[:, :1]
    silent = np.zeros_like(wave)
    alone = [np.concatenate([silent] * n + [wave] + [silent] * (7 - n), axis=1) for n in range(8)]
    found = [joined([measured(one, 48000)]).lufs for one in alone]
    assert found[3] is None
    front = found[0]
    assert front is not None
    for number, extra in ((4, 0.0), (5, 0.0), (6, 1.49), (7, 1.49)):  # 10 log10(1.41) = 1.49
        assert found[number] == pytest.approx(front + extra, abs=0.01)


@rates
def test_case_9_short_term_stays(rate: int) -> None:
    part = measured(sine(rate, [(1.34, -20), (1.66, -30)] * 5), rate)
    assert np.allclose(short_term(part)[1:], -23.0, atol=0.1)


@rates
def test_case_12_momentary_stays(rate: int) -> None:
    part = measured(sine(rate, [(0.18, -20), (0.22, -30)] * 25), rate)
    assert np.allclose(momentary(part)[6:], -23.0, atol=0.1)


@rates
def test_the_alignment_signal_reads_minus_18(rate: int) -> None:
    assert lufs(sine(rate, [(5, -18)]), rate) == pytest.approx(-18.0, abs=0.1)


@pytest.mark.parametrize("seconds", [0.4, 0.45, 0.55, 0.7999])
def test_an_incomplete_last_block_is_dropped(seconds: float) -> None:
    # BS.1770-5 Annex 1; a meter that counts it reads -23.22 at 0.55 s
    samples = sine(44100, [(seconds, -23)])
    assert lufs(samples, 44100) == pytest.approx(-23.0, abs=0.1)
    assert len(momentary(measured(samples, 44100))) == int(round((seconds - 0.4) * 1e6) / 1e5) + 1


@pytest.mark.parametrize("seconds", [0.0, 0.1, 0.3999])
def test_less_than_a_block_has_no_loudness(seconds: float) -> None:
    assert joined([measured(sine(48000, [(seconds, -3)]), 48000)]).lufs is None


def test_silence_and_what_is_under_the_gate_has_no_loudness() -> None:
    assert joined([measured(np.zeros((96000, 2)), 48000)]).lufs is None
    assert joined([measured(sine(48000, [(5, -71)]), 48000)]).lufs is None  # gate: -70 LKFS
    assert joined([]).lufs is None


def test_a_mono_file_reads_one_channel_and_counts_twice_as_it_is_played() -> None:
    # Follows from equation (2) of BS.1770-5: one channel is 3.01 dB below two equal ones.
    part = measured(sine(48000, [(5, -23)])[:, :1], 48000)
    assert joined([part]).lufs == pytest.approx(-26.0, abs=0.1)
    assert joined([part], dual_mono=True).lufs == pytest.approx(-23.0, abs=0.1)


# -- true peak: Tech 3341 cases 15 to 23 -----------------------------------------------------------


def faded(wave: Samples, rate: int) -> Samples:
    fade = np.minimum(1.0, np.arange(len(wave)) / (0.01 * rate))
    return wave * fade * fade[::-1]


@rates
@pytest.mark.parametrize(
    ("divisor", "level", "degrees", "expected"),
    [
        (4, 0.50, 0, -6.0),
        (4, 0.50, 45, -6.0),
        (6, 0.50, 60, -6.0),
        (8, 0.50, 67.5, -6.0),
        (4, 1.41, 45, 3.0),
    ],
)
def test_true_peaks_of_steady_sines(
    rate: int, divisor: int, level: float, degrees: float, expected: float
) -> None:
    phase = 2 * np.pi * np.arange(rate) / divisor + np.radians(degrees)
    wave = faded(level * np.sin(phase), rate)[:, None]
    found = measured(wave, rate).true_peak_dbtp
    assert expected - 0.4 <= found <= expected + 0.2


@rates
@pytest.mark.parametrize("offset", [0, 1, 2, 3])
def test_true_peaks_between_the_samples(rate: int, offset: int) -> None:
    # Cases 20-23: fs/6 at 0.50 with one period of fs/4 at 1.00, made at 4 fs, low-passed, decimated
    signal = pytest.importorskip("scipy.signal", reason="scipy is not installed")
    high = 4 * rate
    step = np.full(high, 2 * np.pi / 24)
    level = np.full(high, 0.5)
    begin = 24 * (high // 48)  # the period begins and ends at a zero crossing
    step[begin : begin + 16] = 2 * np.pi / 16
    level[begin : begin + 16] = 1.0
    phase = np.concatenate([[0.0], np.cumsum(step)[:-1]])
    lowpass = signal.firwin(255, 0.5 * rate, fs=high, window=("kaiser", 9))
    wave = np.convolve(faded(level * np.sin(phase), high), lowpass, "same")[offset::4]
    found = measured(wave[:, None], rate).true_peak_dbtp
    assert -0.4 <= found <= 0.2


@pytest.mark.parametrize("seed", range(4))
def test_leaving_blocks_out_changes_no_true_peak(seed: int) -> None:
    # scipy's resampling by FFT to 32 times the rate as the outside judge
    signal = pytest.importorskip("scipy.signal", reason="scipy is not installed")
    samples = coloured_noise(0.4, 44100, seed)
    samples *= np.exp(-((np.arange(len(samples)) % 3000) / 500))[:, None]
    fine = signal.resample(samples.astype(np.float32).astype(np.float64), 32 * len(samples))
    wanted = 20 * np.log10(np.abs(fine).max())
    meter = Meter(44100, 2)
    meter._peaks._gain = meter._peaks._bend = 1e9  # leaves no block out
    meter.feed(samples.astype(np.float32).tobytes())
    found = measured(samples, 44100, 4999)
    assert found.true_peak == pytest.approx(meter.result().true_peak, rel=1e-6)
    # BS.1770-5 Att. 1 to Annex 2: 8 times oversampling under-reads by 0.169 dB at most
    assert wanted - 0.17 <= found.true_peak_dbtp <= wanted + 0.02


def test_a_peak_in_the_very_last_sample_counts() -> None:
    for length in (1, 31, 32, 33, 64, 4000, 4001):
        samples = np.zeros((length, 2))
        samples[-1, 1] = -0.8
        found = measured(samples, 48000, 1000)
        assert found.sample_peak == pytest.approx(0.8)
        assert found.samples == length


# -- Tech 3342 Table 1 -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        ((-20, -30), 10),
        ((-20, -15), 5),
        ((-40, -20), 20),
        ((-50, -35, -20, -35, -50), 15),
    ],
)
def test_loudness_range_of_tech_3342(levels: tuple[int, ...], expected: float) -> None:
    part = measured(sine(48000, [(20, level) for level in levels]), 48000)
    assert joined([part]).range_lu == pytest.approx(expected, abs=1.0)


# -- recordings ------------------------------------------------------------------------------------


def _jumpy(seconds: float, rate: int, seed: int) -> Samples:
    levels = (-18.0, -38.0) if seed % 2 else (-38.0, -18.0)
    halves = [coloured_noise(seconds / 2, rate, seed + n, levels[n]) for n in range(2)]
    return np.concatenate(halves)


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("lengths", [(5.0317, 4.9911, 5.2203), (5.003, 0.1234, 5.019), (0.3, 0.35)])
def test_movements_in_a_row_measure_as_the_joined_file(
    rate: int, lengths: tuple[float, ...]
) -> None:
    parts = [_jumpy(seconds, rate, seed) for seed, seconds in enumerate(lengths, 1)]
    whole = joined([measured(np.concatenate(parts), rate)])
    row = joined([measured(part, rate) for part in parts])
    assert row.lufs == pytest.approx(whole.lufs, abs=0.01)
    assert row.sample_peak == pytest.approx(whole.sample_peak)


def test_blocks_that_straddle_a_join_count() -> None:
    # Two of 300 ms have no whole block each, and three in a row.
    part = measured(sine(48000, [(0.3, -23)]), 48000)
    assert joined([part]).lufs is None
    assert joined([part, part]).lufs == pytest.approx(-23.0, abs=0.1)


def test_movements_of_unlike_rates_join() -> None:
    parts = [measured(sine(rate, [(5.013, -23)]), rate) for rate in (44100, 96000, 22050)]
    assert joined(parts).lufs == pytest.approx(-23.0, abs=0.1)


def test_pooled_loudness_is_not_the_mean_of_the_tracks() -> None:
    # Measured with ffmpeg and pyloudnorm: 20 s at -23 and 20 s at -33 are -25.6 together, and with
    # -36 the quiet one is gated out.
    loud, soft, softer = (measured(sine(48000, [(20, x)]), 48000) for x in (-23, -33, -36))
    assert joined([loud, soft]).lufs == pytest.approx(-25.6, abs=0.1)
    assert joined([loud, softer]).lufs == pytest.approx(-23.0, abs=0.1)


# -- keeping ---------------------------------------------------------------------------------------


def test_what_is_kept_reads_the_same_within_a_thousandth() -> None:
    part = measured(coloured_noise(7.123, 44100, 5), 44100)
    data = part.to_bytes()
    again = Measurement.from_bytes(data)
    assert again is not None
    assert joined([again]).lufs == pytest.approx(joined([part]).lufs, abs=0.001)
    assert (again.samples, again.true_peak) == (part.samples, part.true_peak)
    assert len(data) == 46 + 2 * int(7.123 * 50)


def test_a_minute_takes_six_kilobytes() -> None:
    assert len(measured(np.zeros((60 * 8000, 1)), 8000).to_bytes()) == 6046


def test_bytes_of_another_form_are_refused() -> None:
    data = measured(sine(8000, [(1, -20)]), 8000).to_bytes()
    assert Measurement.from_bytes(data) is not None
    for odd in (b"", data[:10], data[:-1], data[:-2], bytes([9]) + data[1:]):
        assert Measurement.from_bytes(odd) is None


def test_memory_does_not_grow_with_length() -> None:
    meter = Meter(48000, 2)
    piece = np.random.default_rng(1).normal(size=(32768, 2)).astype(np.float32).tobytes()
    for _ in range(10):
        meter.feed(piece)
    tracemalloc.start()
    for _ in range(100):  # 68 s: 3,400 steps of eight bytes
        meter.feed(piece)
    grown, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert grown < 100_000
    assert most < 12_000_000


def test_the_cheap_meter_counts_and_measures_exactly() -> None:
    samples = np.random.default_rng(2).uniform(-0.7, 0.7, size=(10_001, 3)).astype(np.float32)
    meter = LevelMeter(3)
    for at in range(0, len(samples), 4096):
        meter.feed(samples[at : at + 4096].tobytes())
    found = meter.level()
    assert found == Level(
        10_001, pytest.approx(np.mean(samples.astype(float) ** 2), rel=1e-5), np.abs(samples).max()
    )


@pytest.mark.parametrize("channels", [1, 2, 6])
def test_meters_find_the_same_in_words_as_in_floats(channels: int) -> None:
    words = np.random.default_rng(5).integers(-32768, 32768, (30_001, channels)).astype("<i2")
    floats = (words / np.float32(32768)).astype(np.float32)
    ours, theirs = Meter(44100, channels), Meter(44100, channels)
    light, lights = LevelMeter(channels), LevelMeter(channels)
    for at in range(0, len(words), 8192):
        for meter, of_words in ((ours, True), (theirs, False), (light, True), (lights, False)):
            take = meter.feed_words if of_words else meter.feed
            take((words if of_words else floats)[at : at + 8192].tobytes())
    assert light.level().samples == 30_001
    assert light.level().sample_peak == lights.level().sample_peak == 1.0
    assert light.level().mean_square == pytest.approx(lights.level().mean_square, rel=1e-6)
    assert ours.result().to_bytes() == theirs.result().to_bytes()


# -- other meters ----------------------------------------------------------------------------------


@rates
@pytest.mark.parametrize("seed", [1, 2])
def test_pyloudnorm_agrees(rate: int, seed: int) -> None:
    pyloudnorm = pytest.importorskip("pyloudnorm", reason="pyloudnorm is not installed")
    # its default filter is not that of the standard: see its DeMan class
    samples = np.concatenate([_jumpy(4, rate, seed), coloured_noise(4, rate, 9, -60)])
    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    assert lufs(samples, rate) == pytest.approx(meter.integrated_loudness(samples), abs=0.1)


@rates
def test_ffmpeg_agrees(rate: int, tmp_path: Path) -> None:
    samples = _jumpy(8, rate, 4)
    path = tmp_path / "music.wav"
    soundfile.write(path, samples, rate, subtype="FLOAT")
    command = [find_ffmpeg(), "-nostdin", "-hide_banner", "-i", str(path)]
    command += ["-af", "ebur128=peak=true", "-f", "null", "-"]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    summary = said[said.rindex("Summary") :]
    integrated = re.search(r"I:\s+(-?[\d.]+) LUFS", summary)
    peak = re.search(r"Peak:\s+(-?[\d.]+) dBFS", summary)
    assert integrated is not None
    assert peak is not None
    part = measured(samples, rate)
    assert joined([part]).lufs == pytest.approx(float(integrated[1]), abs=0.1)
    if rate != 96000:  # there ffmpeg oversamples twice only (measured with it)
        assert part.true_peak_dbtp == pytest.approx(float(peak[1]), abs=0.2)


def test_block_times_are_exact_fractions() -> None:
    # 0.1 s is no binary number: an hour of blocks must not lose one by rounding
    part = Measurement(44100, 2, 44100 * 3600, 0.1, 1.0, 1.0, np.full(180_000, 0.1))
    assert len(momentary(part)) == (Fraction(3600) - Fraction(2, 5)) * 10 + 1
