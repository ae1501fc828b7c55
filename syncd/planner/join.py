"""What is played right before and after a track, where its edges depend on it: the value. Pure.

A filter that remembers (a resampler, de-emphasis) shapes the first and last samples of a track
against silence if it hears nothing else, and a resampler begins a grid of its own with each file.
A join says what it shall hear there, so that the pressings of a run, one after the other, are the
samples of the whole run processed in one go.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import xxhash

from syncd.model import Track

CONTEXT_S = 0.25
"""How much a filter hears beyond a track's edges. soxr at precision 28 remembers 0.03 s at most for
the rates in use (half its filter; 44.1 to 8 kHz): with a quarter of a second the samples are those
of the uncut run to -190 dBFS or better (measured), which is soxr's own precision."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the file in which *track* is: sample frames from the file's beginning."""

    track: Track
    start: int
    length: int


@dataclass(frozen=True, slots=True)
class Join:
    """The audio around a track. ``key`` is a digest of it; two joins with one key are equal.

    ``before`` and ``after`` are in order of playing. The length of what is before is the place of
    the track in its run, but for whole steps of the resampler's grid.
    """

    key: str
    before: tuple[Piece, ...] = field(default=(), compare=False)
    after: tuple[Piece, ...] = field(default=(), compare=False)

    @property
    def lead(self) -> int:
        """Sample frames before the track."""
        return sum(piece.length for piece in self.before)


def join_of(before: Iterable[Piece], after: Iterable[Piece]) -> Join:
    """The join with these pieces. Names and tags of files have no part in its key."""
    sides = tuple(before), tuple(after)
    texts = [
        "".join(f"{piece.track.audio_hash} {piece.start} {piece.length} " for piece in side)
        for side in sides
    ]
    return Join(xxhash.xxh3_64_hexdigest("\n".join(texts).encode()), *sides)


def frames_out(frames: int, rate_hz: int, new_rate_hz: int) -> int:
    """How many samples at *new_rate_hz* lie before the place *frames* at *rate_hz*."""
    return -(-frames * new_rate_hz // rate_hz)
