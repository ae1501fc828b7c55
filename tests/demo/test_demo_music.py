"""The scores and the synthesiser: pitches, lengths, levels."""

import math
from fractions import Fraction

import numpy as np
import pytest

from syncd.demo.score import OPENINGS, Piece, Voice, parse, phrase
from syncd.demo.synth import INSTRUMENTS, PEAK, frequency_hz, render, wav_bytes


def heard(samples: bytes, channels: int = 2) -> "np.ndarray[tuple[int, ...], np.dtype[np.float64]]":
    """16-bit samples as one channel of numbers from -1 to 1."""
    data = np.frombuffer(samples, dtype="<i2").astype(np.float64) / 32768
    return data.reshape(-1, channels).mean(axis=1)


def pitch_hz(samples: bytes, rate: int = 44100) -> float:
    """The fundamental: the lowest strong peak of the spectrum, between bins by a parabola."""
    tone = heard(samples)[: rate // 2]
    spectrum = np.abs(np.fft.rfft(tone * np.hanning(len(tone)), 8 * len(tone)))
    peak = int(np.flatnonzero(spectrum > 0.3 * spectrum.max())[0])
    while spectrum[peak + 1] > spectrum[peak]:
        peak += 1
    below, here, above = np.log(spectrum[peak - 1 : peak + 2])
    shift = 0.5 * (below - above) / (below - 2 * here + above)
    return float((peak + shift) * rate / (8 * len(tone)))


def cents(hz: float, other: float) -> float:
    return 1200 * math.log2(hz / other)


# Equal temperament on a4 = 440 Hz (ISO 16); the figures are in every table of it, from memory.
EQUAL_TEMPERAMENT = {
    "a1": 55.0,
    "c2": 65.406,
    "c4": 261.626,
    "f#4": 369.994,
    "a4": 440.0,
    "bb4": 466.164,
    "c#5": 554.365,
    "g5": 783.991,
    "c7": 2093.005,
}


@pytest.mark.parametrize(("note", "hz"), EQUAL_TEMPERAMENT.items())
def test_notes_have_the_frequencies_of_equal_temperament(note: str, hz: float) -> None:
    (sound,) = parse(f"{note}/4")
    assert cents(frequency_hz(sound.notes[0]), hz) == pytest.approx(0, abs=0.05)


@pytest.mark.parametrize(("note", "hz"), EQUAL_TEMPERAMENT.items())
@pytest.mark.parametrize("instrument", ["flute", "organ"])
def test_what_is_heard_is_in_tune(note: str, hz: float, instrument: str) -> None:
    tone = render(Piece(60, (Voice(instrument, 1, f"{note}/2"),)))
    # Five cents is about the smallest step that listeners tell apart (common practice).
    assert cents(pitch_hz(tone), hz) == pytest.approx(0, abs=1.5)


def test_the_fate_motif_falls_from_g_to_e_flat() -> None:
    """The second and fifth sounds of the opening, as notes and as heard at their places."""
    piece = OPENINGS["beethoven-fifth-1"]
    sounds = parse(piece.voices[0].text)
    assert [sound.notes for sound in sounds[:5]] == [(), (67,), (67,), (67,), (63,)]
    samples = render(Piece(piece.tempo, piece.voices[:1]))
    start = round(4 * 0.5 * 60 / piece.tempo * 44100)
    held = samples[4 * start : 4 * (start + 30000)]
    assert cents(pitch_hz(held), 311.127) == pytest.approx(0, abs=3)


def test_the_tune_of_the_ninth_is_the_one_that_is_sung() -> None:
    notes = [sound.notes[0] - 57 for sound in parse(OPENINGS["beethoven-joy"].voices[0].text)]
    # Degrees of D major: 3 3 4 5 5 4 3 2 1 1 2 3 3 2 2 (common knowledge).
    degree = {-3: 3, -2: 4, 0: 5, -5: 2, -7: 1}
    assert [degree[note] for note in notes] == [3, 3, 4, 5, 5, 4, 3, 2, 1, 1, 2, 3, 3, 2, 2]


def test_the_canon_s_bass_is_the_one_that_is_known() -> None:
    bass = [sound.notes[0] % 12 for sound in parse(OPENINGS["pachelbel-canon"].voices[1].text)]
    # D A B F-sharp G D G A (common knowledge).
    assert bass == [2, 9, 11, 6, 7, 2, 7, 9]


@pytest.mark.parametrize(
    ("text", "lengths"),
    [
        ("c4/4 d4 e4/8", [Fraction(1, 4), Fraction(1, 4), Fraction(1, 8)]),
        ("c4/4. r/4.. c4/12", [Fraction(3, 8), Fraction(7, 16), Fraction(1, 12)]),
    ],
)
def test_lengths_are_parts_of_a_whole_note(text: str, lengths: list[Fraction]) -> None:
    assert [sound.length for sound in parse(text)] == lengths


@pytest.mark.parametrize("text", ["h4", "c", "4c", "c#b4", "c4&"])
def test_what_is_not_a_note_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a note such as c4"):
        parse(text)


@pytest.mark.parametrize("name", sorted(OPENINGS))
def test_the_voices_of_an_opening_end_together_after_four_to_nine_seconds(name: str) -> None:
    piece = OPENINGS[name]
    seconds = {
        sum(sound.length for sound in parse(voice.text)) * 4 * 60 / Fraction(piece.tempo)
        for voice in piece.voices
    }
    assert len(seconds) == 1
    assert 4 <= seconds.pop() <= 9
    assert {voice.instrument for voice in piece.voices} <= set(INSTRUMENTS)


def test_the_length_in_samples_is_what_the_score_says() -> None:
    samples = render(Piece(120, (Voice("flute", 1, "c4/4 r/4 c4/2"),)))
    assert len(samples) == 4 * (44100 * 2 + 44100 // 4), "two seconds and a quarter to die away"


@pytest.mark.parametrize(
    ("rate", "bits", "channels"), [(44100, 16, 2), (96000, 24, 2), (22050, 16, 1)]
)
def test_the_peak_is_as_documented_and_nothing_is_clipped(
    rate: int, bits: int, channels: int
) -> None:
    samples = render(OPENINGS["handel-hallelujah"], rate, bits, channels)
    width = bits // 8
    whole = np.frombuffer(samples, dtype=np.uint8).reshape(-1, width)
    full = 2 ** (bits - 1)
    values = sum(whole[:, place].astype(np.int64) << (8 * place) for place in range(width))
    values = np.where(values >= full, values - 2 * full, values)
    assert np.abs(values).max() / full == pytest.approx(PEAK, abs=0.001)


def test_silence_stays_silent() -> None:
    assert not any(render(Piece(60, (Voice("keys", 1, "r/1"),))))


def test_a_high_instrument_makes_no_tone_above_half_the_sample_rate() -> None:
    """Partials beyond the Nyquist frequency are left out: else they would alias downwards."""
    tone = heard(render(Piece(60, (Voice("strings", 1, "c8/4"),)), 22050))
    spectrum = np.abs(np.fft.rfft(tone[:11025] * np.hanning(11025)))
    bins_hz = np.fft.rfftfreq(11025, 1 / 22050)
    partial = np.any([np.abs(bins_hz - k * 4186.01) < 100 for k in (1, 2)], axis=0)
    assert spectrum[~partial].max() < 0.003 * spectrum.max()


def test_a_wav_file_says_what_is_in_it() -> None:
    data = wav_bytes(bytes(6 * 100), 96000, 24)
    assert data[:4] == b"RIFF" and data[8:16] == b"WAVEfmt "
    assert int.from_bytes(data[22:24], "little") == 2
    assert int.from_bytes(data[24:28], "little") == 96000
    assert int.from_bytes(data[34:36], "little") == 24


def test_an_invented_phrase_is_the_same_for_the_same_seed_and_stays_in_its_key() -> None:
    piece = phrase("E-flat major", 120, ("flute", "keys"), "seed")
    assert piece == phrase("E-flat major", 120, ("flute", "keys"), "seed")
    assert piece != phrase("E-flat major", 120, ("flute", "keys"), "another")
    scale = {3, 5, 7, 8, 10, 0, 2}  # E-flat F G A-flat B-flat C D
    notes = {n % 12 for v in piece.voices for sound in parse(v.text) for n in sound.notes}
    assert notes <= scale
    assert parse(piece.voices[0].text)[-1].notes[0] % 12 == 3, "it ends on the tonic"
