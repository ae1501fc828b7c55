"""A small additive synthesiser: sounds and an instrument in, samples out.

One cycle would have to be a whole number of samples long to be repeated, which puts high notes out
of tune. So a table holds as many whole cycles as fit a whole number of samples to within a third
of a cent. Tables are made once for each pitch; the rest (envelopes, mixing, panning) is done on
whole stretches of samples by ``audioop``, so the library is made in
seconds without a number-crunching package. No randomness: equal scores give equal samples.
"""

import math
import warnings
import wave
from array import array
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO

from syncd.demo.score import Piece, Sound, parse

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    import audioop  # gone from Python 3.13 on, where the package audioop-lts takes its place

A4_HZ = 440.0
"""ISO 16."""

PEAK = 0.7
"""Highest sample of every piece, of full scale."""

_WIDTH = 4
_FULL = 2**31 - 1
_TABLE_SAMPLES = 6000
_TAIL_S = 0.25


@dataclass(frozen=True, slots=True)
class Instrument:
    """Partials (amplitudes, the first is the fundamental) and an envelope in seconds.

    ``decay_s`` is the time in which a held note falls to 1/e, infinite for what is blown or bowed.
    ``place`` is where it sits: -1 left, 1 right.
    """

    partials: tuple[float, ...]
    attack_s: float
    decay_s: float
    release_s: float
    place: float = 0.0


INSTRUMENTS = {
    "keys": Instrument((1.0, 0.55, 0.3, 0.22, 0.1, 0.08, 0.05), 0.004, 0.9, 0.09, -0.2),
    "strings": Instrument((1.0, 0.6, 0.45, 0.33, 0.25, 0.2, 0.15, 0.12), 0.05, math.inf, 0.07, 0.3),
    "flute": Instrument((1.0, 0.25, 0.1, 0.04), 0.04, math.inf, 0.06, -0.4),
    "reed": Instrument((1.0, 0.2, 0.6, 0.15, 0.4, 0.1, 0.2), 0.03, math.inf, 0.05, 0.1),
    "brass": Instrument((1.0, 0.9, 0.7, 0.5, 0.35, 0.22, 0.14), 0.03, math.inf, 0.06, -0.1),
    "organ": Instrument((1.0, 0.7, 0.0, 0.5, 0.0, 0.0, 0.0, 0.3), 0.015, math.inf, 0.08),
    "plucked": Instrument((1.0, 0.7, 0.5, 0.4, 0.3, 0.25, 0.2, 0.1), 0.002, 0.35, 0.05, 0.2),
    "bass": Instrument((1.0, 0.5, 0.2), 0.006, 0.7, 0.06),
}


def frequency_hz(note: int) -> float:
    """The frequency of a note in equal temperament; 69 is a4, 440 Hz (ISO 16)."""
    return A4_HZ * math.pow(2.0, (note - 69) / 12)


def render(piece: Piece, sample_rate_hz: int = 44100, bits: int = 16, channels: int = 2) -> bytes:
    """The samples of *piece*: interleaved little-endian signed integers of *bits* (16 or 24)."""
    left = right = b""
    for voice in piece.voices:
        instrument = INSTRUMENTS[voice.instrument]
        part = b"".join(
            _sound(sound, voice.instrument, piece.tempo, sample_rate_hz)
            for sound in parse(voice.text)
        ) + bytes(_WIDTH * int(_TAIL_S * sample_rate_hz))
        share = 0.5 * instrument.place  # what sits on the left is still heard on the right
        left = _mixed(left, audioop.mul(part, _WIDTH, voice.level * (1 - share) / 2))
        right = _mixed(right, audioop.mul(part, _WIDTH, voice.level * (1 + share) / 2))
    if channels == 1:
        both = _mixed(audioop.mul(left, _WIDTH, 0.5), audioop.mul(right, _WIDTH, 0.5))
    else:
        both = _mixed(audioop.tostereo(left, _WIDTH, 1, 0), audioop.tostereo(right, _WIDTH, 0, 1))
    peak = audioop.max(both, _WIDTH)
    if peak:
        both = audioop.mul(both, _WIDTH, PEAK * _FULL / peak)
    return audioop.lin2lin(both, _WIDTH, bits // 8)


def wav_bytes(samples: bytes, sample_rate_hz: int, bits: int, channels: int = 2) -> bytes:
    """A WAV file of *samples* as ``render`` gives them."""
    target = BytesIO()
    with wave.open(target, "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(bits // 8)
        file.setframerate(sample_rate_hz)
        file.writeframes(samples)
    return target.getvalue()


def _sound(sound: Sound, name: str, tempo: float, rate: int) -> bytes:
    """One chord from attack to release, exactly as long as it is written."""
    count = max(1, round(float(sound.length) * 4 * 60 / tempo * rate))
    if not sound.notes:
        return bytes(count * _WIDTH)
    mixed = b""
    for note in sound.notes:
        table = _table(note, name, rate)
        whole = table * (count * _WIDTH // len(table) + 1)
        mixed = _mixed(mixed, whole[: count * _WIDTH])
    return _enveloped(mixed, INSTRUMENTS[name], rate)


@lru_cache(maxsize=512)
def _table(note: int, name: str, rate: int) -> bytes:
    """Some whole cycles of a note, ready to be repeated without a seam."""
    hz = frequency_hz(note)
    cycles, samples = _whole_cycles(rate / hz)
    partials = INSTRUMENTS[name].partials
    top = rate / 2 / hz
    loudness = 0.05 * _FULL / math.sqrt(sum(level * level for level in partials))
    turn = 2 * math.pi * cycles / samples
    heard = [(k, level) for k, level in enumerate(partials, start=1) if level and k < top]
    values = [0.0] * samples
    sine = [math.sin(turn * n) for n in range(samples)]
    for k, level in heard:
        # sin(k * phase) of a table of whole cycles is the sine read k times as fast.
        values = [value + level * sine[k * n % samples] for n, value in enumerate(values)]
    return array("i", [int(loudness * value) for value in values]).tobytes()


def _whole_cycles(period: float) -> tuple[int, int]:
    """How many cycles of *period* samples come nearest to a whole number of samples, and that."""
    best = (math.inf, 1, round(period))
    for cycles in range(1, max(2, int(_TABLE_SAMPLES / period))):
        samples = round(cycles * period)
        error = abs(samples / cycles - period) / period
        if error < best[0]:
            best = (error, cycles, samples)
        if error < 2e-4:  # a third of a cent
            break
    return best[1], best[2]


def _enveloped(samples: bytes, instrument: Instrument, rate: int) -> bytes:
    """*samples* with attack, decay and release, in steps too short to be heard as such."""
    step = max(1, rate // 2000)
    count = len(samples) // _WIDTH
    attack = max(1, int(instrument.attack_s * rate))
    release = max(1, min(int(instrument.release_s * rate), count // 2))
    parts: list[bytes] = []
    for start in range(0, count, step):
        level = min(1.0, (start + step / 2) / attack)
        if math.isfinite(instrument.decay_s):
            level *= math.exp(-start / (instrument.decay_s * rate))
        level *= min(1.0, max(0.0, (count - start - step / 2) / release))
        piece = samples[start * _WIDTH : (start + step) * _WIDTH]
        parts.append(audioop.mul(piece, _WIDTH, level))
    return b"".join(parts)


def _mixed(one: bytes, other: bytes) -> bytes:
    """The sum of two stretches that begin together; the shorter one ends in silence."""
    if len(one) < len(other):
        one, other = other, one
    if not other:
        return one
    return audioop.add(one, other.ljust(len(one), b"\0"), _WIDTH)
