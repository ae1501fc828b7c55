"""Of which work an album has only parts, as its title says: "Verdi: La traviata - Highlights"."""

import re
from functools import lru_cache

from syncd.works.composers import table
from syncd.works.known_works import known_works
from syncd.works.separators import split_title
from syncd.works.text import title_key

_PARTS = (
    r"(?:(?:gro(?:ß|ss)er?|grands?|large|larges|kurzer|the|opera|favourite|famous|celebri|scelti|les)\s+)?"
    r"(?:highlights?|h(?:ö|oe)hepunkte|ausz(?:ü|ue)ge|ausschnitte|(?:opern)?querschnitt|szenen|szene|arien|chöre|"
    r"extraits|scènes|airs|airs célèbres|morceaux choisis|excerpts?|selections?|scenes|arias|choruses|"  # noqa: E501
    r"selezione|brani|pagine scelte|arie|scene|estratti|momenti|fragmentos|selecci(?:ó|o)n|escenas|arias|"  # noqa: E501
    r"romanzas|extractos|destaques|trechos|hoogtepunten|fragmenten|aria's|h(?:ø|o)ydepunkter|"
    r"h(?:ø|o)jdepunkter|h(?:ö|o)jdpunkter|utdrag|uddrag|kohokohtia|otteita|pr(?:ů|u)řez|v(?:ý|y)b(?:ě|e)r|"
    r"uk(?:á|a)zky|arie|sc(?:é|e)ny|przekrój|fragmenty|sceny|keresztmetszet|r(?:é|e)szletek|избранное|"
    r"фрагменты|сцены|отрывки|арии|ハイライト|抜粋|选段|选曲|精选)"
)
# One of them is in whatever the expressions below find; most titles have none.
_SIGNS_OF_EXCERPTS = (
    "highl", "hep", "dep", "jdp", "ausz", "ausschn", "querschn", "szen", "arie", "chör", "extra",
    "scè", "airs", "morceaux", "excerpt", "sele", "scen", "aria", "chorus", "brani", "pagine",
    "estratti", "moment", "fragment", "escena", "romanza", "destaque", "trecho", "hoogtep",
    "utdrag", "uddrag", "kohok", "otteita", "růř", "rurez", "ruřez", "růrez", "výb", "vyb", "uk",
    "scé", "przekr", "keresztm", "szlet", "избран", "фрагм", "сцен", "отрыв", "арии", "ハイライト",
    "抜粋", "选", "精选", "選",
)  # fmt: skip
_PARTS_LIST = rf"{_PARTS}(?:\s*(?:,|&|\+|und|and|et|e|y|en|och|og|i|a|и)\s*{_PARTS}){{0,2}}"
_EXCERPTS_BEHIND = re.compile(
    rf"^(?P<whole>.{{3,}}?)\s*(?:[-–—:,;/|]\s*|\s[(\[]|\s)\s*{_PARTS_LIST}\s*[)\]]?$", re.IGNORECASE
)
_EXCERPTS_BEFORE = re.compile(
    rf"^(?P<head>[^:]{{3,40}}:\s*)?{_PARTS_LIST}\s+(?:(?:from|aus|de|da|dal|dalla|dall|dai|du|des|durch|z|ze|iz|из|"
    r"fra|från|uit|til|till)\s+|(?:d|dall|de l)['’]\s*)(?:the opera\s+|der oper\s+|l['’]op(?:é|e)ra\s+)?"  # noqa: E501
    r"[\"“„«]?(?P<whole>.{3,}?)[\"”“»]?$",
    re.IGNORECASE,
)


@lru_cache(maxsize=4096)
def whole_of_excerpts(text: str) -> str | None:
    """The opera (or other known work) whose highlights an album's title says that it has, or None.

    "Verdi: La traviata - Highlights", "Szenen aus Carmen": the composer stays before the work.
    """
    small = text.lower()
    if not any(sign in small for sign in _SIGNS_OF_EXCERPTS):
        return None
    found = _EXCERPTS_BEFORE.match(text)
    head = ""
    if found is not None:
        head = found.group("head") or ""
    else:
        found = _EXCERPTS_BEHIND.match(text)
    if found is None:
        return None
    whole = found.group("whole").strip(' "“”„«»')
    pieces = split_title(whole)
    last = (pieces[-1][0] if pieces else whole).strip(' "“”„«»')
    leading = table().leading(last)
    names = [last]
    if title_key(last) not in known_works().by_title and leading is not None and len(pieces) < 2:
        whole = f"{leading[0].entry.name}: {behind_name(last, leading[1])}"
    if leading is not None:
        names.append(behind_name(last, leading[1]))
    if not any(title_key(name) in known_works().by_title for name in names if name):
        return None
    return f"{head}{whole}"


def behind_name(text: str, length: int) -> str:
    """*text* behind a composer's name of *length* letters, a possessive or not."""
    rest = text[length:].strip(" ,:-–—")
    return rest.removeprefix("'s ").removeprefix("’s ").strip()
