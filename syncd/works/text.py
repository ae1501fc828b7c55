"""Text as the works engine compares it: Unicode forms, folding, repair of misread bytes.

What is a name or a title is decided elsewhere; here a string is only made comparable. Repairs are
told to the caller, never made silently.
"""

import re
import unicodedata
from functools import lru_cache

LONGEST_VALUE = 2000
"""Characters of a tag value that are looked at; what follows is no title any more."""

_SPACES = re.compile(r"\s{2,}|[^\S ]")  # all that is not one plain space
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f\u200b-\u200f\u202a-\u202e\u2066-\u2069\ufeff]")
_UTF8_AS_LATIN1 = re.compile(
    "[\u00c2-\u00f4\u0192][\u0080-\u00bf\u0152\u0153\u0160\u0161\u0178\u017d\u017e\u02c6\u02dc"
    "\u2013-\u2022\u2026\u2030\u2039\u203a\u20ac\u2122\u00a0\u0192]"
)
_HIGH_LATIN1 = re.compile("[\u00c0-\u00ff]")

# Letters that NFKD leaves whole (Unicode data) and that taggers write as plain ASCII.
_WHOLE_LETTERS = str.maketrans(
    {
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "æ": "ae",
        "œ": "oe",
        "ß": "ss",
        "ı": "i",
        "’": "'",
        "‘": "'",
        "ʹ": "'",
        "ʼ": "'",
        "`": "'",
        "´": "'",
        "‐": "-",
        "‑": "-",
        "‒": "-",
        "–": "-",
        "—": "-",
        "♭": " flat",
        "♯": " sharp",
        "\u0361": None,
    }
)


def clean(value: str) -> str:
    """*value* in Unicode form NFC, controls removed, runs of white space made one space."""
    if len(value) > LONGEST_VALUE:
        value = value[:LONGEST_VALUE]
    if value.isascii() and value.isprintable():
        return " ".join(value.split()) if "  " in value else value.strip()
    value = value.encode("utf-8", "replace").decode("utf-8")
    value = _CONTROL.sub("", value.replace("\u00ad", ""))
    return _SPACES.sub(" ", unicodedata.normalize("NFC", value)).strip()


def fold(text: str) -> str:
    """*text* without case, accents and typographic variety, for comparison only.

    ``Dvořák``, ``DVORAK`` and the decomposed form fold to the same string. Umlauts written as two
    letters are another matter: :func:`fold_german`.
    """
    return text.lower() if text.isascii() else _fold(text)


@lru_cache(maxsize=65536)
def _fold(text: str) -> str:
    lowered = text.lower().translate(_WHOLE_LETTERS)
    decomposed = unicodedata.normalize("NFKD", lowered)
    bare = "".join(ch for ch in decomposed if not unicodedata.combining(ch))
    return bare.lower().translate(_WHOLE_LETTERS)


@lru_cache(maxsize=8192)
def fold_german(text: str) -> str:
    """Like :func:`fold`, with ä, ö, ü written out as ae, oe, ue (Händel and Haendel)."""
    lowered = unicodedata.normalize("NFC", text).lower()
    return fold(lowered.replace("ä", "ae").replace("ö", "oe").replace("ü", "ue"))


_LETTERS_ONLY = re.compile(r"[^\w]+")


def word_set(text: str) -> frozenset[str]:
    """The words of *text*, for lists of words that are written over several lines."""
    return frozenset(text.split())


@lru_cache(maxsize=65536)
def title_key(text: str) -> str:
    """A key under which spellings of one title fall together: words only, folded, no umlaut e."""
    folded = _LETTERS_ONLY.sub(" ", fold(text)).strip()
    return folded.replace("ae", "a").replace("oe", "o").replace("ue", "u")


@lru_cache(maxsize=8192)
def repair(text: str) -> tuple[str, str | None]:
    """*text* with the plain cases of misread bytes mended, and how it was mended (or None).

    Mended are UTF-8 read as Latin-1 or Windows-1252 (``DvoÅ™Ã¡k``), once or twice over, and
    Windows-1251 read as Latin-1 (``×àéêîâñêèé``). A text that could be right as it stands is left.
    """
    if text.isascii():
        return text, None
    how: str | None = None
    for _ in range(2):
        if not _UTF8_AS_LATIN1.search(text):
            break
        mended = _recode(text)
        if mended is None or mended == text:
            break
        text, how = mended, "UTF-8 that had been read as Latin-1"
    if how is None:
        cyrillic = _from_cyrillic(text)
        if cyrillic is not None:
            return cyrillic, "Windows-1251 that had been read as Latin-1"
    return text, how


def _from_cyrillic(text: str) -> str | None:
    """*text* with its words out of Windows-1251, if all but ASCII words can be such, or None.

    ``Êâàðòåò ¹ 2: III. Íîêòþðí``: numerals and names in Latin letters stay as they are.
    """
    high = _HIGH_LATIN1.findall(text)
    if len(high) < 4:
        return None
    letters = longest = 0
    for word in _LETTERS.findall(text):
        if word.isascii():
            continue
        if len(_HIGH_LATIN1.findall(word)) + word.count("¸") + word.count("¨") < len(word):
            return None  # "Études": French, with letters of its own
        letters += len(word)
        longest = max(longest, len(word))
    plain = sum(len(word) for word in _LETTERS.findall(text) if word.isascii() and _is_word(word))
    if longest < _NO_LATIN_WORD and letters < 0.8 * (letters + plain):
        return None
    try:
        cyrillic = text.encode("latin-1").decode("cp1251")
    except UnicodeError:
        return None
    known = sum("а" <= ch <= "я" or ch == "ё" for ch in cyrillic.lower())
    return cyrillic if known >= 0.9 * letters else None


_LETTERS = re.compile(r"[^\W\d_¹²³ªº]+")
_NO_LATIN_WORD = 5
"""Letters of a word that would all be accented, as no language writes them."""
_ROMAN = re.compile(r"[IVXLivxl]+$")


def _is_word(word: str) -> bool:
    """Whether an ASCII *word* is more than a numeral or a letter by itself ("op", "III")."""
    return len(word) > 2 and _ROMAN.match(word) is None


def _recode(text: str) -> str | None:
    raw = bytearray()
    for ch in text:
        point = ord(ch)
        if point < 256:
            raw.append(point)
            continue
        try:
            raw += ch.encode("cp1252")
        except UnicodeError:
            return None
    try:
        return raw.decode("utf-8")
    except UnicodeError:
        return None


def central_european(text: str) -> str | None:
    """*text* as it would read had Windows-1250 been taken for Latin-1, or None.

    ``Dvoøák`` becomes ``Dvořák``. Both readings are plausible letters, so the caller takes this one
    only when it makes a known name.
    """
    if text.isascii():
        return None
    try:
        other = text.encode("latin-1").decode("cp1250")
    except UnicodeError:
        return None
    return other if other != text else None


_SMALL_WORDS = frozenset(
    [
        "a",
        "ad",
        "al",
        "alla",
        "alle",
        "an",
        "and",
        "as",
        "at",
        "au",
        "aux",
        "ben",
        "by",
        "c",
        "col",
        "com",
        "con",
        "d",
        "d'",
        "da",
        "dans",
        "das",
        "de",
        "degli",
        "dei",
        "del",
        "della",
        "delle",
        "dem",
        "den",
        "der",
        "des",
        "di",
        "die",
        "do",
        "dos",
        "du",
        "e",
        "ed",
        "el",
        "en",
        "er",
        "et",
        "für",
        "for",
        "fur",
        "from",
        "ha",
        "i",
        "il",
        "im",
        "in",
        "is",
        "ist",
        "je",
        "la",
        "le",
        "les",
        "lo",
        "los",
        "mit",
        "ma",
        "mais",
        "meno",
        "mit",
        "mein",
        "no",
        "non",
        "na",
        "o",
        "of",
        "on",
        "or",
        "ou",
        "par",
        "per",
        "più",
        "piu",
        "poco",
        "po",
        "pour",
        "quasi",
        "sans",
        "senza",
        "si",
        "so",
        "su",
        "sul",
        "sur",
        "tanto",
        "the",
        "to",
        "troppo",
        "u",
        "un",
        "una",
        "und",
        "une",
        "v",
        "van",
        "von",
        "vom",
        "with",
        "y",
        "z",
        "zu",
        "zum",
        "zur",
        "ein",
        "eine",
        "nicht",
        "sehr",
        "assai",
        "molto",
    ]
)
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*")
_ROMAN_WORD = re.compile(r"^[IVXLC]+$")


def is_shouting(text: str) -> bool:
    """Whether *text* is upper case throughout (and long enough that it is no abbreviation)."""
    return text.isupper() and sum(ch.isalpha() for ch in text) >= 5


def unshout(text: str, sentence: bool = False) -> str:
    """*text* from upper case to title case, or to sentence case when *sentence* is set.

    Roman numerals and short abbreviations with digits beside them are kept.
    """
    if not is_shouting(text):
        return text
    first = True

    def one(match: re.Match[str]) -> str:
        nonlocal first
        word = match.group()
        start = first
        first = False
        if (
            _ROMAN_WORD.match(word)
            and (len(word) > 1 or word in "IVX")
            and word not in ("DI", "MI")
        ):
            return word
        lower = word.lower()
        if not start and (sentence or lower in _SMALL_WORDS):
            return lower
        if "'" in lower or "’" in lower:
            head, mark, tail = re.split(r"(['’])", lower, maxsplit=1)
            if len(head) <= 2:
                return head + mark + tail.capitalize()
        return lower.capitalize()

    if not sentence:
        return _WORD.sub(one, text)
    parts = re.split(r"([.:–—]\s+|\s-\s)", text)
    out = []
    for part in parts:
        first = True
        out.append(_WORD.sub(one, part))
    return "".join(out)


def slashed(path: str) -> str:
    """*path* with its components separated by slashes, as they are anywhere but on Windows.

    Where there is a slash, a backslash is part of a name.
    """
    return path if "/" in path else path.replace("\\", "/")
