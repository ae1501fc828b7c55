"""What exceeds full scale: floating-point masters and decoders of lossy codecs hold it, words not.

A tap that looks before the words clip, and the sentences that tell of it. Lowering is the affair of
baked gains.
"""

import math
import threading
from typing import Any

from syncd.planner.recipe import Recipe
from syncd.transcoder.measuring import Seen, Tap

WORDS_DB = 0.05
"""From here on clipped words are told of."""

LOSSY_DB = 1.0
"""From here on a lossy pressing is told of: below, encoders overshoot by as much themselves."""

_NAMED = 3


class UnclippedTap(Tap):
    """A tap for floats that words will clip: loudness is of what comes, the level of the clipped.

    The level is compared with that of the pressing, so it has to be the same samples'. Samples do
    not come as words.
    """

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.peak = 0.0
        """Largest magnitude that came, linear."""
        self._excess = 0.0

    def seen(self) -> Seen:
        """What passed; the level as it is after clipping."""
        from syncd.transcoder.meters import Level

        seen = super().seen()
        came = seen.level
        values = came.samples * (self.frame_bytes // 4)
        mean = came.mean_square - self._excess / max(1, values)
        return Seen(Level(came.samples, mean, min(1.0, came.sample_peak)), seen.loudness)

    def _pass(self, piece: memoryview) -> None:
        import numpy as np  # only where something is measured

        super()._pass(piece)
        values = np.frombuffer(piece, dtype=np.float32)
        if not len(values):
            return
        top = max(float(values.max()), -float(values.min()))
        self.peak = max(self.peak, top)
        if top > 1.0:
            beyond = values[np.abs(values) > 1.0].astype(np.float64)
            self._excess += float(np.dot(beyond, beyond)) - len(beyond)


class Overs:
    """Collects which pressings exceeded full scale. May be used from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._clipped: dict[str, float] = {}
        self._loud: dict[str, float] = {}

    def see(self, item: str, recipe: Recipe, peak: float) -> None:
        """Note the linear *peak* of what was pressed of *item* by *recipe*, if it is too high."""
        peak_dbfs = 20 * math.log10(peak) if peak > 0 else -math.inf
        if peak_dbfs < (WORDS_DB if recipe.lossless else LOSSY_DB):
            return
        with self._lock:
            found = self._clipped if recipe.lossless else self._loud
            found[item] = max(peak_dbfs, found.get(item, peak_dbfs))

    def sentences(self) -> tuple[str, ...]:
        """What there is to tell: one sentence for each kind, the loudest tracks first."""
        with self._lock:
            told = []
            if self._clipped:
                told.append(
                    "Clipped, since peaks are above full scale: "
                    f"{_listed(self._clipped)}. {_REMEDY}"
                )
            if self._loud:
                told.append(
                    "Peaks are above full scale, which players clip when they decode it: "
                    f"{_listed(self._loud)}. {_REMEDY}"
                )
        return tuple(told)


_REMEDY = 'With mode = "baked" under [loudness] in the profile it is lowered instead.'


def _listed(peaks: dict[str, float]) -> str:
    loudest = sorted(peaks.items(), key=lambda found: (-found[1], found[0]))
    named = ", ".join(f"{item} (+{peak:.1f} dBFS)" for item, peak in loudest[:_NAMED])
    more = len(loudest) - _NAMED
    return f"{named} and {more} more" if more > 0 else named
