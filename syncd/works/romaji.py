"""Japanese titles in Latin letters put into the words that the grammar reads.

``Koukyoukyoku Dai 5-ban Ha-tanchou Op.67`` becomes ``Symphony No. 5 in C minor Op.67``. Long vowels
are written in many ways (ō, ou, oo, o) or not at all, so all of them are read alike. Keys are named
by the first sounds of the iroha poem: ha, ni, ho, he, to, i, ro for C to B, with hen for flat and
ei for sharp. Terms: any bilingual dictionary of music; from memory. Japanese script is read in
``cjk.py``.
"""

import re

from syncd.works.text import fold
from syncd.works.words.tables import dictionary

_TERMS = dictionary(
    """
Symphony: kokyokyoku
Concerto: kyosokyoku
Sonata: sonata sonachine
Trio: sanjusokyoku sanjuso
Quartet: shijusokyoku yonjusokyoku shijuso yonjuso
Quintet: gojusokyoku gojuso
Sextet: rokujusokyoku rokujuso
Octet: hachijusokyoku hachijuso
Suite: kumikyoku
Prelude: zensokyoku
Nocturne: yasokyoku
Étude: renshukyoku
Impromptu: sokkyokyoku
Variations: hensokyoku
Overture: jokyoku
Mass: misakyoku misa
Requiem: chinkonkyoku rekuiemu
Rhapsody: kyoshikyoku rapusodi
Fantasia: gensokyoku
Waltz: enbukyoku embukyoku warutsu
March: koshinkyoku
Serenade: sayokyoku serenado
Divertimento: kiyukyoku
Symphonic Poem: kokyoshi
Ballade: barado
Scherzo: sukerutso
Fugue: fuga
Polonaise: poronezu
Mazurka: mazuruka
Violin: vaiorin baiorin
Viola: viora biora
Cello: chero
Piano: piano
Flute: furuto
Clarinet: kurarinetto
Horn: horun
Trumpet: toranpetto torampetto
Harp: hapu
Guitar: gita
Organ: orugan
Harpsichord: chenbaro chembaro
String: gengaku
Orchestral: kangengaku
"""
)

_TONICS = {"ha": "C", "ni": "D", "ho": "E", "he": "F", "to": "G", "i": "A", "ro": "B"}
_ONES = ("ichi", "ni", "san", "yon", "go", "roku", "nana", "hachi", "kyu", "ju")
_NUMERALS = {word: number for number, word in enumerate(_ONES, start=1)} | {
    "shi": 4, "shichi": 7, "ku": 9,
}  # fmt: skip
_N = rf"(?:\d{{1,3}}|{'|'.join(sorted(_NUMERALS, key=len, reverse=True))})"
_KEY = r"\b(?:(?P<sign>hen|ei)[\s-]*)?(?P<tonic>ha|ni|ho|he|to|i|ro)[\s-]*(?P<mode>cho[\s-]*cho|tan[\s-]*cho)\b"  # noqa: E501
_NUMBER = rf"\bdai[\s-]*(?P<n>{_N})[\s-]*ban\b"
_MOVEMENT = rf"\s*\bdai[\s-]*(?P<n>{_N})[\s-]*gakusho\b\s*[.:,-]?\s*"
_OPUS = r"\bsakuhin\s*(?P<n>\d{1,3})(?:\s*(?:-|no)\s*(?P<sub>\d{1,2}))?\b"


def _however_long(pattern: str) -> re.Pattern[str]:
    """*pattern* with its vowels written long in any way."""
    names = re.split(r"(\(\?P<\w+>|\\.)", pattern)
    spelled = (
        part if number % 2 else part.replace("o", "(?:ou|oo|ō|ô|o)")
        for number, part in enumerate(names)
    )
    return re.compile("".join(spelled), re.IGNORECASE)


_KEYS, _NUMBERS, _MOVEMENTS, _OPERA = map(_however_long, (_KEY, _NUMBER, _MOVEMENT, _OPUS))
_WORD = re.compile(r"[^\W\d_]+")


def from_romaji(text: str) -> str:
    """*text* with the musical terms of romanised Japanese in English; other text unchanged."""
    small = text.lower()
    if not (
        "kyoku" in small
        or "tanch" in small
        or "choch" in small
        or "chouch" in small
        or "chōch" in small
        or "-ban" in small
        or "gakush" in small
        or "juso" in small
        or "juuso" in small
        or "jūsō" in small
    ):
        return text  # one of them is in whatever is read here
    given = text
    text = _MOVEMENTS.sub(lambda m: f": {_value(m['n'])}. ", text)
    text = _KEYS.sub(_key, text)
    text = _NUMBERS.sub(lambda m: f"No. {_value(m['n'])}", text)
    if text == given and not any(_short(word) in _FORMS for word in _WORD.findall(text)):
        return text
    text = _OPERA.sub(_opus, text)
    text = _WORD.sub(lambda m: _TERMS.get(_short(m.group()), m.group()), text)
    return re.sub(r"(:\s*\d+\.)\s*:\s*", r"\1 ", re.sub(r"\s+", " ", text)).strip()


def _short(word: str) -> str:
    """A romanised *word* folded, with its vowels short."""
    small = fold(word)
    return small.replace("ou", "o").replace("oo", "o").replace("uu", "u")


_FORMS = frozenset(word for word in _TERMS if word.endswith("kyoku"))


def _value(numeral: str) -> int:
    return int(numeral) if numeral.isdigit() else _NUMERALS[_short(numeral)]


def _key(match: re.Match[str]) -> str:
    signs = {"hen": "-flat", "ei": "-sharp"}
    sign = signs.get((match["sign"] or "").lower(), "")
    mode = "minor" if match["mode"].lower().startswith("tan") else "major"
    return f"in {_TONICS[_short(match['tonic'])]}{sign} {mode}"


def _opus(match: re.Match[str]) -> str:
    return f"Op. {match['n']}" + (f" No. {match['sub']}" if match["sub"] else "")
