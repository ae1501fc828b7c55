"""Where samples meet a meter: ffmpeg writes them as 32-bit floats to a pipe, numpy measures them.

So sample counts and levels are exact for every word length, and loudness does not depend on the
ffmpeg that decodes. Which run is measured is the callers' affair. numpy is loaded only when
something is measured.
"""

import os
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from syncd.planner.gain import LevelKey
from syncd.transcoder.ffmpeg_port import Feed, Ffmpeg, Run

if TYPE_CHECKING:
    from syncd.transcoder.loudness import Level, Measurement

_FLOATS = "f32le" if sys.byteorder == "little" else "f32be"
_PIECE_FRAMES = 32768
_FRAME = 8192


class Sink(Protocol):
    """What keeps measurements."""

    def known(self, key: LevelKey) -> bool:
        """Whether there is a measurement under *key*."""

    def keep(self, key: LevelKey, measured: "Measurement") -> None:
        """Remember *measured*."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What passed a meter: its level and, where it was asked for, its loudness."""

    level: "Level"
    loudness: "Measurement | None" = None


class Tap:
    """A branch of a graph whose samples are measured while the run goes on.

    With *loudness* everything is measured, else count, level and peak.
    """

    def __init__(self, rate_hz: int, channels: int, *, loudness: bool) -> None:
        meters = _meters()
        self._loudness = loudness
        self._meter = meters.Meter(rate_hz, channels) if loudness else meters.LevelMeter(channels)
        # A wide file's piece is no larger in bytes than a stereo one's.
        self.feed = Feed(self._meter.feed, max(1, _PIECE_FRAMES * 2 // channels) * channels * 4)

    def output(self, stream: Any) -> Any:
        """*stream* as an output to the pipe that the tap listens to."""
        # Long frames: ffmpeg's work for each packet that it writes costs more than the samples.
        floats = stream.filter("aformat", sample_fmts="flt")
        floats = floats.filter("asetnsamples", n=_FRAME, p=0)
        codec = f"pcm_{_FLOATS}"
        return floats.output("pipe:1", f=_FLOATS, map_metadata=-1, **{"c:a": codec})

    def seen(self) -> Seen:
        """What passed, after the run."""
        measured = self._meter.result() if self._loudness else None
        return Seen(self._meter.level(), measured)


def level_of(
    stream: Any, rate_hz: int, channels: int, tool: Ffmpeg, *, item: str, limit_s: float
) -> tuple[Seen, Run]:
    """Count, level and peak of *stream*, and what ffmpeg said. Raises as :meth:`Ffmpeg.run`."""
    tap = Tap(rate_hz, channels, loudness=False)
    run = tool.run(tap.output(stream), item=item, limit_s=limit_s, into=tap.feed)
    return tap.seen(), run


def _meters() -> Any:
    """The meters, with numpy's own threads off: there is one pressing a core already."""
    os.putenv("OPENBLAS_NUM_THREADS", "1")  # read by the library when it is loaded
    from syncd.transcoder import loudness

    return loudness
