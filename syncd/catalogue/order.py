"""Display order: how labels are folded, compared and put under letters. Pure.

The order is that of a reader's eye: accents and case count only between names that are otherwise
equal, punctuation does not count, and runs of digits compare as numbers, so that Symphony No. 2
stands before No. 10 and Op. 9 before Op. 27. Latin letters come before other scripts, names that
begin with no letter come first, under ``#``.

This folds by Unicode decomposition and a short table of letters that do not decompose. A later
issue puts a Unicode collation library in its place (order of accents among themselves, scripts);
what calls it stays: ``display_key`` is what to sort by, ``letter`` what to jump by.
"""

import re
import unicodedata
from functools import lru_cache

NO_LETTER = "#"

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
_DIGITS = re.compile(r"[0-9]+")
_LONGEST_KEY_CHARS = 400


@lru_cache(maxsize=65536)
def fold(text: str) -> str:
    """*text* without case, accents, punctuation and superfluous spaces."""
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


def _padded(match: re.Match[str]) -> str:
    # The length in front makes a longer number the greater one; zeros in front do not count.
    digits = match.group().lstrip("0") or "0"
    return f"0{chr(0x30 + min(len(digits), 0x7FF))}{digits}"


@lru_cache(maxsize=65536)
def sort_key(text: str) -> str:
    """A string that compares as *text* stands in display order, by its letters alone.

    Texts that differ in accents and case alone have equal keys (see ``display_key``). Only the
    first 400 characters count, so that a name of absurd length costs little.
    """
    key = _DIGITS.sub(_padded, fold(text[:_LONGEST_KEY_CHARS]))
    if not key:
        return ""
    supplied = text.startswith("[")  # "[Composer unknown]" is nobody's name
    return ("1" if key[0].isalpha() and not supplied else "0") + key


def display_key(text: str) -> tuple[str, str, str, str]:
    """What to sort labels by: letters and numbers, then accents, then case, then the text itself.

    Small letters come before capitals, as in the Unicode Collation Algorithm's default table.
    """
    return sort_key(text), text.casefold(), text.swapcase(), text


@lru_cache(maxsize=65536)
def letter(text: str) -> str:
    """The capital that *text* stands under in a list of jumps, or ``#`` if it begins with none.

    Follows from the sort key alone, so the names under one letter stand together.
    """
    key = sort_key(text)
    if not key.startswith("1"):
        return NO_LETTER
    return key[1].upper()[0]
