"""Display order: how labels compare, and under which letter they stand. Pure.

The order is that of the Unicode Collation Algorithm (UTS 10) with its default table, by the library
pyuca, and three things on top that a reader of lists expects: punctuation separates words and
counts for nothing else, runs of digits compare as numbers, so that Symphony No. 2 stands before
No. 10 and Op. 9 before Op. 27, and names supplied in square brackets come first. Accents count only
between names of the same letters, case after that. What begins with no letter comes first, under
``#``.

The library takes some 1.5 microseconds a character, so keys are made and remembered word by word.
``fold`` is for search: the letters that a wheel can offer.
"""

import re
import unicodedata
from bisect import bisect_right
from functools import cache, lru_cache

from pyuca.collator import Collator_9_0_0

from syncd.catalogue.collator import all_letters, collator

NO_LETTER = "#"
IDEOGRAPHS = "漢"
"""The letter of all Chinese characters, which the default table orders by code point."""

DisplayKey = tuple[str, str, str, str]
"""What to sort by: letters and numbers, accents, case, and the text itself."""

_LATIN = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_FIRST_IMPLICIT = 0xFB40  # UTS 10, 10.1.3: weights of characters that the table does not list
_WORD_END = "\x01"
_NUMBER = "\x02"
_LONGEST_KEY_CHARS = 400
_SIGNS = str.maketrans({"♭": " flat ", "♯": " sharp ", "_": " "})
_MARKS = "\u0300-\u036f\u0591-\u05c7\u064b-\u065f\u0900-\u0903\u093a-\u094f\u0e31-\u0e4e"
_WORDS = re.compile(rf"\d+|[^\W\d](?:[^\W\d]|[{_MARKS}])*")
_UNDECOMPOSED = str.maketrans(
    {
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "æ": "ae",
        "œ": "oe",
        "ı": "i",
        "ŋ": "n",
        "ħ": "h",
        "ŧ": "t",
        "♭": " flat",
        "♯": " sharp",
    }
)


@lru_cache(maxsize=65536)
def fold(text: str) -> str:
    """*text* without case, accents, punctuation and superfluous spaces: what search goes by."""
    if text.isascii():
        lowered = text.lower()
    else:
        decomposed = unicodedata.normalize("NFKD", text).casefold()
        lowered = "".join(
            letter
            for letter in unicodedata.normalize("NFKD", decomposed)
            if not unicodedata.combining(letter)
        ).translate(_UNDECOMPOSED)
    return " ".join("".join(c if c.isalnum() else " " for c in lowered).split())


@cache
def _collator() -> Collator_9_0_0:
    return collator()


@lru_cache(maxsize=262144)
def _word_key(word: str) -> tuple[str, str, str]:
    """Primary, secondary and tertiary weights of *word*, each as a string that compares."""
    if word[0].isdecimal():
        digits = str(int(word))
        # The length in front makes a longer number the greater one; zeros in front do not count.
        return f"{_NUMBER}{chr(0x30 + len(digits))}{digits}", "", ""
    elements = _collator().collation_elements(unicodedata.normalize("NFD", word))
    first, second, third = (
        "".join([chr(element[level]) for element in elements if element[level]])
        for level in range(3)
    )
    return first, second, third


@lru_cache(maxsize=65536)
def display_key(text: str) -> DisplayKey:
    """What to sort labels by. Only the first 400 characters count, but for the text itself."""
    begin = unicodedata.normalize("NFC", text[:_LONGEST_KEY_CHARS].translate(_SIGNS))
    keys = [_word_key(word) for word in _WORDS.findall(begin)]
    primary = _WORD_END.join([key[0] for key in keys if key[0]])
    if primary and text.startswith("["):
        primary = _WORD_END + primary  # "[Composer unknown]" is nobody's name
    return (
        primary,
        _WORD_END.join([key[1] for key in keys]),
        _WORD_END.join([key[2] for key in keys]),
        text,
    )


@cache
def _latin_weights() -> tuple[list[int], int]:
    """The primary weights of A to Z, and the first one behind all Latin letters."""
    weights = [ord(_word_key(letter)[0]) for letter in _LATIN]
    return weights, ord(_word_key("α")[0])


@cache
def _letters_by_weight() -> dict[int, str]:
    """The first letter of each primary weight, for scripts other than Latin."""
    found: dict[int, str] = {}
    for code, node in sorted(all_letters(_collator()).items()):
        elements = node.value
        if elements and elements[0][0] and chr(code).isalpha():
            found.setdefault(elements[0][0], chr(code).upper()[0])
    return found


def letter(text: str) -> str:
    """The capital that *text* stands under in a list of jumps, or ``#`` if it begins with none.

    Follows from the first primary weight alone, so the names under one letter stand together.
    Latin letters beyond A to Z stand under the one before them; ideographs under one sign.
    """
    primary = display_key(text)[0]
    if not primary or primary[0] <= _NUMBER:
        return NO_LETTER
    return _letter_of_weight(ord(primary[0]))


@lru_cache(maxsize=4096)
def _letter_of_weight(weight: int) -> str:
    latin, behind = _latin_weights()
    if weight < latin[0]:
        return NO_LETTER
    if weight < behind:
        return _LATIN[bisect_right(latin, weight) - 1]
    if weight >= _FIRST_IMPLICIT:
        return IDEOGRAPHS
    return _letters_by_weight().get(weight, IDEOGRAPHS)
