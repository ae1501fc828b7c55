"""What a performer is said to do: the words for roles and instruments beside a name.

A label (``piano & direction``, ``1st violin``) is read only if nothing else stands in it: whether a
text is a label or a name is decided here, whose label it is in ``people.py``.
"""

import re
from functools import lru_cache

from syncd.works import vocabulary as words_of
from syncd.works.text import fold, word_set

_BEFORE_INSTRUMENTS = word_set(
    """
    solo on am au al 1st 2nd first second 1. 2. lead principal baroque historical modern concert
    grand classical natural alto bass tenor soprano
    """
)


@lru_cache(maxsize=8192)
def role_or_instrument(text: str) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """(roles, instruments) if *text* says nothing else (``piano & direction``), or None."""
    folded = fold(text).strip(" .:")
    if not folded:
        return None
    roles: list[str] = []
    instruments: list[str] = []
    whole = _single(folded)
    if whole is None:
        parts = [
            p
            for p in re.split(r"\s*(?:&|,|/|;|\+|\band\b|\bund\b|\bet\b|\be\b|\by\b)\s*", folded)
            if p
        ]
        for part in parts:
            one = _single(part.strip(" ."))
            if one is None:
                return None
            (roles if one[0] == "role" else instruments).append(one[1])
    else:
        (roles if whole[0] == "role" else instruments).append(whole[1])
    return tuple(roles), tuple(instruments)


def _single(folded: str) -> tuple[str, str] | None:
    """("role", which) or ("instrument", which) if *folded* is a single one of them."""
    if folded in words_of.ROLE_WORDS:
        return "role", words_of.ROLE_WORDS[folded]
    if folded in words_of.INSTRUMENTS:
        return "instrument", words_of.INSTRUMENTS[folded]
    before, space, instrument = folded.partition(" ")
    if space and before in _BEFORE_INSTRUMENTS and instrument in words_of.INSTRUMENTS:
        return "instrument", words_of.INSTRUMENTS[instrument]
    if folded in ("soloist", "solist", "soliste", "solista"):
        return "role", "soloist"
    if folded in words_of.FOR_WORDS or folded in ("vocal", "vocals"):
        return "instrument", "voice"
    return None
