"""Loudness and peaks of audio by Rec. ITU-R BS.1770-5, from samples that pass by in pieces.

K weighting, energies of short steps, the two gates, loudness range (EBU Tech 3342), sample peak
and true peak. A :class:`Meter` is fed; what it saw is a :class:`Measurement`, small enough to be
kept, and several of them in a row are measured as if their audio were one file (:func:`joined`):
blocks that straddle a join count. Where samples come from, and what gain follows, is others'
affair. Pure but for numpy, which is slow to load: import this module where something is measured.
"""

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np

Floats = np.ndarray[Any, np.dtype[np.floating[Any]]]

STEPS_A_SECOND = 50
"""Energies are kept for steps of 20 ms: five are one hop of the 400 ms blocks (75 % overlap)."""

ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
_OFFSET_DB = -0.691  # BS.1770-5 Annex 1 equation (2)

# BS.1770-5 Annex 1, Tables 1 and 2: b0 b1 b2 a1 a2 at 48 kHz.
_TABLE_RATE = 48000
SHELF_48K = (
    1.53512485958697,
    -2.69169618940638,
    1.19839281085285,
    -1.69065929318241,
    0.73248077421585,
)
HIGHPASS_48K = (1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621)

# Order of channels as ffmpeg and FLAC (RFC 9639 section 9.1.3) have it. Weights of BS.1770-5:
# front 1, surrounds at 60 to 120 degrees 1.41, behind 120 degrees 1 (Annex 3 Table 4), LFE none.
# The two surrounds of 5.x stand at about 110 degrees, whatever the layout calls them.
_WEIGHTS = {
    1: (1.0,),
    2: (1.0, 1.0),
    3: (1.0, 1.0, 1.0),
    4: (1.0, 1.0, 1.41, 1.41),
    5: (1.0, 1.0, 1.0, 1.41, 1.41),
    6: (1.0, 1.0, 1.0, 0.0, 1.41, 1.41),
    7: (1.0, 1.0, 1.0, 0.0, 1.0, 1.41, 1.41),
    8: (1.0, 1.0, 1.0, 0.0, 1.0, 1.0, 1.41, 1.41),
}

_WORD = 2.0**-15
"""A 16-bit word's unit, full scale being 1.0."""

_BLOCK = 32
_TAPS = 48
_KAISER = 8.0
_COARSE, _FINE = 4, 8
_BETWEEN_COARSE = 1 / math.cos(math.pi / (2 * _COARSE))
"""How far a signal may rise between points taken four times a sample (Att. 1 to Annex 2)."""


def channel_weights(channels: int) -> tuple[float, ...]:
    """The weights of *channels* channels in the usual order (5.1: L R C LFE Ls Rs)."""
    return _WEIGHTS.get(channels) or (1.0,) * channels


def k_weighting(rate_hz: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The two second-order sections (b0 b1 b2 a1 a2) of the K weighting at *rate_hz*.

    At 48 kHz those of the Recommendation. At other rates from the analogue prototype that they
    stand for: with s = (z-1)/(z+1) a section is a rational function of s/K, where
    K = tan(pi*f0/48000) follows from its denominator, K^2 = (1+a1+a2)/(1-a1+a2). It becomes
    digital again with K' = tan(pi*f0/rate), so that f0 stays where it is.
    """
    if rate_hz == _TABLE_RATE:
        return SHELF_48K, HIGHPASS_48K
    return _moved(SHELF_48K, rate_hz), _moved(HIGHPASS_48K, rate_hz)


def _moved(section: tuple[float, ...], rate_hz: int) -> tuple[float, ...]:
    b0, b1, b2, a1, a2 = section
    k = math.sqrt((1 + a1 + a2) / (1 - a1 + a2))
    corner_hz = _TABLE_RATE / math.pi * math.atan(k)
    scale = k / math.tan(math.pi * min(corner_hz / rate_hz, 0.49))

    def digital(c0: float, c1: float, c2: float) -> tuple[float, float, float]:
        # c0 + c1/z + c2/z^2 as a polynomial of s, its s stretched, and back again
        p2, p1, p0 = (c0 - c1 + c2) * scale**2, 2 * (c0 - c2) * scale, c0 + c1 + c2
        return p2 + p1 + p0, 2 * (p0 - p2), p2 - p1 + p0

    top, low = digital(b0, b1, b2), digital(1.0, a1, a2)
    return (*(value / low[0] for value in top), low[1] / low[0], low[2] / low[0])


# -- the K weighting, a block of samples at a time -------------------------------------------------


@dataclass(frozen=True)
class _Blockwise:
    """The recursion over one block as matrices: a recursion a sample would be slow in numpy.

    ``samples`` (32 x 36) leads from the samples of a block to its output from rest and to what it
    adds to the four state values at its end; ``state`` (4 x 32) from the state at its start to
    its output; ``steps`` are for :func:`_states`.
    """

    samples: Floats
    state: Floats
    steps: tuple["_Step", ...]


@dataclass(frozen=True)
class _Step:
    """For state vectors a fixed time apart: ``power`` leads from one to the next."""

    power: Floats
    inside: Floats
    out: Floats
    onward: Floats


_GROUP = 16


@lru_cache(maxsize=16)
def _blockwise(rate_hz: int) -> _Blockwise:
    size = _BLOCK + 4
    given = np.zeros((_BLOCK, size))
    given[:, :_BLOCK] = np.eye(_BLOCK)
    state = np.zeros((4, size))
    state[:, _BLOCK:] = np.eye(4)
    output = np.zeros((_BLOCK, size))
    for at in range(_BLOCK):
        value = given[at]
        for number, (b0, b1, b2, a1, a2) in enumerate(k_weighting(rate_hz)):
            first, second = state[2 * number].copy(), state[2 * number + 1].copy()
            made = b0 * value + first
            state[2 * number] = b1 * value - a1 * made + second
            state[2 * number + 1] = b2 * value - a2 * made
            value = made
        output[at] = value
    power = state[:, _BLOCK:].T.copy()
    steps = []
    for _ in range(3):
        powers = [np.eye(4)]
        for _ in range(_GROUP):
            powers.append(powers[-1] @ power)
        inside = np.zeros((4 * _GROUP, 4 * _GROUP))
        for late in range(_GROUP):
            for early in range(late):
                inside[4 * early : 4 * early + 4, 4 * late : 4 * late + 4] = powers[
                    late - 1 - early
                ]
        out = np.concatenate([powers[_GROUP - 1 - early] for early in range(_GROUP)])
        onward = np.concatenate(powers[:_GROUP], axis=1)
        steps.append(_Step(power, inside, out, onward))
        power = powers[_GROUP]
    return _Blockwise(
        np.concatenate([output[:, :_BLOCK], state[:, :_BLOCK]]).T.astype(np.float32),
        output[:, _BLOCK:].T.astype(np.float32),
        tuple(steps),
    )


def _states(
    steps: tuple[_Step, ...], added: Floats, start: Floats, level: int = 0
) -> tuple[Floats, Floats]:
    """The state before each of the blocks that add *added* (channels x blocks x 4), and the last.

    In groups of sixteen, whose own first states are found in the same way.
    """
    step = steps[level]
    channels, count, _ = added.shape
    found = np.empty_like(added)
    whole = count // _GROUP if level + 1 < len(steps) else 0
    state = start
    if whole:
        grouped = added[:, : whole * _GROUP].reshape(channels, whole, 4 * _GROUP)
        firsts, state = _states(steps, grouped @ step.out, start, level + 1)
        inside = grouped @ step.inside + firsts @ step.onward
        found[:, : whole * _GROUP] = inside.reshape(channels, whole * _GROUP, 4)
    for at in range(whole * _GROUP, count):
        found[:, at] = state
        state = state @ step.power + added[:, at]
    return found, state


# -- true peak -------------------------------------------------------------------------------------


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
    matrix = np.zeros((_BLOCK * len(phases), _BLOCK + _TAPS - 1))
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
        for at in range(_BLOCK):
            matrix[at * len(phases) + column, at : at + _TAPS] = taps
    return matrix.astype(np.float32), gain, bend


def _block_tops(values: Floats) -> Floats:
    """The largest of each block of *values*; by halves, which is faster than many short rows."""
    wanted = len(values) // _BLOCK
    while len(values) > wanted:
        values = np.maximum(values[::2], values[1::2])
    return values


def _around(tops: Floats) -> Floats:
    """The largest in each block and its two neighbours, but for the first and the last block."""
    return np.maximum(np.maximum(tops[:-2], tops[1:-1]), tops[2:])


class _Peaks:
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
        windows = np.lib.stride_tricks.sliding_window_view(channel, _BLOCK + _TAPS - 1)
        chosen = windows[(blocks + 1) * _BLOCK - _TAPS // 2 + 1]
        found = np.abs(self._coarse @ chosen.T).max(axis=0)
        self.true = max(self.true, float(found.max(initial=0.0)))
        near = chosen[found * _BETWEEN_COARSE > self.true]
        if len(near):
            self.true = max(self.true, float(np.abs(self._fine @ near.T).max()))


# -- measuring -------------------------------------------------------------------------------------


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
        self._matrices = _blockwise(rate_hz)
        self._state: Floats = np.zeros((channels, 4))
        self._tail = np.zeros((channels, 2 * _BLOCK), dtype=np.float32)
        self._rest = np.zeros((0, channels), dtype=np.float32)
        self._peaks = _Peaks()
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
        whole = len(frames) // _BLOCK * _BLOCK
        self._rest = frames[whole:].copy()
        self._blocks(frames[:whole], whole)

    def _blocks(self, frames: Floats, wanted: int) -> None:
        """Weigh whole blocks; of the last only what is not beyond *wanted* samples counts."""
        if not len(frames):
            return
        buffer = np.empty((self.channels, 2 * _BLOCK + len(frames)), dtype=np.float32)
        buffer[:, : 2 * _BLOCK] = self._tail
        buffer[:, 2 * _BLOCK :] = frames.T
        self._tail = buffer[:, -2 * _BLOCK :].copy()
        self._peaks.see(buffer)
        blocks = buffer[:, 2 * _BLOCK :].reshape(self.channels, -1, _BLOCK)
        made = blocks @ self._matrices.samples
        added = made[:, :, _BLOCK:].astype(np.float64)
        before, self._state = _states(self._matrices.steps, added, self._state)
        output = made[:, :, :_BLOCK] + before.astype(np.float32) @ self._matrices.state
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

    def result(self) -> "Measurement":
        """What was seen. The meter takes nothing more after this."""
        wanted = len(self._rest)
        padding = np.zeros((-wanted % _BLOCK + 3 * _BLOCK, self.channels), dtype=np.float32)
        self._finish(np.concatenate([self._rest, padding]), wanted)
        sums = np.concatenate([*self._steps, np.zeros(0)])
        edges = _edges(len(sums) + 1, self.rate_hz)
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
            buffer = np.concatenate([self._tail, frames[: 2 * _BLOCK].T], axis=1)
            self._peaks.see(buffer)
        self._rest = frames[:0]


def _edges(count: int, rate_hz: int) -> Any:
    """The first samples of *count* steps."""
    return -(-np.arange(count, dtype=np.int64) * rate_hz // STEPS_A_SECOND)


# -- what was measured -----------------------------------------------------------------------------

_FORM = 1
_HEAD = struct.Struct("<BBIQdddd")
_DB_A_CODE = 0.0025
_LOWEST_DB = -140.0


@dataclass(frozen=True)
class Measurement:
    """What a meter saw.

    ``mean_square`` is over all channels (full scale 1.0, so a full sine has 0.5). ``steps`` are
    K-weighted mean squares of whole steps of 20 ms, summed over the weighted channels; ``rest``
    is the energy (mean square times seconds) after the last whole step. Peaks are linear; they
    may exceed 1.0.
    """

    rate_hz: int
    channels: int
    samples: int
    mean_square: float
    sample_peak: float
    true_peak: float
    steps: Floats
    rest: float = 0.0

    @property
    def true_peak_dbtp(self) -> float:
        """True peak, dB."""
        return 20 * math.log10(self.true_peak) if self.true_peak > 0 else -math.inf

    def to_bytes(self) -> bytes:
        """A form to keep: a head of 46 bytes and two bytes a step (6 kB a minute).

        A step is its level in units of 0.0025 dB above -140 dB, 0 for silence below that, so what
        is read again is at most 0.00125 dB off in any step.
        """
        with np.errstate(divide="ignore"):
            level = 10 * np.log10(np.maximum(self.steps, 0.0))
        codes = np.clip(np.rint((level - _LOWEST_DB) / _DB_A_CODE), 0, 65535).astype("<u2")
        head = _HEAD.pack(
            _FORM,
            self.channels,
            self.rate_hz,
            self.samples,
            self.mean_square,
            self.sample_peak,
            self.true_peak,
            self.rest,
        )
        return head + codes.tobytes()

    @classmethod
    def from_bytes(cls, data: bytes) -> "Measurement | None":
        """What :meth:`to_bytes` wrote; None for another form, or for bytes that do not add up."""
        if len(data) < _HEAD.size or data[0] != _FORM:
            return None
        _, channels, rate, samples, mean, peak, true, rest = _HEAD.unpack_from(data)
        codes = np.frombuffer(data, dtype="<u2", offset=_HEAD.size) if len(data) % 2 == 0 else None
        if not rate or codes is None or len(codes) != samples * STEPS_A_SECOND // rate:
            return None
        steps = np.where(codes > 0, 10 ** ((codes * _DB_A_CODE + _LOWEST_DB) / 10), 0.0)
        return cls(rate, channels, samples, mean, peak, true, steps, rest)


@dataclass(frozen=True, slots=True)
class Loudness:
    """Loudness and peaks of a stretch of audio.

    ``lufs`` is None where no block passes the gates: silence, or less than 400 ms. ``range_lu``
    is None where there is no 3 s window above its gates. Peaks are linear.
    """

    lufs: float | None
    range_lu: float | None
    sample_peak: float
    true_peak: float


def joined(parts: Sequence[Measurement], *, dual_mono: bool = False) -> Loudness:
    """The loudness of *parts* one after the other, as of one file.

    With *dual_mono* a part of one channel counts as it sounds from two loudspeakers (+3.01 dB).
    """
    curve = _Curve(parts, dual_mono)
    return Loudness(
        lufs=gated(curve.windows(Fraction(2, 5))),
        range_lu=loudness_range(curve.windows(Fraction(3))),
        sample_peak=max((part.sample_peak for part in parts), default=0.0),
        true_peak=max((part.true_peak for part in parts), default=0.0),
    )


def momentary(part: Measurement) -> Floats:
    """Loudness of every 400 ms window, LUFS, ten a second (EBU Tech 3341)."""
    return _lufs(_Curve([part], False).windows(Fraction(2, 5)))


def short_term(part: Measurement) -> Floats:
    """Loudness of every 3 s window, LUFS, ten a second (EBU Tech 3341)."""
    return _lufs(_Curve([part], False).windows(Fraction(3)))


class _Curve:
    """The energy that has gone by at any time, over parts in a row; straight within a step."""

    def __init__(self, parts: Sequence[Measurement], dual_mono: bool) -> None:
        self._start: list[float] = []
        times: list[Floats] = [np.zeros(1)]
        energies: list[Floats] = [np.zeros(1)]
        begin, gone = Fraction(0), 0.0
        for part in parts:
            factor = 2.0 if dual_mono and part.channels == 1 else 1.0
            length = Fraction(part.samples, part.rate_hz)
            edges = _edges(len(part.steps) + 1, part.rate_hz) / part.rate_hz
            grown = np.cumsum(part.steps * np.diff(edges)) * factor + gone
            times += [edges[1:] + float(begin), np.array([float(begin + length)])]
            gone = (float(grown[-1]) if len(grown) else gone) + part.rest * factor
            energies += [grown, np.array([gone])]
            begin += length
        self.length = begin
        self._times = np.concatenate(times)
        self._energies = np.concatenate(energies)

    def windows(self, seconds: Fraction) -> Floats:
        """Mean squares of all windows of *seconds* that are whole, begun ten times a second."""
        count = math.floor((self.length - seconds) * 10) + 1
        if count <= 0:
            return np.zeros(0)
        starts = np.arange(count) / 10
        low = np.interp(starts, self._times, self._energies)
        high = np.interp(starts + float(seconds), self._times, self._energies)
        return np.asarray(np.maximum(high - low, 0.0) / float(seconds))


def _lufs(mean_squares: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(_OFFSET_DB + 10 * np.log10(mean_squares))


def _mean_square(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET_DB) / 10))


def gated(blocks: Floats) -> float | None:
    """Integrated loudness of the mean squares *blocks*, LUFS: equations (5) to (7) of Annex 1."""
    heard = blocks[blocks > _mean_square(ABSOLUTE_GATE_LUFS)]
    if not len(heard):
        return None
    gate = float(heard.mean()) * 10 ** (RELATIVE_GATE_LU / 10)
    return float(_lufs(heard[heard > gate].mean()))


def loudness_range(windows: Floats) -> float | None:
    """Loudness range of the mean squares of 3 s *windows*, LU (EBU Tech 3342 section 3.1)."""
    heard = windows[windows > _mean_square(ABSOLUTE_GATE_LUFS)]
    if not len(heard):
        return None
    heard = heard[heard >= float(heard.mean()) / 100]  # -20 LU
    low, high = np.percentile(_lufs(heard), [10, 95])
    return float(high - low)
