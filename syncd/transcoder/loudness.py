"""Loudness by Rec. ITU-R BS.1770-5 of what meters saw: kept small, and joined in a row.

The two gates, and loudness range (EBU Tech 3342). Several measurements are taken as if their audio
were one file (:func:`joined`): blocks that straddle a join count. Meters are in ``meters.py``; what
gain follows is others' affair. Pure but for numpy, which is slow to load: import this module where
something is measured.
"""

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from syncd.transcoder.weighting import Floats

STEPS_A_SECOND = 50
"""Energies are kept for steps of 20 ms: five are one hop of the 400 ms blocks (75 % overlap)."""

ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
_OFFSET_DB = -0.691  # BS.1770-5 Annex 1 equation (2)


def step_edges(count: int, rate_hz: int) -> Any:
    """The first samples of *count* steps."""
    return -(-np.arange(count, dtype=np.int64) * rate_hz // STEPS_A_SECOND)


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
            edges = step_edges(len(part.steps) + 1, part.rate_hz) / part.rate_hz
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
