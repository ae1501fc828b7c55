"""Abbreviated names of works spelled out: "BRAHMS SYM 4", "Pno Cto 21", "Str. Qt. No. 12", "PC2".

Only where the letters cannot be a word of their own: between an instrument and a form, or before a
number, a key, an opus. What the spelled-out text means is read elsewhere.
"""

import re
from functools import lru_cache

from syncd.works.words.tables import dictionary

_FORMS = dictionary(
    """
Symphony: sym symph symf sinf sinfon symp symphon sinph симф
Symphonies: syms symphs
Concerto: cto conc concto cnto ctos konz kon. konc конц
Sonata: son sta snta snt сон
Quartet: qt qrt qrtt quart qtet qtt qtette kvart
Quintet: qnt quint qntt qnt
Trio: tr
Suite: ste
Overture: ov ovt ouv overt ovtr
Variations: vars varns
Fantasia: fant phant
Prelude: prel
"""
)
_INSTRUMENTS = dictionary(
    """
Piano: pno pf pfte pn pfte klav фп pno
Violin: vln vn vl viol vio скр
Viola: vla va
Cello: vc vlc vcl vcllo влч
Flute: fl flt
Clarinet: cl clar clt klar
Oboe: ob
Bassoon: bn bsn fag fg
Horn: hn hrn
Trumpet: tpt trp trpt
Trombone: tbn trb
Harp: hp hrp
Guitar: gtr guit git
Organ: org
String: str strg
Orchestral: orch
Harpsichord: hpd hpschd cemb
"""
)
_INITIALS = {
    "pc": "Piano Concerto", "vc": "Violin Concerto", "cc": "Cello Concerto", "sq": "String Quartet",
    "ps": "Piano Sonata", "pt": "Piano Trio", "vs": "Violin Sonata", "cs": "Cello Sonata",
}  # fmt: skip
_LONG_INSTRUMENTS = [
    "piano",
    "violin",
    "viola",
    "cello",
    "flute",
    "clarinet",
    "oboe",
    "bassoon",
    "horn",
    "trumpet",
    "trombone",
    "harp",
    "guitar",
    "organ",
    "string",
    "strings",
    "orchestral",
    "harpsichord",
    "brandenburg",
    "double",
    "triple",
    "church",
    "chamber",
    "klavier",
    "violine",
    "violoncello",
    "pianoforte",
]
_LONG_FORMS = [
    "symphony",
    "concerto",
    "concertos",
    "sonata",
    "sonatas",
    "quartet",
    "quartets",
    "quintet",
    "quintets",
    "trio",
    "trios",
    "suite",
    "suites",
    "sextet",
    "octet",
    "pieces",
    "partita",
    "partitas",
]


def _any(words: object) -> str:
    return "|".join(sorted(map(re.escape, map(str, words)), key=len, reverse=True))  # type: ignore[call-overload]


_NUMBERED = (
    r"(?=\s*(?:(?:no|nos|nr|n|num|№)\b\.?\s*[°º]?\s*\d|\#?\s*\d|op\b|[a-h]\s*(?:-\s*)?(?:flat|sharp|maj|min|dur|moll)\b"
    r"|in\s+[a-h]\b|k\.?\s?v?\.?\s?\d|bwv|hob|d\.?\s?\d|rv|woo))"
)
_ABBREVIATED = re.compile(
    rf"\b(?:(?P<short>{_any(_INSTRUMENTS)})(?:\.\s*|\s+)(?P<both>{_any(_FORMS)})(?:\.|\b)"
    rf"|(?P<short2>{_any(_INSTRUMENTS)})(?:\.\s*|\s+)(?P<long>{_any(_LONG_FORMS)})\b"
    rf"|(?P<long2>{_any(_LONG_INSTRUMENTS)})\s+(?P<form>{_any(_FORMS)})(?:\.|\b)"
    rf"|(?P<alone>{_any(_FORMS)})(?:\.|\b){_NUMBERED}"
    rf"|(?P<initials>{_any(_INITIALS)})\s?(?:\#|no\.?\s?)?(?=\d{{1,2}}\b)"
    rf"|(?<=\s)(?-i:(?P<last>PC|VC|CC|SQ))$"
    rf"|(?P<overture>ov|ovt|ouv|overt)(?:\.|\b)(?=\s*(?:$|[,;:(/-])))",
    re.IGNORECASE,
)
_TO_SPACES = str.maketrans(dict.fromkeys(map(ord, "0123456789.,:;/()[]#&-–_\"'"), " "))
_SHORT = frozenset((*_FORMS, *_INSTRUMENTS, *_INITIALS))


@lru_cache(maxsize=32768)
def spelled_out(text: str) -> str:
    """*text* with abbreviated forms and instruments of works spelled out."""
    if _SHORT.isdisjoint(text.lower().translate(_TO_SPACES).split()):
        return text
    return _ABBREVIATED.sub(_spell, text)


def _spell(match: re.Match[str]) -> str:
    said = {name: value for name, value in match.groupdict().items() if value}
    if "initials" in said:
        return _INITIALS[said["initials"].lower()] + " "
    if "last" in said:
        return _INITIALS[said["last"].lower()]
    if "overture" in said:
        return "Overture"
    words: list[str] = []
    for name in ("short", "short2", "long2", "both", "long", "form", "alone"):
        value = said.get(name)
        if value is None:
            continue
        short = value.lower()
        table = _INSTRUMENTS if name in ("short", "short2") else _FORMS
        words.append(value if name in ("long", "long2") else table[short])
    return " ".join(words)
