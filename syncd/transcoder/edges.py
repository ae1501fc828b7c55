"""What an MP3 encoder hears beyond a track's ends, so that joins have no more noise than the rest.

Before a track, and after it, the encoder hears silence. Where music begins or ends at full level,
that is a jump within the frames about it, and the noise that belongs to a jump is heard in the
music: for a tone its peak is 10 to 27 dB above the codec's usual error (measured). So the encoder
is given the track's first and last samples once more, mirrored, which continues the wave. They lie
in what the info frame tells players to leave out: delay and padding. The real neighbours would
serve hardly better (measured), and mirrors make a pressing depend on nothing but its track.

A player that heeds no delay hears 13 ms of mirrored music there instead of silence.
"""

from typing import Any

import ffmpeg

from syncd.model import Codec, Track
from syncd.planner.recipe import Recipe

MIRRORED = 576
"""Samples of mirrored music at each end: an MP3 granule (ISO/IEC 11172-3)."""


def mirrored(track: Track, recipe: Recipe, own: int | None) -> int:
    """How many samples are to be mirrored at each end of *track*: 0 or :data:`MIRRORED`.

    *own* is how many samples the encoder gets where a join settles that. Without one, a resampler
    may give one more or less, and what is decoded from a lossy master has no exact end.
    """
    if recipe.codec is not Codec.MP3:
        return 0
    samples = count(track, recipe, own)
    return MIRRORED if samples is not None and samples >= MIRRORED else 0


def count(track: Track, recipe: Recipe, own: int | None) -> int | None:
    """How many samples the encoder gets, None where it is not known beforehand."""
    if own is not None:
        return own
    audio = track.audio
    exact = audio.lossless and not recipe.resample and audio.sample_rate_hz == recipe.sample_rate_hz
    return audio.samples or None if exact else None


def with_mirrors(stream: Any, samples: int, extent: int) -> Any:
    """*stream* of *samples* samples with *extent* of them mirrored before and after it."""
    branches = stream.filter_multi_output("asplit", 3)
    first = branches.stream(0).filter("atrim", end_sample=extent).filter("areverse")
    last = branches.stream(2).filter("atrim", start_sample=samples - extent, end_sample=samples)
    whole = ffmpeg.concat(first, branches.stream(1), last.filter("areverse"), v=0, a=1)
    # The encoder counts by the clock, and that of concat runs in microseconds.
    return whole.filter("asettb", "1/sr").filter("asetpts", "N")
