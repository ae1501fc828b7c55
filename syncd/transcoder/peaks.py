"""Sample peak and true peak of audio by Rec. ITU-R BS.1770-5 Annex 2, block by block."""

import math
from functools import lru_cache
from typing import Any

import numpy as np

from syncd.transcoder.weighting import BLOCK, Floats

_TAPS = 48
_KAISER = 8.0
_COARSE, _FINE = 4, 8
_BETWEEN_COARSE = 1 / math.cos(math.pi / (2 * _COARSE))
"""How far a signal may rise between points taken four times a sample (Att. 1 to Annex 2)."""


@lru_cache(maxsize=4)
def _between(oversampling: int, phases: tuple[int, ...]) -> tuple[Floats, float, float]:
    """The matrix from the samples around a block to points between its samples, and two bounds.

    A sinc of 48 samples' length in a Kaiser window; each phase keeps constants and straight lines.
    The first bound is the largest sum of magnitudes of a phase (its L1 norm): no point is larger
    than that times the largest sample around. The second is that sum for what a phase adds to the
    straight line between two samples, as a sum over second differences: no point is further above
    the samples than that times the largest second difference around, which is little where the
    music is smooth.
    """
    reach = _TAPS // 2
    offsets = np.arange(-reach + 1, reach + 1)
    matrix = np.zeros((BLOCK * len(phases), BLOCK + _TAPS - 1))
    gain = bend = 0.0
    for column, phase in enumerate(phases):
        distance = phase / oversampling - offsets
        window = np.i0(_KAISER * np.sqrt(np.maximum(0, 1 - (distance / reach) ** 2)))
        taps = np.sinc(distance) * window
        taps /= taps.sum()
        side = window * distance - window * ((window @ distance) / window.sum())
        taps -= side * ((taps @ distance) / (side @ distance))
        gain = max(gain, float(np.abs(taps).sum()))
        line = np.where(np.abs(distance) < 1, 1 - np.abs(distance), 0.0)
        bend = max(bend, float(np.abs(np.cumsum(np.cumsum(taps - line))).sum()))
        for at in range(BLOCK):
            matrix[at * len(phases) + column, at : at + _TAPS] = taps
    return matrix.astype(np.float32), gain, bend


def _block_tops(values: Floats) -> Floats:
    """The largest of each block of *values*; by halves, which is faster than many short rows."""
    wanted = len(values) // BLOCK
    while len(values) > wanted:
        values = np.maximum(values[::2], values[1::2])
    return values


def _around(tops: Floats) -> Floats:
    """The largest in each block and its two neighbours, but for the first and the last block."""
    return np.maximum(np.maximum(tops[:-2], tops[1:-1]), tops[2:])


class Peaks:
    """Sample peak and true peak. Blocks that cannot hold a new peak cost next to nothing."""

    def __init__(self) -> None:
        self.sample = 0.0
        self.true = 0.0
        self._coarse, self._gain, self._bend = _between(_COARSE, (1, 2, 3))
        self._fine, _, _ = _between(_FINE, (1, 3, 5, 7))

    def see(self, buffer: Floats) -> None:
        """Look at all blocks of *buffer* (channels x samples) but the first and the last."""
        for channel in buffer:
            tops = _block_tops(np.abs(channel))
            self.sample = max(self.sample, float(tops[1:-1].max(initial=0.0)))
            self.true = max(self.true, self.sample)
            around = _around(tops)
            most = around * self._gain
            blocks = np.flatnonzero(most > self.true)
            if len(blocks) > 64:
                bends = np.zeros_like(channel)
                np.subtract(channel[1:], channel[:-1], out=bends[1:])
                bends[2:] -= bends[1:-1].copy()
                bent = around + self._bend * _around(_block_tops(np.abs(bends)))
                np.minimum(most, bent, out=most)
                blocks = np.flatnonzero(most > self.true)
            if len(blocks) > 64:
                # The loudest first: after them most others cannot hold the peak.
                self._look(channel, blocks[np.argpartition(most[blocks], -16)[-16:]])
                blocks = np.flatnonzero(most > self.true)
            if len(blocks):
                self._look(channel, blocks)

    def _look(self, channel: Floats, blocks: Any) -> None:
        """Interpolate *blocks* (the first is number 0, after the block that comes before)."""
        windows = np.lib.stride_tricks.sliding_window_view(channel, BLOCK + _TAPS - 1)
        chosen = windows[(blocks + 1) * BLOCK - _TAPS // 2 + 1]
        found = np.abs(self._coarse @ chosen.T).max(axis=0)
        self.true = max(self.true, float(found.max(initial=0.0)))
        near = chosen[found * _BETWEEN_COARSE > self.true]
        if len(near):
            self.true = max(self.true, float(np.abs(self._fine @ near.T).max()))
