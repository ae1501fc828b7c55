"""Listening: one track is decoded from start to end only to know how loud it is.

For what is carried over untouched, and for gains that must be known before anything is encoded;
else ``syncd.transcoder.press`` measures on the way.
"""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from syncd.errors import ItemProblem
from syncd.model import Track
from syncd.planner.recipe import Recipe
from syncd.transcoder import inspect
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.graph import opened, unworded
from syncd.transcoder.measuring import Tap
from syncd.utf8 import printable

if TYPE_CHECKING:
    from syncd.transcoder.loudness import Measurement


def listen(track: Track, recipe: Recipe, tool: Ffmpeg) -> "Measurement":
    """Measure *track* as *recipe* will have it sound, before any gain and any clipping.

    What can be decoded counts; whether a damaged master is used is decided elsewhere. Raises
    ItemProblem when it is gone or cannot be decoded at all.
    """
    item = printable(track.address)
    if not Path(track.path).is_file():
        raise ItemProblem(track.path, f"{item} is no longer there. Scan the library again.")
    stream = opened(track, recipe)
    if recipe.action == "encode":
        stream = unworded(stream, track.audio, replace(recipe, gain_db=None))
    tap = Tap(recipe.sample_rate_hz, recipe.channels, loudness=True)
    start = 0 if track.span is None else track.span.start
    decoded_s = start / track.audio.sample_rate_hz + track.audio.duration_s
    tool.run(tap.output(stream), item=item, limit_s=inspect.time_limit_s(decoded_s), into=tap.feed)
    measured = tap.seen().loudness
    if measured is None or not measured.samples:
        raise ItemProblem(
            track.path, f"{item} holds no audio that can be decoded. Rip or fetch it again."
        )
    return measured
