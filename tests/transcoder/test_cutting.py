"""Spans are cut to the sample, and pre-emphasis is undone as the standard's curve has it.

Lengths: 588 samples a CD frame at 44.1 kHz (RFC 9639 section 8.7). De-emphasis: time constants 50
and 15 us (IEC 60908), so 10 log10((1 + (w 15 us)^2) / (1 + (w 50 us)^2)).
"""

import hashlib
import itertools
import subprocess
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from transcoder_kit import Samples, decode, ffmpeg_encode, need, profile_for, track_of

from syncd.errors import ItemProblem
from syncd.library.tags import read_file
from syncd.model import AudioHash, LibraryPath, Span, Track
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import DEEMPHASIS_RATES_HZ, Recipe
from syncd.profile import Encode
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg, source
from syncd.transcoder.graph import _DEEMPHASIS, deemphasised, opened
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

RATE = 44100
FRAME = 588
SAMPLES = FRAME * 75 * 6 + 100
CUTS = (0, FRAME, FRAME * (75 * 3 + 11), FRAME * (75 * 5 + 74), SAMPLES)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Noise as a WAV file: no two stretches of it are alike."""
    path = tmp_path_factory.mktemp("whole") / "a.wav"
    data = np.random.default_rng(3).normal(0, 0.2, (SAMPLES, 2)).clip(-1, 1)
    soundfile.write(path, data, RATE, subtype="PCM_16")
    return path


def spans_of(path: Path, cuts: Sequence[int], **facts: Any) -> list[Track]:
    audio = replace(read_file(LibraryPath(str(path))).audio, **facts)
    file = track_of(path, audio)
    return [
        replace(
            file,
            span=Span(start, end - start, number),
            audio=replace(audio, samples=end - start, duration_s=(end - start) / RATE),
            audio_hash=AudioHash(f"{file.audio_hash[:30]}{number:02}"),
        )
        for number, (start, end) in enumerate(itertools.pairwise(cuts), 1)
    ]


def recipe_of(track: Track, codec: str = "flac", **encode: Any) -> Recipe:
    return make_recipe(
        track.audio, profile_for(Encode(codec=codec, **encode)), part=True, emphasis=track.emphasis
    )


def pressed(track: Track, folder: Path, codec: str = "flac", **encode: Any) -> Path:
    with Store(folder) as store:
        made = press(track, recipe_of(track, codec, **encode), store, Ffmpeg(find_ffmpeg()))
        return made.path


def words(path: Path) -> bytes:
    """The samples of *path* as 16-bit words, decoded by the flac program where it is FLAC."""
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-i", str(path), "-f", "s16le", "-"]
    if path.suffix == ".flac":
        raw = ["--force-raw-format", "--endian=little", "--sign=signed"]
        command = [need("flac", "flac"), "-s", "-d", "-c", *raw, str(path)]
    return subprocess.run(command, check=True, capture_output=True).stdout


MASTERS: dict[str, tuple[str, ...]] = {
    "a.wav": (),
    "a.flac": ("-c:a", "flac"),
    "odd.flac": ("-c:a", "flac", "-frame_size", "1000"),
    "a.wv": ("-c:a", "wavpack"),
    "a.m4a": ("-c:a", "alac"),
    "a.aiff": ("-c:a", "pcm_s16be"),
}


@pytest.mark.parametrize("name", MASTERS)
def test_the_spans_of_a_lossless_file_joined_are_the_whole(
    name: str, whole: Path, tmp_path: Path
) -> None:
    path = ffmpeg_encode(whole, tmp_path / name, *MASTERS[name]) if MASTERS[name] else whole
    joined = b"".join(words(pressed(track, tmp_path / "store")) for track in spans_of(path, CUTS))
    assert len(joined) == SAMPLES * 4
    assert hashlib.md5(joined).hexdigest() == hashlib.md5(words(whole)).hexdigest()


def test_a_flac_file_of_the_flac_program_without_seek_table_is_cut_exactly(
    whole: Path, tmp_path: Path
) -> None:
    path = tmp_path / "a.flac"
    flac = need("flac", "flac")
    subprocess.run([flac, "-s", "--no-seektable", "-o", str(path), str(whole)], check=True)
    last = spans_of(path, CUTS)[-1]
    assert words(pressed(last, tmp_path / "store")) == words(whole)[CUTS[-2] * 4 :]


@pytest.mark.parametrize("name", ["a.mp3", "a.m4a", "a.ogg"])
def test_the_spans_of_a_lossy_file_joined_are_the_whole(
    name: str, whole: Path, tmp_path: Path
) -> None:
    path = ffmpeg_encode(whole, tmp_path / name, "-b:a", "192k")
    tracks = spans_of(path, CUTS)
    assert not tracks[0].audio.lossless
    joined = b"".join(words(pressed(track, tmp_path / "store")) for track in tracks)
    floats = subprocess.run(
        [find_ffmpeg(), "-v", "error", "-nostdin", "-i", str(path), "-f", "f32le", "-"],
        check=True, capture_output=True,
    ).stdout  # fmt: skip
    want = np.frombuffer(floats, "<f4").reshape(-1, 2).clip(-1, 32767 / 32768)
    got = np.frombuffer(joined, "<i2").reshape(-1, 2) / 32768
    assert len(got) == SAMPLES
    # 16-bit words with triangular dither: two steps at most from what was decoded
    assert np.abs(got - want[:SAMPLES]).max() < 2.01 / 32768


def test_the_last_span_reaches_the_end_of_a_file_of_unknown_length(
    whole: Path, tmp_path: Path
) -> None:
    path = ffmpeg_encode(whole, tmp_path / "a.flac", "-c:a", "flac")
    last = spans_of(path, CUTS)[-1]
    assert last.span is not None
    span = replace(last.span, length=None)
    open_ended = replace(last, span=span, audio=replace(last.audio, samples=None))
    assert words(pressed(open_ended, tmp_path / "store")) == words(whole)[CUTS[-2] * 4 :]


def test_a_file_whose_clock_does_not_count_samples_is_cut_exactly_all_the_same(
    whole: Path, tmp_path: Path
) -> None:
    """ISO/IEC 14496-12 section 8.4.2: mdhd's timescale is at byte 12 of its body (version 0)."""
    path = ffmpeg_encode(whole, tmp_path / "a.m4a", "-c:a", "alac")
    raw = bytearray(path.read_bytes())
    at = raw.index(b"mdhd") + 4 + 12
    assert int.from_bytes(raw[at : at + 4], "big") == RATE
    raw[at : at + 4] = (RATE + 7).to_bytes(4, "big")
    path.write_bytes(raw)
    assert read_file(LibraryPath(str(path))).audio.samples is None
    joined = b"".join(words(pressed(track, tmp_path / "store")) for track in spans_of(path, CUTS))
    assert joined == words(whole)


def test_a_late_span_of_a_lossless_file_is_sought_and_not_decoded_up_to(whole: Path) -> None:
    last = spans_of(whole, CUTS)[-1]
    graph = opened(last, recipe_of(last)).output("-", f="null")
    words_of_call = graph.compile("ffmpeg")
    at = words_of_call.index("-ss")
    assert at < words_of_call.index("-i")
    assert float(words_of_call[at + 1]) > CUTS[-2] / RATE - 1.01


def test_the_blocks_of_a_cut_flac_file_are_of_the_usual_length(whole: Path, tmp_path: Path) -> None:
    made = pressed(spans_of(whole, CUTS)[2], tmp_path / "store").read_bytes()
    # STREAMINFO: smallest and largest block, RFC 9639 section 8.2
    smallest, largest = (int.from_bytes(made[at : at + 2], "big") for at in (8, 10))
    assert 1024 <= smallest <= largest <= 4608


def test_a_span_shorter_than_the_sheet_says_is_refused_as_damaged(
    whole: Path, tmp_path: Path
) -> None:
    beyond = spans_of(whole, (CUTS[-2], SAMPLES + RATE))[0]
    with pytest.raises(ItemProblem, match=r"a\.wav#01 is damaged"):
        pressed(beyond, tmp_path / "store")


# -- de-emphasis ------------------------------------------------------------------------------


def wanted_db(hz: Samples) -> Samples:
    w = 2 * np.pi * hz
    return 10 * np.log10((1 + (w * 15e-6) ** 2) / (1 + (w * 50e-6) ** 2))


def response_db(path: Path, rate: int, hz: Samples, filtered: Any) -> Samples:
    """The response at *hz* of what *filtered* makes of an impulse."""
    data = np.zeros((rate // 2, 1))
    data[1000] = 0.5
    soundfile.write(path, data, rate, subtype="FLOAT")
    graph = filtered(source(str(path), "wav")["a:0"]).output("-", f="f64le", **{"c:a": "pcm_f64le"})
    raw = Ffmpeg(find_ffmpeg()).run(graph, item="impulse", limit_s=60, want_stdout=True).stdout
    spectrum = np.fft.rfft(np.frombuffer(raw, "<f8")) / 0.5
    return 20 * np.log10(np.abs(spectrum[np.round(hz * len(data) / rate).astype(int)]))


@pytest.mark.parametrize("rate", sorted(DEEMPHASIS_RATES_HZ))
def test_de_emphasis_follows_the_curve_of_50_and_15_us(rate: int, tmp_path: Path) -> None:
    assert _DEEMPHASIS.keys() == DEEMPHASIS_RATES_HZ
    hz = np.array([100.0, 1000, 4000, 10000, min(16000, rate // 2 - 1000)])
    got = response_db(tmp_path / "i.wav", rate, hz, lambda stream: deemphasised(stream, rate))
    assert np.abs(got - wanted_db(hz)).max() < 0.2


def test_the_curve_is_not_that_of_ffmpegs_own_filter(tmp_path: Path) -> None:
    """Its error at 16 kHz is 0.66 dB and at low frequencies 0.37 dB: the check above would tell."""
    hz = np.array([100.0, 1000, 4000, 10000, 16000])
    got = response_db(
        tmp_path / "i.wav", RATE, hz,
        lambda stream: stream.filter("aemphasis", type="cd", mode="reproduction"),
    )  # fmt: skip
    assert np.abs(got - wanted_db(hz)).max() > 0.3


@pytest.mark.parametrize("codec", ["flac", "mp3"])
def test_an_emphasised_span_is_pressed_with_its_treble_lowered(codec: str, tmp_path: Path) -> None:
    time = np.arange(RATE * 3) / RATE
    path = tmp_path / "a.wav"
    wave = 0.2 * np.sin(2 * np.pi * 1000 * time) + 0.2 * np.sin(2 * np.pi * 10000 * time)
    soundfile.write(path, np.stack([wave, wave], axis=1), RATE, subtype="PCM_16")
    track = replace(spans_of(path, (RATE, 2 * RATE))[0], emphasis=True)
    data, rate = decode(pressed(track, tmp_path / "store", codec))
    assert (len(data), rate) == (RATE, RATE)
    spectrum = np.abs(np.fft.rfft(data[:, 0] * np.hanning(len(data)))) / (len(data) / 4)
    got = 20 * np.log10(spectrum[[1000, 10000]] / 0.2)
    assert np.abs(got - wanted_db(np.array([1000.0, 10000.0]))).max() < 0.2


def test_there_is_no_step_where_two_emphasised_spans_meet(tmp_path: Path) -> None:
    time = np.arange(RATE * 2) / RATE
    path = tmp_path / "a.wav"
    wave = 0.3 * np.sin(2 * np.pi * 3000 * time + 1)
    soundfile.write(path, np.stack([wave, wave], axis=1), RATE, subtype="PCM_16")
    whole = replace(spans_of(path, (0, RATE * 2))[0], emphasis=True)
    first, second = (replace(t, emphasis=True) for t in spans_of(path, (0, RATE + 7, RATE * 2)))
    store = tmp_path / "store"
    joined = np.concatenate([decode(pressed(track, store))[0] for track in (first, second)])
    uncut = decode(pressed(replace(whole, audio_hash=AudioHash("f" * 32)), store))[0]
    # each was dithered by itself: up to two steps of a 16-bit word apart
    assert np.abs(joined - uncut).max() < 4.01 / 32768
