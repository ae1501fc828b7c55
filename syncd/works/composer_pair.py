"""A composer and his arranger named together before, behind or beside a title.

"Schumann/Liszt: Widmung", "Bach-Busoni: Chaconne", "Schubert arr. Liszt - Ständchen". By custom the
first composed and the second arranged. Also names before "Variations", which are of him whose theme
is varied. What a title is apart from that is left to ``title.py``.
"""

import re
from dataclasses import replace
from functools import lru_cache

from syncd.works.composers import Match, table
from syncd.works.ensembles import kind_of
from syncd.works.known_works import by_title
from syncd.works.text import fold, word_set
from syncd.works.words.albums import COLLECTIVE
from syncd.works.words.compounds import compound
from syncd.works.words.forms import FORMS
from syncd.works.words.instruments import INSTRUMENTS

_ARRANGED = re.compile(
    r"\s*[(\[,]?\s*\b(?:arr|transcr|orch|bearb|trans|instr)(?:\.|[a-zé]*\.?)\s*(?:by|von|par|di|:)?\s+"
    r"(?P<who>[^()\[\]:;]{3,40})[)\]]?$",
    re.IGNORECASE,
)
_MARK = re.compile(r"[-/→–]|[Aa]rr|[Oo]rch|[Tt]rans|[Bb]earb|[Ii]nstr|ARR")  # found quickly
_SIGN = re.compile(r"[/→]|\w[-–]\w| [-–] |[Aa]rr|[Oo]rch|[Tt]rans|[Bb]earb|[Ii]nstr|ARR")
_BOTH = re.compile(r"\s*/\s*|(?<=\w)[-–](?=\w)|\s+[-–]\s+|(?<=\w)\.?\s*→\s*")
_BEFORE_VARIATIONS = re.compile(
    r"^\s*[-]?\s*(?:variations?|variationen|variaciones|variazioni|rhapsod\w+|fantas\w+|etudes?|études?|paraphrase|"
    r"reminiscences|metamorphos\w+|вариации)\b(?!.*\b(?:on|über|uber|sur|su|sobre|sopra|на)\b)",
    re.IGNORECASE,
)


@lru_cache(maxsize=4096)
def read_pair(text: str) -> tuple[Match, str] | None:
    """The composer and the arranger if *text* is nothing but their names, or None."""
    if len(text) > 70 or _MARK.search(text) is None or _SIGN.search(text) is None:
        return None
    arranged = _ARRANGED.search(text)
    if arranged is not None and arranged.start() > 2:
        match = table().exact(text[: arranged.start()])
        return None if match is None else (match, arranged.group("who").strip())
    for mark in _BOTH.finditer(text):
        one, two = text[: mark.start()].strip(), text[mark.end() :].strip()
        first, second = table().exact(one), table().exact(two)
        if first is None or second is None or "possessive" in (first.how, second.how):
            continue
        if first.entry is not second.entry:
            return first, two
    return None


_LOOSE = re.compile(r"(?P<one>[^\W\d_]{3,})[-–/](?P<two>[^\W\d_a-zß-ÿ][^\W\d_]{2,})$")

_NO_PERSONS = word_set("edition gesamtausgabe zyklus cycle jahr year festival projekt project")
_NO_NAMES = ("ausgabe", "werke", "walzer", "lieder", "zyklus", "abend", "fest", "gesellschaft")


@lru_cache(maxsize=4096)
def read_loose_pair(text: str) -> tuple[Match, str] | None:
    """The composer and an arranger whom the table does not have: "Gershwin-Wild".

    Only before a title, and only where the first is famous and the second no other word.
    """
    found = _LOOSE.fullmatch(text.strip())
    if found is None:
        return None
    match, second = table().exact(found["one"]), fold(found["two"])
    if match is None or match.how != "family name" or not match.entry.famous:
        return None
    if table().exact(text) is not None or len(table().family(text)) > 0:
        return None
    words = (FORMS, INSTRUMENTS, COLLECTIVE, _NO_PERSONS)
    if any(second in known for known in words) or compound(second) is not None:
        return None
    if kind_of(text) != "person" or second.endswith(_NO_NAMES):
        return None
    return replace(match, confidence=0.75), found["two"]


def is_theme_of(name: str, rest: str) -> bool:
    """Whether *name* before *rest* may be of him whose theme is varied: "Diabelli Variations"."""
    varied = _BEFORE_VARIATIONS.match(rest)
    if varied is None:
        return False
    if rest.lstrip().lower().startswith(("etude", "étude", "fantas", "rhapsod")):
        # A Chopin étude is Chopin's; "Paganini Rhapsody" is so called by custom.
        known = by_title(None, f"{name}{rest[: varied.end()]}")
        return known is not None or fold(name).startswith(("paganini", "tallis", "corelli"))
    return True
