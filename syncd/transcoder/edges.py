"""What a lossy encoder hears beyond a track's ends: so that joins have no more noise than the rest.

Before a track, and after it, the encoder hears silence. Where music begins or ends at full level,
that is a jump within the frames about it, and the noise that belongs to a jump is heard in the
music: for a tone its peak is 10 to 27 dB above the codec's usual error (measured). So the encoder
is given the track's first and last samples once more, mirrored, which continues the wave. They lie
in what the file tells players to leave out: delay and padding of MP3, pre-skip and end position of
Opus. The real neighbours would
serve hardly better (measured), and mirrors make a pressing depend on nothing but its track.

A player of MP3 that heeds no delay hears 13 ms of mirrored music there instead of silence; Opus
players must heed theirs (RFC 7845 section 4.2).
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ffmpeg

from syncd.model import Codec, Track
from syncd.planner.recipe import Recipe
from syncd.transcoder import mp3_info, opus_info

GRANULE = 576
"""Samples of mirrored music at each end of an MP3: a granule (ISO/IEC 11172-3)."""

_OPUS_FRAME = 960  # 20 ms at 48 kHz
_OPUS_DELAY = 312  # libopus's own pre-skip
_OPUS_AHEAD = 3840  # what RFC 7845 section 4.2 recommends where the beginning is left out
_OPUS_BEHIND = 600


@dataclass(frozen=True, slots=True)
class Mirrors:
    """How many samples are mirrored before and after a track."""

    ahead: int = 0
    behind: int = 0


def mirrors(track: Track, recipe: Recipe, own: int | None) -> Mirrors:
    """What is to be mirrored at the ends of *track*; nothing where its length is not certain.

    *own* is how many samples the encoder gets where a join settles that. Without one, a resampler
    may give one more or less, and what is decoded from a lossy master has no exact end.
    """
    samples = own if own is not None else _count(track, recipe)
    made = Mirrors()
    if samples is None:
        return made
    if recipe.codec is Codec.MP3:
        made = Mirrors(GRANULE, GRANULE)
    elif recipe.codec is Codec.OPUS:
        # So many that the last frame ends with them: the end may only lie in the last packet.
        more = -(_OPUS_DELAY + samples + _OPUS_BEHIND) % _OPUS_FRAME
        made = Mirrors(_OPUS_AHEAD + more, _OPUS_BEHIND)
    return made if samples >= max(made.ahead, made.behind) else Mirrors()


def mend(file: Path, recipe: Recipe, samples: int, made: Mirrors) -> None:
    """Let the head of the pressing *file* say that *samples* are music and the mirrors are not."""
    if recipe.codec is Codec.MP3:
        mp3_info.mend(file, samples, ahead=made.ahead)
    elif recipe.codec is Codec.OPUS and made.ahead:
        opus_info.mend(file, made.ahead, made.behind)


def with_mirrors(stream: Any, samples: int, made: Mirrors) -> Any:
    """*stream* of *samples* samples with its ends mirrored before and after it."""
    if not made.ahead:
        return stream
    branches = stream.filter_multi_output("asplit", 3)
    first = branches.stream(0).filter("atrim", end_sample=made.ahead).filter("areverse")
    last = branches.stream(2).filter("atrim", start_sample=samples - made.behind)
    last = last.filter("atrim", end_sample=made.behind).filter("areverse")
    whole = ffmpeg.concat(first, branches.stream(1), last, v=0, a=1)
    # The encoder counts by the clock, and that of concat runs in microseconds.
    return whole.filter("asettb", "1/sr").filter("asetpts", "N")


def _count(track: Track, recipe: Recipe) -> int | None:
    audio = track.audio
    exact = audio.lossless and not recipe.resample and audio.sample_rate_hz == recipe.sample_rate_hz
    return audio.samples or None if exact else None
