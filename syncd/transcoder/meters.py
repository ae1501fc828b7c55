"""Meters that samples are fed to in pieces: of level alone, and of loudness and peaks.

What a :class:`Meter` saw is a ``loudness.Measurement``. Where samples come from is others' affair.
"""

import math
from dataclasses import dataclass

import numpy as np

from syncd.transcoder.loudness import STEPS_A_SECOND, Measurement, step_edges
from syncd.transcoder.peaks import Peaks
from syncd.transcoder.weighting import BLOCK, Floats, blockwise, channel_weights, states

_WORD = 2.0**-15
"""A 16-bit word's unit, full scale being 1.0."""


@dataclass(frozen=True, slots=True)
class Level:
    """Sample frames, mean square over all channels (a full sine has 0.5) and sample peak."""

    samples: int
    mean_square: float
    sample_peak: float

    @property
    def mean_dbfs(self) -> float:
        """Mean level against a full-scale square wave, dB."""
        return 10 * math.log10(self.mean_square) if self.mean_square > 0 else -math.inf

    @property
    def peak_dbfs(self) -> float:
        """Sample peak, dB."""
        return 20 * math.log10(self.sample_peak) if self.sample_peak > 0 else -math.inf


class LevelMeter:
    """Counts what it is fed and measures its level and peak, and nothing dearer."""

    def __init__(self, channels: int) -> None:
        self.channels = channels
        self._values = 0
        self._squares = 0.0
        self._peak = 0.0

    def feed(self, data: bytes | bytearray | memoryview) -> None:
        """Take interleaved 32-bit floats in the machine's byte order."""
        values = np.frombuffer(data, dtype=np.float32)
        if len(values):
            self._values += len(values)
            self._squares += float(np.dot(values, values))
            self._peak = max(self._peak, float(values.max()), -float(values.min()))

    def feed_words(self, data: bytes | bytearray | memoryview) -> None:
        """Take interleaved 16-bit words, little endian."""
        words = np.frombuffer(data, dtype="<i2")
        if len(words):
            values = words.astype(np.float32)
            self._values += len(words)
            self._squares += float(np.dot(values, values)) * float(_WORD) ** 2
            self._peak = max(self._peak, int(words.max()) * _WORD, -int(words.min()) * _WORD)

    def level(self) -> Level:
        """What was seen."""
        return Level(
            self._values // self.channels, self._squares / max(1, self._values), self._peak
        )


class Meter:
    """Measures what it is fed, in memory that does not grow but for the step energies.

    ``rate_hz`` and ``channels`` are those of the samples; full scale is 1.0.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        self.rate_hz = rate_hz
        self.channels = channels
        self._weights = np.array(channel_weights(channels), dtype=np.float64)
        self._matrices = blockwise(rate_hz)
        self._state: Floats = np.zeros((channels, 4))
        self._tail = np.zeros((channels, 2 * BLOCK), dtype=np.float32)
        self._rest = np.zeros((0, channels), dtype=np.float32)
        self._peaks = Peaks()
        self._squares = 0.0
        self._samples = 0
        self._weighted = 0
        self._steps: list[Floats] = []
        self._unfinished = 0.0

    def feed(self, data: bytes | bytearray | memoryview) -> None:
        """Take interleaved 32-bit floats in the machine's byte order: whole sample frames."""
        self.see(np.frombuffer(data, dtype=np.float32).reshape(-1, self.channels))

    def feed_words(self, data: bytes | bytearray | memoryview) -> None:
        """Take interleaved 16-bit words, little endian: whole sample frames."""
        values = np.frombuffer(data, dtype="<i2").astype(np.float32)
        values *= _WORD
        self.see(values.reshape(-1, self.channels))

    def see(self, frames: Floats) -> None:
        """Take *frames* (samples x channels)."""
        if not len(frames):
            return
        frames = frames.astype(np.float32, copy=False)
        self._samples += len(frames)
        flat = frames.reshape(-1)
        self._squares += float(np.dot(flat, flat))
        if len(self._rest):
            frames = np.concatenate([self._rest, frames])
        whole = len(frames) // BLOCK * BLOCK
        self._rest = frames[whole:].copy()
        self._blocks(frames[:whole], whole)

    def _blocks(self, frames: Floats, wanted: int) -> None:
        """Weigh whole blocks; of the last only what is not beyond *wanted* samples counts."""
        if not len(frames):
            return
        buffer = np.empty((self.channels, 2 * BLOCK + len(frames)), dtype=np.float32)
        buffer[:, : 2 * BLOCK] = self._tail
        buffer[:, 2 * BLOCK :] = frames.T
        self._tail = buffer[:, -2 * BLOCK :].copy()
        self._peaks.see(buffer)
        blocks = buffer[:, 2 * BLOCK :].reshape(self.channels, -1, BLOCK)
        made = blocks @ self._matrices.samples
        added = made[:, :, BLOCK:].astype(np.float64)
        before, self._state = states(self._matrices.steps, added, self._state)
        output = made[:, :, :BLOCK] + before.astype(np.float32) @ self._matrices.state
        flat = output.reshape(self.channels, -1)[:, :wanted]
        self._energies(flat)

    def _energies(self, output: Floats) -> None:
        """Add the squares of *output* to the steps that they belong to."""
        begin, end = self._weighted, self._weighted + output.shape[1]
        self._weighted = end
        first = begin * STEPS_A_SECOND // self.rate_hz
        last = (end - 1) * STEPS_A_SECOND // self.rate_hz
        starts = [
            -(-step * self.rate_hz // STEPS_A_SECOND) - begin for step in range(first + 1, last + 1)
        ]
        total = np.zeros(last - first + 1)
        for weight, channel in zip(self._weights, output, strict=True):
            if weight:
                total += weight * np.add.reduceat(channel * channel, [0, *starts])
        total[0] += self._unfinished
        if end * STEPS_A_SECOND % self.rate_hz < STEPS_A_SECOND:  # the last step is whole
            self._steps.append(total)
            self._unfinished = 0.0
        else:
            self._steps.append(total[:-1])
            self._unfinished = float(total[-1])

    def level(self) -> Level:
        """Count, level and peak, once :meth:`result` was taken."""
        mean = self._squares / max(1, self._samples * self.channels)
        return Level(self._samples, mean, self._peaks.sample)

    def result(self) -> Measurement:
        """What was seen. The meter takes nothing more after this."""
        wanted = len(self._rest)
        padding = np.zeros((-wanted % BLOCK + 3 * BLOCK, self.channels), dtype=np.float32)
        self._finish(np.concatenate([self._rest, padding]), wanted)
        sums = np.concatenate([*self._steps, np.zeros(0)])
        edges = step_edges(len(sums) + 1, self.rate_hz)
        return Measurement(
            rate_hz=self.rate_hz,
            channels=self.channels,
            samples=self._samples,
            mean_square=self._squares / max(1, self._samples * self.channels),
            sample_peak=self._peaks.sample,
            true_peak=self._peaks.true,
            steps=sums / np.maximum(1, np.diff(edges)),
            rest=self._unfinished / self.rate_hz,
        )

    def _finish(self, frames: Floats, wanted: int) -> None:
        if wanted:
            self._blocks(frames, wanted)
        elif self._samples:
            buffer = np.concatenate([self._tail, frames[: 2 * BLOCK].T], axis=1)
            self._peaks.see(buffer)
        self._rest = frames[:0]
