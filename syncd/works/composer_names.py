"""How composers' names are written: words and initials, particles, years of life, unknown names.

Who is meant by a name is told by ``composers.py``.
"""

import re
from functools import lru_cache

from rapidfuzz.distance import OSA

from syncd.model import Composer
from syncd.works.text import fold, word_set

PARTICLES = word_set(
    """
    van von de da di del della la le du des der den ten ter vom zu zum af dos do d y e of the
    """
)
"""Small words within names, which taggers leave out or put elsewhere."""

SUFFIXES = frozenset({"jr", "sr", "ii", "iii", "i", "elder", "younger", "fils", "pere"})
"""Words that tell father and son."""

_NAME_PART = re.compile(r"[^\W_]+")
_PAREN = re.compile(r"\s*[(\[][^()\[\]]*[)\]]\s*")
_DATES = re.compile(
    r"\s*[,(\[]?\s*(?:b\.|born|\*|geb\.|ca?\.|né en)?\s*(?:1[0-9]|20)\d\d\s*[-–—/]?\s*"
    r"(?:(?:1[0-9]|20)?\d\d)?\s*[)\]]?\s*$"
)
_LABELS = re.compile(
    r"^(?:composer|composed by|comp\.|music by|music|komponist|compositeur|musique de|musik von|"
    r"musik|by|von|attributed to|attrib\.|anonymous \(attrib\.)\s*:?\s+",
    re.IGNORECASE,
)


@lru_cache(maxsize=16384)
def name_key(text: str) -> str:
    """A folded name: words only, single spaces, initials apart (``J.S. Bach`` → ``j s bach``)."""
    return " ".join(_NAME_PART.findall(fold(text)))


@lru_cache(maxsize=16384)
def strip_dates(text: str) -> str:
    """*text* without years of life and remarks in brackets."""
    bare = _PAREN.sub(" ", text).strip() if "(" in text or "[" in text else text
    if "1" in bare or "2" in bare:  # as every year has
        bare = _DATES.sub("", bare).strip()
    elif bare != bare.strip() and any(map(str.isdigit, bare)):
        bare = bare.strip()
    if not bare:
        return text
    label = _LABELS.match(bare)
    return (bare if label is None else bare[label.end() :]).strip(" ,;:")


_SHORTEST_NEAR = 6


def spelled_nearly(one: str, other: str) -> bool:
    """Whether folded names differ by a slip of typing: one letter, two from ten letters on."""
    length = min(len(one), len(other))
    if length < _SHORTEST_NEAR or one[0] != other[0]:
        return one == other
    slips = 2 if length >= 10 else 1
    return OSA.distance(one, other, score_cutoff=slips) <= slips


def given_names(sort: str) -> list[str]:
    """The given names in a sort form, without "II" and "Jr."."""
    words = name_key(sort.partition(",")[2]).split()
    return [word for word in words if word not in SUFFIXES]


def initials_of(sort: str) -> str:
    """The first letters of the given names in a sort form."""
    return "".join(word[0] for word in given_names(sort))


def compatible(wanted: list[str], have: tuple[str, ...]) -> bool:
    """Whether given names or initials *wanted* can stand for the given names *have*."""
    if not have:
        return False
    # "js" for Johann Sebastian.
    if len(wanted) == 1 and 2 <= len(wanted[0]) <= 4 and len(have) == len(wanted[0]):  # noqa: SIM102
        if all(name.startswith(ch) for ch, name in zip(wanted[0], have, strict=True)):
            return True
    position = 0
    for number, word in enumerate(wanted):
        matched = False
        while position < len(have):
            name = have[position]
            position += 1
            if name == word or (len(word) <= 4 and name.startswith(word)):
                matched = True
                break
            if number == 0 and len(wanted) > 1:
                return False
        if not matched:
            return False
    return True


@lru_cache(maxsize=4096)
def unknown_composer(text: str) -> Composer:
    """A composer who is not in the table, from the name as the tag has it (either order)."""
    bare = strip_dates(text)
    if "," in bare:
        family, _, given = bare.partition(",")
        return Composer(
            f"{given.strip()} {family.strip()}".strip(), f"{family.strip()}, {given.strip()}"
        )
    words = bare.split()
    if len(words) < 2:
        return Composer(bare, bare)
    folded = fold(bare)
    if folded.startswith(("anonymous", "anon", "trad", "anonyme", "anonimo")):
        return Composer(bare, bare)
    cut = len(words) - 1
    if fold(words[-1]).strip(".") in SUFFIXES and len(words) > 2:
        cut -= 1
    if cut > 1 and fold(words[cut - 1]) in ("st", "saint"):
        cut -= 1
    family, given = " ".join(words[cut:]), " ".join(words[:cut])
    return Composer(bare, f"{family}, {given}")
