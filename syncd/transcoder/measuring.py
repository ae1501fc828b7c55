"""Where samples meet a meter: ffmpeg writes them to a pipe, numpy measures them.

They come as 32-bit floats, or as the 16-bit words that they are, which are half the bytes. So
sample counts and levels are exact for every word length, and loudness does not depend on the ffmpeg
that decodes. Which run is measured is the callers' affair. numpy is loaded only when something is
measured.
"""

import hashlib
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from syncd.planner.gain import LevelKey
from syncd.settings import calculate_in_one_thread
from syncd.transcoder.ffmpeg_port import Feed, Ffmpeg, Run

if TYPE_CHECKING:
    from syncd.transcoder.loudness import Measurement
    from syncd.transcoder.meters import Level

_FLOATS = "f32le" if sys.byteorder == "little" else "f32be"
_WORDS = "s16le"  # in either byte order of the machine: MD5 sums are taken over these
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

    With *loudness* everything is measured, else count, level and peak. With *words* the samples are
    16-bit words and pass as such; with *digest* their MD5 is taken besides.
    """

    def __init__(
        self,
        rate_hz: int,
        channels: int,
        *,
        loudness: bool,
        words: bool = False,
        digest: bool = False,
    ) -> None:
        meters = _meters()
        self._loudness = loudness
        self._words = words
        self._meter = meters.Meter(rate_hz, channels) if loudness else meters.LevelMeter(channels)
        self._take = self._meter.feed_words if words else self._meter.feed
        self._md5 = hashlib.md5(usedforsecurity=False) if words and digest else None
        self.frame_bytes = channels * (2 if words else 4)
        # A wide file's piece is no larger in bytes than a stereo one's.
        self.feed = Feed(self._pass, max(1, _PIECE_FRAMES * 2 // channels) * self.frame_bytes)

    @property
    def md5(self) -> bytes | None:
        """The MD5 of the words that passed; None where it was not taken."""
        return None if self._md5 is None else self._md5.digest()

    def output(self, stream: Any) -> Any:
        """*stream* as an output to the pipe that the tap listens to."""
        # Long frames: ffmpeg's work for each frame and packet costs more than the samples.
        long = stream.filter("asetnsamples", n=_FRAME, p=0)
        form = _WORDS if self._words else _FLOATS
        wanted = long.filter("aformat", sample_fmts="s16" if self._words else "flt")
        return wanted.output("pipe:1", f=form, map_metadata=-1, **{"c:a": f"pcm_{form}"})

    def seen(self) -> Seen:
        """What passed, after the run."""
        measured = self._meter.result() if self._loudness else None
        return Seen(self._meter.level(), measured)

    def _pass(self, piece: memoryview) -> None:
        if self._md5 is not None:
            self._md5.update(piece)
        self._take(piece)


def level_of(
    stream: Any, rate_hz: int, channels: int, tool: Ffmpeg, *, item: str, limit_s: float
) -> tuple[Seen, Run]:
    """Count, level and peak of *stream*, and what ffmpeg said. Raises as :meth:`Ffmpeg.run`."""
    tap = Tap(rate_hz, channels, loudness=False)
    run = tool.run(tap.output(stream), item=item, limit_s=limit_s, into=tap.feed)
    return tap.seen(), run


def _meters() -> Any:
    """The meters, with numpy's own threads off."""
    calculate_in_one_thread()
    from syncd.transcoder import meters

    return meters
