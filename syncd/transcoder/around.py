"""A track together with what is played before and after it, so that filters hear no edge.

The recipe's join says what is around the track. Its pieces and the track are decoded one after the
other into one stream, which passes de-emphasis, downmix and resampler as a whole; then the track's
own samples are cut out, on the grid of the run. At the run's end the filters hear silence.

What follows the track hides how long the track itself is. So the samples that come beyond the cut
are counted: a damaged master is found as surely as one that is decoded alone.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import ffmpeg

from syncd.errors import ItemProblem
from syncd.model import AudioFacts, Span, Track
from syncd.planner.join import CONTEXT_S, Join, Piece, frames_out
from syncd.planner.recipe import Recipe
from syncd.transcoder.ffmpeg_port import Feed
from syncd.transcoder.graph import deemphasised, evened, opened, processed
from syncd.transcoder.measuring import Tap
from syncd.utf8 import printable

Process = Callable[[Any, AudioFacts, Recipe], Any]


@dataclass(frozen=True, slots=True)
class Around:
    """A track's stream from its first sample on, by its recipe, and what follows it.

    ``own`` is how many samples are the track's, ``least`` and ``most`` how many come in all when
    nothing is missing; at the pressing's rate.
    """

    stream: Any
    own: int
    least: int
    most: int

    def cut(self, stream: Any) -> Any:
        """The track's own samples of *stream*, which is ``stream`` or a branch of it."""
        return evened(stream.filter("atrim", end_sample=self.own))

    def missing(self, came: int) -> int:
        """How many of the track's samples are missing (negative: too many) when *came* came."""
        # soxr rounds the length of the whole to the nearest, so one more or less is none.
        if self.least - 1 <= came <= self.most + 1:
            return 0
        return (self.least if came < self.least else self.most) - came


class Counted:
    """Passes a track's own samples on to a meter and counts all that come."""

    def __init__(self, tap: Tap, own: int) -> None:
        self._take = tap.feed.take
        self._own = own
        self._frame_bytes = tap.frame_bytes
        self.frames = 0
        self.feed = Feed(self._pass, tap.feed.piece_bytes)

    def _pass(self, piece: memoryview) -> None:
        wanted = max(0, self._own - self.frames) * self._frame_bytes
        if wanted:
            self._take(piece[:wanted])
        self.frames += len(piece) // self._frame_bytes


@dataclass(frozen=True, slots=True)
class _Part:
    """A stretch that is decoded in one go: some pieces, or the track and what is beside it."""

    track: Track
    start: int
    length: int
    own: bool


def others(track: Track, join: Join) -> tuple[Track, ...]:
    """The tracks of other files that *join* needs beside *track*."""
    pieces = (*join.before, *join.after)
    return tuple(piece.track for piece in pieces if piece.track.path != track.path)


def check_others(item: str, track: Track, join: Join) -> None:
    """Raise ItemProblem about *item* when a file beside the track is not there any more."""
    for other in others(track, join):
        if not Path(other.path).is_file():
            shown = printable(other.path)
            raise ItemProblem(
                track.path,
                f"{item} runs on from or into {shown}, which is no longer there, so their join "
                "cannot be made. Scan the library again.",
            )


def around(track: Track, recipe: Recipe, *, alone: bool = False, to: Process = processed) -> Around:
    """*track* by *recipe*, whose join must be set; *alone* with silence in place of other files.

    *to* is how far it is processed.
    """
    join = recipe.join
    assert join is not None
    assert track.audio.samples is not None
    samples, rate, new = track.audio.samples, track.audio.sample_rate_hz, recipe.sample_rate_hz
    pad = round(CONTEXT_S * rate)
    parts = _parts(track, join)
    at = next(index for index, part in enumerate(parts) if part.own)
    before, own, after = parts[:at], parts[at], parts[at + 1 :]
    silent = sum(part.length for part in before) if alone else 0
    if alone:
        before, after = [], []
    working = "dblp" if recipe.lossless else "fltp"
    plain = replace(recipe, deemphasis=False, join=None)
    streams = [
        _decoded(part, plain).filter("aformat", sample_fmts=working).filter("asetpts", "N")
        for part in (*before, own, *after)
    ]
    stream = ffmpeg.concat(*streams, v=0, a=1) if len(streams) > 1 else streams[0]
    if silent:
        stream = stream.filter("adelay", delays=f"{silent}S", all=1)
    # Encoders count by the clock, and that of concat runs in microseconds.
    stream = stream.filter("apad", pad_len=pad).filter("asettb", "1/sr").filter("asetpts", "N")
    if recipe.deemphasis:
        stream = deemphasised(stream, rate)
    stream = to(stream, track.audio, recipe)
    first = frames_out(join.lead, rate, new)
    if first:
        stream = stream.filter("atrim", start_sample=first)
    end = join.lead + samples
    whole = end + sum(part.length for part in after) + pad
    # What lies in the same file after the track may be less than was asked for: it may end there.
    beside = own.start + own.length - (_begin(track) + samples)
    return Around(
        stream.filter("asetpts", "N"),
        frames_out(end, rate, new) - first,
        frames_out(whole, rate, new) - first,
        frames_out(whole + beside, rate, new) - first,
    )


def _parts(track: Track, join: Join) -> list[_Part]:
    """The pieces of *join* and the track, those that are one stretch of one file as one part."""
    own = Piece(track, _begin(track), track.audio.samples or 0)
    parts: list[_Part] = []
    for piece in (*join.before, own, *join.after):
        last = parts[-1] if parts else None
        if (
            last is not None
            and last.track.path == piece.track.path
            and last.start + last.length == piece.start
        ):
            length = last.length + piece.length
            parts[-1] = _Part(last.track, last.start, length, last.own or piece is own)
        else:
            parts.append(_Part(piece.track, piece.start, piece.length, piece is own))
    return parts


def _decoded(part: _Part, plain: Recipe) -> Any:
    """The samples of *part*; what a neighbour lacks is silence, so that nothing shifts."""
    track = part.track
    if part.own and track.span is None:
        return opened(track, plain)
    stream = opened(replace(track, span=Span(part.start, part.length, 0)), plain)
    return stream if part.own else stream.filter("apad", whole_len=part.length)


def _begin(track: Track) -> int:
    return 0 if track.span is None else track.span.start
