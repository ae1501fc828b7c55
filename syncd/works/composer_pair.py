"""A composer and his arranger named together before, behind or beside a title.

"Schumann/Liszt: Widmung", "Bach-Busoni: Chaconne", "Schubert arr. Liszt - Ständchen". By custom the
first composed and the second arranged. Also names before "Variations", which are of him whose theme
is varied. What a title is apart from that is left to ``title.py``.
"""

import re
from functools import lru_cache

from syncd.works.composers import Match, table
from syncd.works.known_works import by_title
from syncd.works.text import fold

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
