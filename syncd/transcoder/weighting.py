"""The K weighting of Rec. ITU-R BS.1770-5 at any rate, and the weights of its channels.

A recursion a sample would be slow in numpy: blocks of samples are weighed at a time.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

Floats = np.ndarray[Any, np.dtype[np.floating[Any]]]

BLOCK = 32
"""Samples that are weighed, and looked through for peaks, at a time."""

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


@dataclass(frozen=True)
class Blockwise:
    """The recursion over one block as matrices: a recursion a sample would be slow in numpy.

    ``samples`` (32 x 36) leads from the samples of a block to its output from rest and to what it
    adds to the four state values at its end; ``state`` (4 x 32) from the state at its start to
    its output; ``steps`` are for :func:`states`.
    """

    samples: Floats
    state: Floats
    steps: tuple["Step", ...]


@dataclass(frozen=True)
class Step:
    """For state vectors a fixed time apart: ``power`` leads from one to the next."""

    power: Floats
    inside: Floats
    out: Floats
    onward: Floats


_GROUP = 16


@lru_cache(maxsize=16)
def blockwise(rate_hz: int) -> Blockwise:
    size = BLOCK + 4
    given = np.zeros((BLOCK, size))
    given[:, :BLOCK] = np.eye(BLOCK)
    state = np.zeros((4, size))
    state[:, BLOCK:] = np.eye(4)
    output = np.zeros((BLOCK, size))
    for at in range(BLOCK):
        value = given[at]
        for number, (b0, b1, b2, a1, a2) in enumerate(k_weighting(rate_hz)):
            first, second = state[2 * number].copy(), state[2 * number + 1].copy()
            made = b0 * value + first
            state[2 * number] = b1 * value - a1 * made + second
            state[2 * number + 1] = b2 * value - a2 * made
            value = made
        output[at] = value
    power = state[:, BLOCK:].T.copy()
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
        steps.append(Step(power, inside, out, onward))
        power = powers[_GROUP]
    return Blockwise(
        np.concatenate([output[:, :BLOCK], state[:, :BLOCK]]).T.astype(np.float32),
        output[:, BLOCK:].T.astype(np.float32),
        tuple(steps),
    )


def states(
    steps: tuple[Step, ...], added: Floats, start: Floats, level: int = 0
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
        firsts, state = states(steps, grouped @ step.out, start, level + 1)
        inside = grouped @ step.inside + firsts @ step.onward
        found[:, : whole * _GROUP] = inside.reshape(channels, whole * _GROUP, 4)
    for at in range(whole * _GROUP, count):
        found[:, at] = state
        state = state @ step.power + added[:, at]
    return found, state
