"""The COMPOSER values of a track, read: who composed it, who arranged it, who else is named.

Takes apart what taggers put into one value ("Bach/Busoni", "Venn, Lara", "Schubert, arr. Liszt").
Whether the tag is to be believed is left to ``attribution.py``.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from syncd.model import Composer
from syncd.works.composer_names import strip_dates, unknown_composer
from syncd.works.composers import Entry, Match, table
from syncd.works.ensembles import kind_of
from syncd.works.people import read_people
from syncd.works.popular import genre_side
from syncd.works.text import fold, is_shouting, unshout, word_set
from syncd.works.words.no_composers import FILLERS, FILLING_WORDS, POETS

_ANONYMOUS = word_set(
    """
    anonymous anon anonym anonyme anonimo anonimus anonymus anoniem anonyymi anonimowy аноним
    anonymos gregorian gregorianisch gregorianik gregorianischer gregorien gregoriano plainchant
    plainsong 作者不詳 佚名
    """
)
_TRADITIONAL = word_set(
    """
    traditional trad traditionnel traditionnelle traditionell volksweise volkslied tradicional
    tradizionale traditioneel tradisjonell tradycyjna lidova ludowa народная folksong
    """
)
NAMELESS = ("Anonymous", "Traditional")
"""What is filed in a composer's place where nobody knows him."""

NOT_IN_TABLE = "a name that the table does not have"
"""How a composer was found whom only the tag knows."""


@dataclass(frozen=True, slots=True)
class ComposerTag:
    """What the COMPOSER values of a track say.

    ``how`` is how the name was found, ``entry`` the table's entry for it, ``others`` who else is
    named without a role, ``parts`` how many are named (without arrangers), ``poets`` who wrote the
    words.
    """

    composer: Composer | None = None
    entry: Entry | None = None
    confidence: float = 0.0
    how: str = ""
    others: tuple[str, ...] = ()
    arrangers: tuple[str, ...] = ()
    parts: int = 0
    poets: tuple[str, ...] = ()


NO_TAG = ComposerTag()
"""What a track without the tag has."""

_ARRANGED_BY = re.compile(
    r"^(?:arr(?:anged|angement|\.)?|orch(?:estrated|estration|\.)?|transcr(?:ibed|iption|\.)?|bearb(?:eitet|eitung|\.)?|"
    r"trans\.|instr\.|ed\.|compl\.|completed|orchestriert|instrumentation)\s*(?:by|von|par|:)?\s+(?P<who>.+)$",
    re.IGNORECASE,
)
_INNER_ARRANGED = re.compile(
    r"\s*[,;(\[/–-]?\s*\b(?:arr|orch|transcr|bearb|trans|instr|compl)\w*\.?\s*(?:by|von|par|:)?\s+(?P<who>[^()\[\]]+)[)\]]?\s*$",
    re.IGNORECASE,
)
_ARRANGED_BEHIND = re.compile(
    r"^(?P<who>[^()\[\]]{3,}?)\s*[(\[](?:arr|orch|transcr|bearb|trans|instr)\w*\.?[)\]]$",
    re.IGNORECASE,
)
_WORDS = (
    r"(?:text|texte|words|lyrics|libretto|livret|poem|poems|poetry|paroles|testo|letra|dichtung|"
    r"gedicht|слова|стихи|sanat|tekst|słowa)"
)
_WORDS_BY = re.compile(
    rf"^{_WORDS}\s*(?:(?:by|von|par|di|de|av|af)\s+|:\s*)(?P<who>.+)$", re.IGNORECASE
)
_WORDS_BEHIND = re.compile(rf"^(?P<who>[^()\[\]]{{3,}}?)\s*[(\[]{_WORDS}[)\]]$", re.IGNORECASE)
_ADDRESS = re.compile(r"(?:www\.|https?:|\.com\b|\.ru\b|@\w)")
_FIRST_WORD = re.compile(r"[^\W_]+")
_LEADS = frozenset({"conductor", "leader", "chorus master", "producer", "engineer"})
_COMPOSER_SPLIT = re.compile(
    r"\s*[;|\n\x00]+\s*|\s+/\s+|/|\s+[&+]\s+|\s+(?:and|und|et|e|y|with)\s+|\s+[-–—]\s+"
)
_HYPHEN = re.compile(r"(?<=\w)[-–](?=[A-ZÀ-Þ])")


@lru_cache(maxsize=8192)
def read_composers(values: tuple[str, ...]) -> ComposerTag:
    """What COMPOSER *values* say: the composer, and arrangers and others beside him."""
    named, arrangers, poets = _named(values)
    if not named:
        return ComposerTag(arrangers=tuple(arrangers), poets=tuple(poets))
    found: Match | None = None
    chosen = ""
    for part in named:
        found, beside = _match(part)
        if found is not None:
            chosen = part
            arrangers.extend(beside)
            break
    others = tuple(part for part in named if part != chosen)
    rest = (others, tuple(arrangers), len(named), tuple(poets))
    if found is not None:
        confidence = 0.93 if found.how == "family name" else found.confidence
        return ComposerTag(found.entry.composer, found.entry, confidence, found.how, *rest)
    first = named[0]
    opening = _FIRST_WORD.search(fold(first))
    if opening is not None and opening.group() in (_ANONYMOUS | _TRADITIONAL):
        name = "Anonymous" if opening.group() in _ANONYMOUS else "Traditional"
        return ComposerTag(Composer(name, name), None, 0.8, "as the tag says", *rest)
    if kind_of(first) != "person" or _plays(first):
        # "Johann Strauss Orchestra", "Lara Venn (piano)" in the composer's field are no composers.
        return ComposerTag(None, None, 0.0, NOT_IN_TABLE, *rest)
    name = unshout(first) if is_shouting(first) else first
    return ComposerTag(unknown_composer(name), None, 0.85, NOT_IN_TABLE, *rest)


@lru_cache(maxsize=4096)
def real_names(values: tuple[str, ...]) -> tuple[str, ...]:
    """*values* of a COMPOSER tag without those that name nobody: "Classical", "Various", "n/a"."""
    return tuple(value for value in values if not names_nobody(value))


@lru_cache(maxsize=4096)
def names_nobody(value: str) -> bool:
    """Whether a COMPOSER value is a filler, a genre or an address on the net."""
    folded = fold(value).strip(" ()[]<>\"'")
    if folded in FILLERS or folded.strip(" .") in FILLERS or _ADDRESS.search(folded) is not None:
        return True
    words = _FIRST_WORD.findall(folded)
    if not words:
        return True
    if len(words) > 6 or not all(
        word in FILLING_WORDS or word.isdigit() or genre_side(word) for word in words
    ):
        return False
    return table().exact(value) is None


def _plays(name: str) -> bool:
    """Whether *name* says itself that who is named plays or conducts."""
    people = read_people(name)
    return bool(people) and all(p.instruments or _LEADS & set(p.roles) for p in people)


def _is_poet(name: str) -> bool:
    bare = fold(strip_dates(name))
    family, comma, given = bare.partition(",")
    turned = f"{given.strip()} {family.strip()}" if comma else bare
    return (bare in POETS or turned in POETS) and table().exact(name) is None


def _named(values: tuple[str, ...]) -> tuple[list[str], list[str], list[str]]:
    """Those who are named as composers, those said to be arrangers, those who wrote the words."""
    parts: list[str] = []
    arrangers: list[str] = []
    poets: list[str] = []
    for value in values:
        if "(" in value or "[" in value or table().near(value) is None:
            inner = _INNER_ARRANGED.search(value)
            if inner is not None and inner.start() > 2:
                arrangers.append(inner.group("who").strip())
                value = value[: inner.start()].strip(" ,;/([-")
        parts.extend(_names_of(value))
    named: list[str] = []
    for part in parts:
        arranged = _ARRANGED_BY.match(part) or _ARRANGED_BEHIND.match(part)
        words = _WORDS_BY.match(part) or _WORDS_BEHIND.match(part)
        if arranged is not None:
            arrangers.append(arranged.group("who").strip())
        elif words is not None:
            poets.append(words.group("who").strip())
        elif _is_poet(part):
            poets.append(part)
        elif not names_nobody(part):
            named.append(part)
    if len(values) == 1 and len(named) == 2 and re.search(r"\w(?:/|\s*[-–]\s*)[A-ZÀ-Þ]", values[0]):
        # "Bach/Busoni", "Schumann - Liszt": the second arranged the first.
        one, two = table().exact(named[0]), table().exact(named[1])
        if one is not None and two is not None and not {"&", "+", ","} & set(values[0]):
            arrangers.append(named.pop())
    return named, arrangers, poets


def _names_of(value: str) -> list[str]:
    """*value* cut into names; a comma stands between two names or within an inverted one."""
    if table().near(value) is not None:
        return [value]
    names: list[str] = []
    for piece in _COMPOSER_SPLIT.split(value):
        piece = piece.strip(" ,")
        if not piece:
            continue
        if "," not in piece or table().near(piece) is not None:
            names.append(piece)
            continue
        commas = [p.strip() for p in piece.split(",") if p.strip()]
        known = [
            p for p in commas if table().exact(p) is not None and (" " in p or len(commas) > 2)
        ]
        if any(map(_is_poet, commas)):
            known = known or [p for p in commas if table().exact(p) is not None]
        inverted = len(commas) == 2 and " " not in commas[0] and not known  # "Venn, Lara"
        whole = known or all(" " in p or "." in p for p in commas)
        if len(commas) > 1 and whole and not inverted:
            names.extend(commas)
        else:
            names.append(piece)
    return names


def _match(name: str) -> tuple[Match | None, list[str]]:
    """The composer called *name*, and the other half of a name like "Bach-Busoni": arrangers."""
    match = table().near(name)
    if match is None and "-" in name:
        halves = _HYPHEN.split(name)
        for half in halves:
            match = table().exact(half)
            if match is not None:
                return match, [other for other in halves if other != half]
    return match, []
