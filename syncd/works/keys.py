"""Key names in the languages of tags: Germanic, Romance and Slavonic ones, Finnish, Hungarian.

Takes folded words, gives ``C-sharp minor``. The traps: German H and B, Es and As; French ut;
``in B`` by an English or a German tagger; ``A`` and ``do`` that are plain words elsewhere. Names:
any dictionary of musical terms (German: H = B natural, B = B flat; so in the Nordic and Slavonic
languages and in Hungarian, where they say Dur or its like).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from syncd.works.tokens import tokenize
from syncd.works.words.tables import word_set

_LETTERS = {letter: letter.upper() for letter in "abcdefg"}

_GERMAN: dict[str, str] = {
    "h": "B",
    "his": "B-sharp",
    "bes": "B-flat",
    "b": "B-flat",
    "heses": "B-double-flat",
    **{f"{x}is": f"{x.upper()}-sharp" for x in "cdefga"},
    **{f"{x}es": f"{x.upper()}-flat" for x in "cdfg"},
    "es": "E-flat",
    "as": "A-flat",
    **{x: x.upper() for x in "cdefga"},
    # Hungarian spells the German names its own way.
    **{f"{x}isz": f"{x.upper()}-sharp" for x in "cdfga"},
    **{f"{x}esz": f"{x.upper()}-flat" for x in "cdg"},
    "esz": "E-flat",
    "asz": "A-flat",
}
# Swedish doubled the last letter until lately ("Ess-dur"); without a mode these are words.
_DOUBLED = {
    **{f"{x}iss": f"{x.upper()}-sharp" for x in "cdefga"},
    **{f"{x}ess": f"{x.upper()}-flat" for x in "cdfg"},
    "ess": "E-flat",
    "ass": "A-flat",
}
_GERMAN.update(_DOUBLED)

_SOLFEGE: dict[str, str] = {
    "do": "C",
    "ut": "C",
    "re": "D",
    "mi": "E",
    "fa": "F",
    "sol": "G",
    "la": "A",
    "si": "B",
    "до": "C",
    "ре": "D",
    "ми": "E",
    "фа": "F",
    "соль": "G",
    "ля": "A",
    "си": "B",
    "ντο": "C",
    "ρε": "D",
    "μι": "E",
    "φα": "F",
    "σολ": "G",
    "λα": "A",
    "σι": "B",
    "мі": "E",
    "сі": "B",
    "lya": "A",
}

_FLAT = frozenset({"flat", "bemol", "bemolle", "bemoll", "бемоль", "бемол", "υφεση", "mol"})
_SHARP = word_set(
    "sharp diese diesis sostenido sustenido sostingut sostenuto dies диез дієз diez διεση"
)
_SIGNS = frozenset("♭♯#")
_MAJOR = frozenset(
    {
        "major",
        "maj",
        "majeur",
        "μειζονα",
        "ματζορε",
        "maggiore",
        "mayor",
        "dur",
        "мажор",
        "mazhor",
        "maior",
        "majore",
        "duuri",
        "duur",
        "mazoras",
        "grote",
        "groot",
        "gr",
    }
)
_MINOR = frozenset(
    {
        "minor",
        "min",
        "mineur",
        "ελασσονα",
        "μινορε",
        "minore",
        "menor",
        "moll",
        "mol",
        "минор",
        "mineure",
        "molle",
        "molli",
        "minoras",
        "мінор",
        "kleine",
        "klein",
        "kl",
    }
)
_MODES = {**dict.fromkeys(_MAJOR, "major"), **dict.fromkeys(_MINOR, "minor")}
# Dutch: "in e kleine terts", "C gr.t."; the short forms count only with their third.
_DUTCH = frozenset({"grote", "groot", "gr", "kleine", "klein", "kl"})
_THIRD = frozenset({"terts", "t"})
_GERMAN_MODES = frozenset({"dur", "moll", "duuri", "molli", "duur", "mol"})  # where B is B flat
_IN = frozenset({"in", "en", "i", "v", "w", "em", "σε"})


@dataclass(frozen=True, slots=True)
class KeyReading:
    """A key found in running words: its name, how many words it took, how sure the mode is."""

    name: str
    words: int
    explicit: bool


def read_key(
    words: Sequence[str], raw: Sequence[str], start: int, german: bool, after_in: bool
) -> KeyReading | None:
    """The key that stands at *start* among folded *words* (*raw* keeps their case), or None.

    *german* says that the words around are German, where B is B flat. *after_in* says that a word
    such as ``in`` or ``en`` stands before; without it a key needs its mode. Hyphens count as words.
    """
    count = len(words)
    index = start
    tonic_word = words[index]
    if tonic_word not in TONICS:
        return None
    raw_tonic = raw[index]
    index += 1
    accidental = ""
    signed = False
    german_only = tonic_word in _GERMAN and tonic_word not in _LETTERS
    # An accidental, joined by a hyphen, a space or nothing at all.
    probe = index
    while probe < count and words[probe] in ("-", " "):
        probe += 1
    if probe < count and words[probe] in _FLAT | _SHARP and not german_only:
        word = words[probe]
        # Czech and Polish "mol" is the mode unless a mode follows.
        following = _next_word(words, probe + 1)
        if word != "mol" or following in _MODES:
            accidental = "-flat" if word in _FLAT else "-sharp"
            signed = raw[probe] in _SIGNS
            index = probe + 1
    elif index < count and words[index] == "#":
        accidental, index, signed = "-sharp", index + 1, True
    mode = None
    probe = index
    while probe < count and words[probe] in ("-", ".", " "):
        probe += 1
    mode_word = words[probe] if probe < count else ""
    third = _third(words, probe) if mode_word in _DUTCH else 0
    if mode_word in _MODES and (third or mode_word not in _DUTCH):
        mode = _MODES[mode_word]
        index = third or probe + 1
        if index < count and words[index] == "." and mode_word in ("maj", "min"):
            index += 1
    elif probe < count and words[probe] == "m" and raw_tonic.isupper() and probe == index:
        mode, index = "minor", probe + 1
    german_mode = mode_word in _GERMAN_MODES
    name = _tonic(tonic_word, accidental, german_mode, german, mode_word)
    if name is None:
        return None
    if mode is None:
        if not after_in or tonic_word in _DOUBLED:
            return None
        single = len(tonic_word) == 1 or german_only or tonic_word[1:] == "b"
        if tonic_word in _SOLFEGE:
            # A bare "en ré" is the custom for major, but a following word can be anything.
            if tonic_word in ("do", "la", "si", "mi", "sol") and not accidental:
                return None
            mode = "major"
        elif single:
            # A small letter means minor, "c#" and "eb" too; a written-out "e flat" is often just
            # a tagger who writes everything small.
            small = raw_tonic[:1].islower() and (signed or not accidental)
            mode = "minor" if small else "major"
        else:
            return None
        return KeyReading(f"{name} {mode}", index - start, False)
    return KeyReading(f"{name} {mode}", index - start, True)


def _third(words: Sequence[str], start: int) -> int:
    """Where a Dutch mode that begins at *start* ends ("kleine terts", "kl.t."), 0 if it is none."""
    index = start + 1
    while index < len(words) and words[index] in (".", " ", "-"):
        index += 1
    if index < len(words) and words[index] in _THIRD:
        index += 1
        return index + 1 if words[index - 1] == "t" and words[index : index + 1] == ["."] else index
    # "in e klein" without the third is Dutch all the same; a bare "gr" or "kl" is nothing.
    return start + 1 if words[start] in ("groot", "klein") else 0


def _next_word(words: Sequence[str], index: int) -> str:
    while index < len(words) and words[index] in ("-", " "):
        index += 1
    return words[index] if index < len(words) else ""


def _tonic(
    word: str, accidental: str, german_mode: bool, german: bool, mode_word: str
) -> str | None:
    if len(word) == 2 and word[1] == "b" and word[0] in _LETTERS:
        return f"{word[0].upper()}-flat"
    if word in _SOLFEGE:
        return _SOLFEGE[word] + accidental
    if accidental:
        return _LETTERS[word] + accidental if word in _LETTERS else None
    if word in _LETTERS and word != "b":
        return word.upper()
    if word == "b":
        if german_mode or (german and mode_word not in _MODES):
            return "B-flat"
        return "B"
    return _GERMAN.get(word)


TONICS = (
    frozenset(_LETTERS)
    | frozenset(_GERMAN)
    | frozenset(_SOLFEGE)
    | frozenset({f"{x}b" for x in "abcdeg"})
)


def is_preposition_of_key(word: str) -> bool:
    """Whether a key may follow *word* without naming its mode (``in D``, ``en ré``)."""
    return word in _IN


def parse_key(text: str, german: bool = False) -> str | None:
    """The key that *text* as a whole names (a KEY tag, a table's field), or None.

    Reads ``Bbm``, ``F#``, ``fis-moll``, ``ut dièse mineur``, ``C minor``.
    """
    tokens = tokenize(text)
    words = [token.folded for token in tokens]
    raw = [token.text for token in tokens]
    # ID3's TKEY writes the mode as a letter glued to the tonic.
    if len(words) == 1 and len(words[0]) in (2, 3) and words[0].endswith("m"):
        words = [words[0][:-1], "minor"]
        raw = [raw[0][:-1], "minor"]
    elif len(words) == 3 and words[1] == "#" and words[2] == "m":
        words[2] = "minor"
    for start in range(len(words)):
        reading = read_key(words, raw, start, german, True)
        if reading is not None:
            return reading.name
    return None
