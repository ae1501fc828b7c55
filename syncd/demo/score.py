"""Openings of well-known pieces in the public domain, as notes, for the invented library.

The notes were written down from memory of the scores; a few bars each, in one to three voices,
with the accompaniment reduced to what a simple instrument needs. Where a track of the invented
library has no opening here, ``phrase`` makes one up in its key, and says nothing about the piece.

The notation: notes are separated by spaces, each a letter, ``#`` or ``b`` signs, the octave (c4 is
middle C, a4 is 440 Hz) and, where it changes, ``/`` and the part of a whole note, dotted by ``.``;
``&`` joins the notes of a chord; ``r`` rests. ``g4/8 g4 g4 eb4/2`` is known to everybody.
Turning notes into sound is ``synth``'s.
"""

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

_NOTE = re.compile(r"([a-g])(#{0,2}|b{0,2})([0-9])")
_STEP = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}


@dataclass(frozen=True, slots=True)
class Sound:
    """Notes that sound together for ``length`` (in whole notes); none is a rest.

    Notes are numbered in semitones, 69 is a4 (as in MIDI).
    """

    notes: tuple[int, ...]
    length: Fraction


@dataclass(frozen=True, slots=True)
class Voice:
    """One part: an instrument of ``synth``, how loud it is beside the others, its notes."""

    instrument: str
    level: float
    text: str


@dataclass(frozen=True, slots=True)
class Piece:
    """An opening: quarter notes a minute, and the voices."""

    tempo: float
    voices: tuple[Voice, ...]


def parse(text: str) -> list[Sound]:
    """The sounds of a voice. Raises ValueError naming what is not a note."""
    sounds: list[Sound] = []
    length = Fraction(1, 4)
    for token in text.split():
        names, _, part = token.partition("/")
        if part:
            length = Fraction(1, int(part.rstrip(".")))
            for dot in range(part.count(".")):
                length += Fraction(1, int(part.rstrip(".")) * 2 ** (dot + 1))
        notes = () if names == "r" else tuple(_number(name) for name in names.split("&"))
        sounds.append(Sound(notes, length))
    return sounds


def phrase(key: str, tempo: float, instruments: Sequence[str], seed: str) -> Piece:
    """An invented phrase in *key* ("C minor"), the same for equal arguments.

    Four bars over the steps I, VI, IV, V: chords below, a melody of neighbouring tones above.
    """
    tonic_name, _, mode = key.partition(" ")
    tonic = tonic_name[0].lower() + {"sharp": "#", "flat": "b"}.get(tonic_name[2:], "")
    root = _number(f"{tonic}4")
    scale = (0, 2, 3, 5, 7, 8, 10) if mode == "minor" else (0, 2, 4, 5, 7, 9, 11)
    chance = random.Random(seed)
    rhythm = chance.choice(("4 8 8 4", "8 8 4 8 8", "4. 8 4", "8 8 8 8 4"))
    melody: list[str] = []
    chords: list[str] = []
    at = chance.choice((0, 2, 4))
    for bar, step in enumerate((0, 5, 3, 4)):
        chord = [_name(root - 12 + _degree(scale, step + third)) for third in (0, 2, 4)]
        chords.append("&".join(chord) + "/4 r/4 " + "&".join(chord[1:]) + "/4")
        for beat, part in enumerate(rhythm.split()):
            at = step + chance.choice((0, 2, 4)) if beat == 0 else at + chance.choice((-1, 1, 1, 2))
            at = min(max(at, -2), 9)
            last = bar == 3 and beat == len(rhythm.split()) - 1
            melody.append(f"{_name(root + 12 + (0 if last else _degree(scale, at)))}/{part}")
    upper, lower = instruments[0], instruments[-1]
    return Piece(tempo, (Voice(upper, 1.0, " ".join(melody)), Voice(lower, 0.5, " ".join(chords))))


def _degree(scale: Sequence[int], step: int) -> int:
    octave, index = divmod(step, 7)
    return 12 * octave + scale[index]


def _number(name: str) -> int:
    found = _NOTE.fullmatch(name)
    if found is None:
        raise ValueError(f"'{name}' is not a note such as c4, eb5 or f#3.")
    letter, signs, octave = found.groups()
    return _STEP[letter] + signs.count("#") - signs.count("b") + 12 * (int(octave) + 1)


def _name(number: int) -> str:
    names = ("c", "c#", "d", "d#", "e", "f", "f#", "g", "g#", "a", "a#", "b")
    return f"{names[number % 12]}{number // 12 - 1}"


def _keys(tempo: float, right: str, left: str) -> Piece:
    return Piece(tempo, (Voice("keys", 1.0, right), Voice("keys", 0.6, left)))


def _strings(tempo: float, upper: str, lower: str) -> Piece:
    return Piece(tempo, (Voice("strings", 1.0, upper), Voice("strings", 0.6, lower)))


OPENINGS: dict[str, Piece] = {
    # Bach, The Well-Tempered Clavier, Book 1, Prelude and Fugue in C major
    "bach-prelude-c": Piece(
        72,
        (
            Voice(
                "plucked",
                1.0,
                "r/8 g4/16 c5 e5 g4 c5 e5 r/8 g4/16 c5 e5 g4 c5 e5 "
                "r/8 a4/16 d5 f5 a4 d5 f5 r/8 a4/16 d5 f5 a4 d5 f5",
            ),
            Voice("plucked", 0.8, "c4/2 c4 c4 c4"),
            Voice("plucked", 0.8, "r/16 e4/4.. r/16 e4/4.. r/16 d4/4.. r/16 d4/4.."),
        ),
    ),
    "bach-fugue-c": Piece(
        60,
        (
            Voice(
                "plucked",
                1.0,
                "r/8 c4 d4 e4 f4/8. g4/32 f4 e4/8 a4 d4 g4/8. a4/16 g4 f4 e4 f4 e4 d4 c4/4",
            ),
        ),
    ),
    # Beethoven, Bagatelle in A minor
    "beethoven-elise": _keys(
        76,
        "e5/16 d#5 e5 d#5 e5 b4 d5 c5 a4/8 r/16 c4 e4 a4 b4/8 r/16 e4 g#4 b4 c5/8 r/16 e4 "
        "e5 d#5 e5 d#5 e5 b4 d5 c5 a4/4",
        "r/4. r/8 a2/16 e3 a3 r r/8 e2/16 e3 g#3 r r/8 a2/16 e3 a3 r r/8 r/4. a2/4",
    ),
    # Beethoven, Symphony No. 5 in C minor, first, third and last movements
    "beethoven-fifth-1": _strings(
        216,
        "r/8 g4 g4 g4 eb4/1 r/8 f4 f4 f4 d4/1 d4/2 "
        "r/8 g4 g4 g4 eb4 ab4 ab4 ab4 g4 eb5 eb5 eb5 c5/2",
        "r/8 g3 g3 g3 eb3/1 r/8 f3 f3 f3 d3/1 d3/2 r/2 c3/2 c3 c3",
    ),
    "beethoven-fifth-3": Piece(
        200,
        (
            Voice("strings", 1.0, "g2/4 c3 eb3 g3 c4 eb4/2 d4/4 f#4/4. g4/8 r/4 g4/2. r/2"),
            Voice("strings", 0.7, "g1/4 c2 eb2 g2 c3 eb3/2 d3/4 f#3/4. g3/8 r/4 g3/2. r/2"),
        ),
    ),
    "beethoven-fifth-4": Piece(
        150,
        (
            Voice("brass", 1.0, "c5/2 e5 g5/2. f5/8 e5 d5/8 e5 d5 c5 d5/4. c5/8 c5/2"),
            Voice("strings", 0.7, "c3&g3/2 c3&g3 c3&g3/1 g2&g3/2 c3&g3 c3&e3"),
        ),
    ),
    # Beethoven, Symphony No. 9 in D minor, the tune of the last movement
    "beethoven-joy": Piece(
        126,
        (Voice("strings", 1.0, "f#3/4 f#3 g3 a3 a3 g3 f#3 e3 d3 d3 e3 f#3 f#3/4. e3/8 e3/2"),),
    ),
    # Beethoven, Piano Sonata No. 14 in C-sharp minor, first movement
    "beethoven-moonlight": _keys(
        64,
        "g#3/12 c#4 e4 g#3 c#4 e4 g#3 c#4 e4 g#3 c#4 e4 a3 c#4 e4 a3 c#4 e4 a3 d4 f#4 a3 d4 f#4",
        "c#2&c#3/1 a1&a2/2 f#1&f#2/2",
    ),
    # Bizet, Carmen, the habanera
    "bizet-habanera": Piece(
        63,
        (
            Voice("flute", 1.0, "r/2 d5/8 c#5 c5/12 c5 c5 b4/8 bb4 a4 a4 ab4 g4 g4/12 f4 g4"),
            Voice(
                "strings",
                0.6,
                "d3/8. a3/16 f4/8 a3 d3/8. a3/16 f4/8 a3 d3/8. a3/16 f4/8 a3 d3/8. a3/16 f4/8 a3",
            ),
        ),
    ),
    # Brahms, Wiegenlied
    "brahms-lullaby": _keys(
        100,
        "g4/8 g4 bb4/2 g4/8 g4 bb4/2 g4/8 bb4 eb5/4 d5/4. c5/8 c5/4 bb4",
        "r/4 eb3/4 g3&bb3 g3&bb3 eb3 g3&bb3 g3&bb3 eb3 g3&bb3 ab3&c4 ab3&c4 g3&bb3",
    ),
    # Chopin, Nocturne in E-flat major, Op. 9 No. 2
    "chopin-nocturne": _keys(
        96,
        "bb4/8 g5/2 f5/8 g5 f5/4. eb5/4 bb4/8 g5/4 c5/8 c6/4 g5/8 bb5/4. ab5/4 g5/8",
        "r/8 eb2/8 eb3&g3 bb3&eb4 eb2 eb3&g3 bb3&eb4 eb2 f3&ab3 bb3&d4 eb2 eb3&g3 bb3&eb4 "
        "d2 d3&f3 ab3&b3 c2 c3&g3 c4&eb4 f2 f3&ab3 c4&f4 bb1 f3&ab3 bb3&d4",
    ),
    # Dvořák, Symphony No. 9 in E minor, Largo and last movement
    "dvorak-largo": Piece(
        60,
        (
            Voice(
                "reed", 1.0, "f4/8. ab4/16 ab4/4 f4/8. eb4/16 db4/4 eb4/8. f4/16 ab4/8. f4/16 eb4/2"
            ),
            Voice("strings", 0.4, "db3&ab3/2 db3&ab3/2 gb3&bb3/2 ab2&ab3/2"),
        ),
    ),
    "dvorak-new-world-4": Piece(
        150,
        (
            Voice("brass", 1.0, "e4/2 f#4/4 g4 g4/4. f#4/8 e4/2 e4/2 d4/4 b3/4 d4/2 e4/2"),
            Voice("strings", 0.6, "e3&b3/2 r e3&b3 r e3&b3 r e3&b3 e3&b3"),
        ),
    ),
    # Grieg, Peer Gynt Suite No. 1, first and last movements
    "grieg-morning": Piece(
        150,
        (
            Voice(
                "flute",
                1.0,
                "b5/4 g#5 f#5 e5 f#5 g#5 b5 g#5 f#5 e5 f#5/8 g#5 f#5 g#5 b5/4 g#5 b5 c#6 g#5 c#6",
            ),
            Voice("strings", 0.4, "e3&b3&e4/1. e3&b3&e4 c#3&g#3&c#4"),
        ),
    ),
    "grieg-mountain-king": Piece(
        138,
        (
            Voice(
                "reed",
                1.0,
                "b2/8 c#3 d3 e3 f#3 d3 f#3/4 f3/8 c#3 f3/4 e3/8 c3 e3/4 "
                "b2/8 c#3 d3 e3 f#3 d3 f#3 b3 a3 f#3 d3 f#3 a3/2",
            ),
            Voice("strings", 0.4, "b1/4 f#2 b1 f#2 b1 f#2 b1 f#2 b1 f#2 b1 f#2 d2 a2 d2 a2"),
        ),
    ),
    # Handel, Messiah, the chorus Hallelujah
    "handel-hallelujah": Piece(
        108,
        (
            Voice(
                "brass",
                1.0,
                "d5/4. a4/8 b4 a4 r/4 d5/4. a4/8 b4 a4 r/8 d5/16 d5 d5/8 a4 r/8 d5/16 d5 d5/8 a4",
            ),
            Voice(
                "organ",
                0.6,
                "d3&f#4/4. d3&f#4/8 g3&d4 d3&d4 r/4 d3&f#4/4. d3&f#4/8 g3&d4 d3&d4 r/8 "
                "d3/16 d3 d3/8 d3 r/8 d3/16 d3 d3/8 d3",
            ),
        ),
    ),
    # Haydn, Symphony No. 94 in G major, second movement
    "haydn-surprise-2": _strings(
        100,
        "c4/8 c4 e4 e4 g4 g4 e4/4 f4/8 f4 d4 d4 b3 b3 g3/4 c4/8 c4 e4 e4 g4 g4 e4/4",
        "c3/4 r c3 r b2 r g2 r c3 r c3 r",
    ),
    # Mozart, Serenade in G major, Eine kleine Nachtmusik, first movement
    "mozart-nachtmusik-1": _strings(
        138,
        "g4/4 r/8 d4 g4/4 r/8 d4 g4/8 d4 g4 b4 d5/4 r "
        "c5/4 r/8 a4 c5/4 r/8 a4 c5/8 a4 f#4 a4 d4/4 r",
        "g3/4 r/8 d3 g3/4 r/8 d3 g3/8 d3 g3 b3 d4/4 r "
        "c4/4 r/8 a3 c4/4 r/8 a3 c4/8 a3 f#3 a3 d3/4 r",
    ),
    # Mozart, Piano Sonata No. 16 in C major, first movement
    "mozart-facile-1": _keys(
        132,
        "c5/2 e5/4 g5 b4/4. c5/16 d5 c5/2 a5/2 g5/4 c6 g5/4 f5/8 e5/16 f5 e5/2",
        "c4/8 g4 e4 g4 c4 g4 e4 g4 d4 g4 f4 g4 c4 g4 e4 g4 c4 a4 f4 a4 c4 g4 e4 g4 "
        "b3 g4 d4 g4 c4 g4 e4 g4",
    ),
    # Mozart, Piano Sonata No. 11 in A major, last movement
    "mozart-turca": _keys(
        126,
        "b4/16 a4 g#4 a4 c5/8 r d5/16 c5 b4 c5 e5/8 r f5/16 e5 d#5 e5 "
        "b5 a5 g#5 a5 b5 a5 g#5 a5 c6/4 a5/8 c6 g5&b5 f#5&a5 e5&g5 f#5&a5 g5&b5",
        "r/4 a3/8 c4&e4 c4&e4 c4&e4 a3 c4&e4 c4&e4 c4&e4 a3 c4&e4 a3 c4&e4 a3 c4&e4 c4&e4 c4&e4 "
        "e3 b3&e4 b3&e4 b3&e4/4",
    ),
    # Mozart, Symphony No. 40 in G minor, first movement
    "mozart-fortieth-1": _strings(
        200,
        "eb5/8 d5 d5/4 eb5/8 d5 d5/4 eb5/8 d5 d5/4 bb5/4 r "
        "bb5/8 a5 g5/4 g5/8 f5 eb5/4 eb5/8 d5 c5/4 c5",
        "r/4 g2&bb3/4 g3&d4 g2&bb3 g3&d4 g2&bb3 g3&d4 g2&bb3 "
        "g3&d4 g2&bb3 g3&d4 c3&g3 c3&eb4 c3&g3 c3&eb4",
    ),
    # Pachelbel, Canon in D major
    "pachelbel-canon": Piece(
        66,
        (
            Voice("strings", 0.8, "f#5/4 e5 d5 c#5 b4 a4 b4 c#5"),
            Voice("plucked", 0.8, "d3/4 a2 b2 f#2 g2 d2 g2 a2"),
        ),
    ),
    # Satie, Gymnopédie No. 1
    "satie-gymnopedie-1": _keys(
        112,
        "r/1. r/4 f#5/4 a5 g5 f#5 c#5 b4 c#5 d5",
        "g2/4 b3&d4&f#4/2 d2/4 a3&c#4&f#4/2 g2/4 b3&d4&f#4/2 d2/4 a3&c#4&f#4/2 g2/4 b3&d4&f#4/2",
    ),
    # Schubert, Die Forelle
    "schubert-trout": _keys(
        96,
        "ab4/8 db5 db5 f5 f5 db5/4 ab4/8 ab4/16 ab4 ab4/8 eb5/16 db5 c5/8 bb4/16 c5 db5/4",
        "r/8 db3/8 f3&ab3 db3 f3&ab3 db3 f3&ab3 db3 f3&ab3 ab2 gb3&c4 ab2 gb3&c4 db3 f3&ab3",
    ),
    # Schumann, Kinderszenen, Träumerei
    "schumann-dreaming": _keys(
        76,
        "c4/4 f4/2. e4/8 f4 a4 c5 f5/4 f5/2",
        "r/4 f2&c3/4 a3 c4/2 r/4 f2&c3 a3&c4/2",
    ),
    # Tchaikovsky, Swan Lake, the scene by the lake
    "tchaikovsky-swans": Piece(
        105,
        (
            Voice(
                "reed",
                1.0,
                "f#5/2 b4/8 c#5 d5 e5 f#5/4. d5/8 f#5/4. d5/8 f#5/4. b4/8 d5 b4 g4 d5 b4/2",
            ),
            Voice("strings", 0.4, "b2&f#3&b3/1 b2&f#3&b3/1 b2&d3&b3/2 g2&d3&g3 b2&f#3/2"),
        ),
    ),
    # Vivaldi, Violin Concerto in E major, La primavera, first movement
    "vivaldi-spring-1": _strings(
        104,
        "e5/8 g#5 g#5 g#5 f#5/16 e5 b5/4. b5/16 a5 g#5/8 g#5 g#5 f#5/16 e5 b5/4. b5/16 a5 "
        "g#5/8 a5/16 b5 a5/8 g#5 f#5/4",
        "r/8 e3/4 e3 e3 e3 e3 e3 e3 e3 e3 e3 b2",
    ),
}
"""Openings by name. About four to eight seconds each."""
