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
from transcoder_kit import Samples, decode, facts, level_db, profile_for, track_of

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


RATES = [
    (48000, 44100), (96000, 48000), (96000, 44100), (44100, 32000), (192000, 44100),
    (88200, 44100), (44100, 44100),
]  # fmt: skip


@pytest.mark.parametrize(("rate", "new"), RATES)
def test_three_tracks_joined_are_the_uncut_music_at_the_other_rate(
    rate: int, new: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    data = signal(rate, rate + 1234)
    cuts = (rate // 3 + 7, rate // 3 + rate // 10 + 12)  # the second is shorter than the context
    how = {"codec": "flac", "max_sample_rate_hz": new, "max_bits_per_sample": 24}
    how["sample_rates_hz"] = None
    del how["sample_rates_hz"]
    three = cut(tmp_path / "three", data, rate, cuts)
    parts = pressed(three, store, tool, **how)
    # Track k has the outputs from ceil(S L/M) on, S being what lies before it.
    places = [-(-place * new // rate) for place in (0, *cuts, len(data))]
    assert [len(part) for part in parts] == list(np.diff(places))
    uncut = pressed(cut(tmp_path / "one", data, rate, ()), store, tool, **how)[0]
    joined = np.concatenate(parts)
    assert abs(len(uncut) - len(joined)) <= 1  # pressed alone, soxr rounds its length
    shared = min(len(uncut), len(joined))
    # The last samples are left out: beyond them one hears silence, the other nothing at all.
    residual = (joined[:shared] - uncut[:shared])[: -new // 50]
    assert level_db(residual) < -130
    assert 20 * np.log10(np.abs(residual).max() + 1e-12) < -120
    if new != rate:
        without = np.concatenate(pressed(three, store, tool, joined=False, **how))
        edge = places[1]
        aside = without[edge - 200 : edge + 200] - uncut[edge - 200 : edge + 200]
        assert level_db(aside) > -90  # what the join is for
