"""Signals for tests of loudness, made with numpy: the tables of EBU Tech 3341 and 3342."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from syncd.transcoder.loudness import Measurement
from syncd.transcoder.meters import Meter

Samples = np.ndarray[Any, np.dtype[np.float64]]

RATES = (44100, 48000, 96000)


def sine(rate: int, levels: Sequence[tuple[float, float]], hz: float = 1000.0) -> Samples:
    """A stereo sine in phase: (seconds, peak level in dBFS) after each other, phase going on."""
    gains = np.concatenate(
        [np.full(round(seconds * rate), 10 ** (level / 20)) for seconds, level in levels]
    )
    wave = gains * np.sin(2 * np.pi * hz * np.arange(len(gains)) / rate)
    return np.stack([wave, wave], axis=1)


def measured(samples: Samples, rate: int, piece: int = 30011) -> Measurement:
    """What the meter says of *samples*, fed in pieces of odd length."""
    meter = Meter(rate, samples.shape[1])
    for at in range(0, len(samples), piece):
        meter.feed(np.ascontiguousarray(samples[at : at + piece], dtype=np.float32).tobytes())
    return meter.result()


def coloured_noise(seconds: float, rate: int, seed: int, level_db: float = -20.0) -> Samples:
    """Stereo noise, duller than white, with a slow swell: no two steps are alike."""
    dice = np.random.default_rng(seed)
    white = dice.normal(size=(round(seconds * rate), 2))
    dull = white + np.roll(white, 1, axis=0) + np.roll(white, 2, axis=0)
    swell = 0.6 + 0.4 * np.sin(2 * np.pi * 0.37 * np.arange(len(dull)) / rate + seed)
    data = dull * swell[:, None]
    return np.asarray(data / np.sqrt(np.mean(data**2)) * 10 ** (level_db / 20))
