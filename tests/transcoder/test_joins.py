"""Movements that run on without a break do so as pressings, also at another rate.

Outside truth: the uncut music pressed in one go, decoded by the flac program. Two 16-bit pressings
of the same samples differ by two independent TPDF dithers, -93.3 dBFS rms by the textbook formula
(each LSB/2); 24-bit ones by -141.5 dBFS. Delay and padding of lossy formats: RFC 7845 section 4.2
(Opus), the info tag as LAME documents it (MP3); decoded by mpg123, opusdec and oggdec.
"""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from transcoder_kit import Samples, decode, facts, ffmpeg_encode, level_db, profile_for, track_of

from syncd.errors import ItemProblem
from syncd.model import (
    AudioHash,
    CataloguedTrack,
    Codec,
    Identity,
    Kind,
    Movement,
    Span,
    Track,
)
from syncd.planner.joining import join_for
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import Recipe
from syncd.profile import Encode
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


def signal(rate: int, samples: int) -> Samples:
    """A tone, a sweep and noise at once, all well above silence wherever it is cut."""
    t = np.arange(samples) / rate
    seconds = samples / rate
    sweep = np.sin(2 * np.pi * (50 * t + (rate * 0.4 - 50) * t**2 / (2 * seconds)))
    noise = np.random.default_rng(7).normal(0, 0.05, samples)
    tone = 0.3 * np.sin(2 * np.pi * 997 * t + 0.5)
    return np.stack([tone + 0.2 * sweep + noise, tone - 0.2 * sweep + noise[::-1]], axis=1)


def movement(track: Track, number: int) -> CataloguedTrack:
    return CataloguedTrack(
        replace(track, track_number=number),
        Identity(Kind.WORK, recording="r", movement=Movement(number, None)),
    )


def cut(
    folder: Path, data: Samples, rate: int, cuts: Sequence[int], kind: str = "flac"
) -> list[CataloguedTrack]:
    """*data* as files of a recording, cut at *cuts*, written by libsndfile."""
    folder.mkdir(exist_ok=True)
    made = []
    for number, (start, end) in enumerate(itertools.pairwise((0, *cuts, len(data))), 1):
        path = folder / f"{number}.{kind}"
        soundfile.write(path, data[start:end], rate, subtype="PCM_24")
        codec = Codec.FLAC if kind == "flac" else Codec.PCM
        audio = facts(kind, codec, end - start, rate, data.shape[1], 24)
        made.append(movement(track_of(path, audio), number))
    return made


def recipe_at(
    entries: Sequence[CataloguedTrack], place: int, *, joined: bool = True, **encode: Any
) -> Recipe:
    track = entries[place].track
    wanted = profile_for(Encode(**encode))
    recipe = make_recipe(track.audio, wanted, part=track.span is not None, emphasis=track.emphasis)
    if recipe.action == "carry":  # the same samples in a container that the player lacks
        recipe = make_recipe(track.audio, wanted, part=True)
    return replace(recipe, join=join_for(entries, place, recipe)) if joined else recipe


def pressed(
    entries: Sequence[CataloguedTrack], store: Store, tool: Ffmpeg, **how: Any
) -> list[Samples]:
    return [
        decode(press(entries[place].track, recipe_at(entries, place, **how), store, tool).path)[0]
        for place in range(len(entries))
    ]


RATES = [(48000, 44100), (96000, 48000), (96000, 44100), (44100, 32000), (192000, 44100)]


@pytest.mark.parametrize(("rate", "new"), RATES)
def test_three_tracks_joined_are_the_uncut_music_at_another_rate(
    rate: int, new: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = signal(rate, rate * 7 // 10 + 34)
    cuts = (rate * 3 // 10 + 7, rate * 4 // 10 + 12)  # the second is shorter than the context
    how = {"codec": "flac", "max_sample_rate_hz": new, "max_bits_per_sample": 24}
    three = cut(tmp_path / "three", data, rate, cuts)
    parts = pressed(three, store, tool, **how)
    # Track k has the outputs from ceil(S L/M) on, S being what lies before it.
    places = [-(-place * new // rate) for place in (0, *cuts, len(data))]
    assert [len(part) for part in parts] == list(np.diff(places))
    uncut = pressed(cut(tmp_path / "one", data, rate, ()), store, tool, **how)[0]
    residual = difference(parts, uncut)[: -new // 50]  # at the very end soxr meets silence or none
    assert level_db(residual) < -138  # two dithers of 24 bit
    assert np.abs(residual).max() < 8.5 / 2**23
    without = np.concatenate(pressed(three[:2], store, tool, joined=False, **how))
    edge = slice(places[1] - 200, places[1] + 200)
    assert level_db(without[edge] - uncut[edge]) > -90  # what the join is for


def difference(parts: Sequence[Samples], uncut: Samples) -> Samples:
    joined = np.concatenate(parts)
    assert abs(len(uncut) - len(joined)) <= 1  # pressed alone, soxr rounds its length
    shared = min(len(uncut), len(joined))
    difference: Samples = joined[:shared] - uncut[:shared]
    return difference


@pytest.mark.parametrize("rate", [44100, 96000])
def test_sixteen_bit_tracks_joined_differ_from_the_uncut_by_dither_alone(
    rate: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = signal(rate, rate // 2 + 34)
    how = {"codec": "flac", "max_sample_rate_hz": 44100}
    parts = pressed(cut(tmp_path / "3", data, rate, (rate // 5, rate // 3)), store, tool, **how)
    uncut = pressed(cut(tmp_path / "1", data, rate, ()), store, tool, **how)[0]
    assert level_db(difference(parts, uncut)[:-500]) < -93.0  # -93.3 by the formula above


def test_surround_is_mixed_down_and_resampled_as_one(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = np.concatenate([signal(48000, 24000) * gain for gain in (0.3, 0.2, 0.1)], axis=1)
    how = {"codec": "pcm", "max_sample_rate_hz": 44100, "max_bits_per_sample": 24}
    parts = pressed(cut(tmp_path / "3", data, 48000, (9001, 15000), "wav"), store, tool, **how)
    uncut = pressed(cut(tmp_path / "1", data, 48000, (), "wav"), store, tool, **how)[0]
    assert parts[0].shape[1] == 2
    assert level_db(difference(parts, uncut)[:-900]) < -138


@pytest.mark.parametrize("new", [44100, 32000])
def test_emphasised_files_are_joined_behind_one_filter(
    new: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    def marked(entries: Sequence[CataloguedTrack]) -> list[CataloguedTrack]:
        return [replace(one, track=replace(one.track, emphasis=True)) for one in entries]

    data = signal(44100, 22050)
    how = {"codec": "flac", "max_sample_rate_hz": new, "max_bits_per_sample": 24}
    parts = pressed(marked(cut(tmp_path / "3", data, 44100, (9001, 15000))), store, tool, **how)
    uncut = pressed(marked(cut(tmp_path / "1", data, 44100, ())), store, tool, **how)[0]
    assert level_db(difference(parts, uncut)[:-900]) < -138


@pytest.mark.parametrize("name", ["a.flac", "a.wav"])
def test_spans_of_one_file_hear_what_is_beside_them_in_it(
    name: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    rate, new = 48000, 44100
    data = signal(rate, rate * 2)
    whole = cut(tmp_path, data, rate, (), name[2:])[0].track
    cuts = (0, rate // 2 + 3, rate + rate // 2 + 8, len(data))
    how = {"codec": "flac", "max_bits_per_sample": 24, "max_sample_rate_hz": new}
    parts = []
    for number, (start, end) in enumerate(itertools.pairwise(cuts), 1):
        span = movement(
            replace(
                whole,
                span=Span(start, end - start, number),
                audio=replace(whole.audio, samples=end - start, duration_s=(end - start) / rate),
                audio_hash=AudioHash(f"{number:032}"),
            ),
            number,
        )
        parts.append(pressed([span], store, tool, **how)[0])  # a work of its own each
    uncut = pressed([movement(whole, 1)], store, tool, **how)[0]
    assert level_db(difference(parts, uncut)[: -new // 50]) < -138


# -- what is damaged or gone ------------------------------------------------------------------


def test_a_damaged_neighbour_is_heard_as_silence_and_told_of(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = signal(48000, 48000)
    first, second = cut(tmp_path / "a", data, 48000, (24000,))
    path = Path(second.track.path)
    path.write_bytes(path.read_bytes()[:200] + bytes(2000))
    how = {"codec": "flac", "max_sample_rate_hz": 44100}
    made = press(first.track, recipe_at([first, second], 0, **how), store, tool)
    assert len(decode(made.path)[0]) == 22050
    assert [notice for notice in store.notices if "damaged file" in notice]
    with pytest.raises(ItemProblem, match=r"2\.flac (is damaged|cannot be pressed)"):
        press(second.track, recipe_at([first, second], 1, **how), store, tool)


@pytest.mark.parametrize("lost", [200, 5000])
def test_what_follows_a_track_does_not_hide_that_it_is_cut_short(
    lost: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = signal(48000, 48000)
    entries = cut(tmp_path / "a", data, 48000, (24000,), "wav")
    promised = replace(entries[0].track.audio, samples=24000 + lost)
    short = replace(entries[0], track=replace(entries[0].track, audio=promised))
    recipe = recipe_at([short, entries[1]], 0, codec="flac", max_sample_rate_hz=44100)
    assert recipe.join is not None
    with pytest.raises(ItemProblem, match=r"1\.wav is damaged.*its header promises"):
        press(short.track, recipe, store, tool)


def test_a_neighbour_that_is_gone_asks_for_a_scan(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    entries = cut(tmp_path / "a", signal(48000, 48000), 48000, (24000,))
    Path(entries[1].track.path).unlink()
    recipe = recipe_at(entries, 0, codec="flac", max_sample_rate_hz=44100)
    with pytest.raises(ItemProblem, match=r"2\.flac, which is no longer there.*Scan the library"):
        press(entries[0].track, recipe, store, tool)


# -- lossy pressings --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rate", "encode"),
    [
        (44100, {"codec": "mp3", "quality": 2}),
        (48000, {"codec": "mp3", "bitrate_kbps": 192, "max_sample_rate_hz": 44100}),
        (48000, {"codec": "opus", "bitrate_kbps": 128}),
        (44100, {"codec": "opus", "bitrate_kbps": 128}),
        (44100, {"codec": "vorbis", "bitrate_kbps": 160}),
        (48000, {"codec": "vorbis", "bitrate_kbps": 160, "max_sample_rate_hz": 44100}),
        (44100, {"codec": "aac", "bitrate_kbps": 192}),
    ],
)
def test_lossy_tracks_joined_lose_no_sample_and_have_no_step_at_the_joins(
    rate: int, encode: dict[str, Any], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    codec = str(encode["codec"])
    new = 48000 if codec == "opus" else 44100
    data = signal(rate, rate * 2)
    cuts = (rate * 2 // 3 + 5, rate * 4 // 3 + 11)

    def made(folder: str, cuts: Sequence[int]) -> list[Samples]:
        entries = cut(tmp_path / folder, data, rate, cuts)
        found = []
        for place, entry in enumerate(entries):
            path = press(entry.track, recipe_at(entries, place, **encode), store, tool).path
            if codec == "aac":
                path = ffmpeg_encode(path, path.with_suffix(".wav"), "-c:a", "pcm_f32le")
            found.append(decode(path)[0])
        return found

    parts, uncut = made("3", cuts), made("1", ())[0]
    places = [-(-place * new // rate) for place in (0, *cuts, len(data))]
    assert [len(part) for part in parts] == list(np.diff(places))
    joined = np.concatenate(parts)
    exact = reference(data, rate, new)
    shared = min(len(joined), len(uncut), len(exact))
    own, parted = uncut[:shared] - exact[:shared], joined[:shared] - exact[:shared]
    usual = level_db(own[new // 20 : -new // 20])
    largest_step = np.abs(np.diff(own, axis=0)).max()
    for place in places[1:-1]:
        # The error about the join is the codec's usual one. ffmpeg's AAC encoder begins poorly.
        near = level_db(parted[place - 576 : place + 576])
        assert near < usual + (10 if codec == "aac" else 3)
        assert np.abs(np.diff(parted[place - 1 : place + 1], axis=0)).max() <= largest_step


@pytest.mark.parametrize(
    "how",
    [
        {"codec": "mp3", "quality": 2},
        {"codec": "mp3", "bitrate_kbps": 192},
        {"codec": "mp3", "bitrate_kbps": 128},
        {"codec": "opus", "bitrate_kbps": 128},
    ],
)
def test_a_tone_cut_in_three_has_about_the_noise_of_the_uncut_pressing_at_its_joins(
    how: dict[str, Any], tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    """With silence beyond the cut the error's peak there is 11 to 27 dB above the usual one.

    (14 dB for Opus; all measured.) A codec at its start is still somewhat worse than later on.
    """
    rate = 48000 if how["codec"] == "opus" else 44100
    wave = 0.3 * np.sin(2 * np.pi * 997 * np.arange(rate * 2) / rate + 0.5)
    data = np.stack([wave, wave], axis=1)
    cuts = (rate * 2 // 3 + 5, rate * 4 // 3 + 11)
    parts = pressed(cut(tmp_path / "3", data, rate, cuts), store, tool, **how)
    uncut = pressed(cut(tmp_path / "1", data, rate, ()), store, tool, **how)[0]
    joined = np.concatenate(parts)
    assert [len(part) for part in parts] == list(np.diff([0, *cuts, len(data)]))
    usual = np.abs(uncut - data)[4000:-4000].max()
    for place in cuts:
        near = np.abs(joined - data)[place - 576 : place + 576].max()
        assert near < usual * 10 ** (10 / 20)  # 9 dB at quality 2, else below 6


def reference(data: Samples, rate: int, new: int) -> Samples:
    """*data* at the rate *new* by way of its spectrum, which needs no filter of anybody's."""
    if rate == new:
        return data
    step = rate // int(np.gcd(rate, new))
    silence = np.zeros((-len(data) % step + 100 * step, data.shape[1]))
    spectrum = np.fft.rfft(np.concatenate([data, silence]), axis=0)
    size = (len(data) + len(silence)) * new // rate
    found: Samples = np.fft.irfft(spectrum[: size // 2 + 1], size, axis=0) * (new / rate)
    return found
