"""What a performer is said to do: the words for roles and instruments beside a name.

A label (``piano & direction``, ``1st violin``) is read only if nothing else stands in it: whether a
text is a label or a name is decided here, whose label it is in ``people.py``.
"""

import re
from functools import lru_cache

from syncd.works.text import fold, word_set
from syncd.works.words.instruments import INSTRUMENTS
from syncd.works.words.performers import PLAYERS, ROLE_WORDS, SOLOISTS

_BEFORE_INSTRUMENTS = word_set(
    """
    solo on am au al 1st 2nd first second 1. 2. lead principal baroque historical modern concert
    grand classical natural alto bass tenor soprano baritone chamber portative medieval renaissance
    romantic period electric acoustic small great
    """
)

_LABELS_MARK = re.compile(r"\s*(?:&|,|/|;|\+|\band\b|\bund\b|\bet\b|\be\b|\by\b)\s*")
_MAY_BE_SEVERAL = re.compile(r"[&,/;+]|and\b|und\b|et\b|e\b|y\b")  # found quickly
_PLAYED_SO = frozenset(map(fold, ("独奏", "独唱", "演奏")))


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
        if _MAY_BE_SEVERAL.search(folded) is None:
            return None
        for part in filter(None, _LABELS_MARK.split(folded)):
            one = _single(part.strip(" ."))
            if one is None:
                return None
            (roles if one[0] == "role" else instruments).append(one[1])
    else:
        (roles if whole[0] == "role" else instruments).append(whole[1])
    return tuple(roles), tuple(instruments)


def _single(folded: str) -> tuple[str, str] | None:
    """("role", which) or ("instrument", which) if *folded* is a single one of them."""
    if folded in ROLE_WORDS:
        return "role", ROLE_WORDS[folded]
    if folded in INSTRUMENTS:
        return "instrument", INSTRUMENTS[folded]
    before, space, instrument = folded.partition(" ")
    if space and before in _BEFORE_INSTRUMENTS and instrument in INSTRUMENTS:
        return "instrument", INSTRUMENTS[instrument]
    if folded in PLAYERS:
        return "instrument", PLAYERS[folded]
    if folded in SOLOISTS:
        return "role", "soloist"
    if folded[-2:] in _PLAYED_SO and folded[:-2] in INSTRUMENTS:
        return "instrument", INSTRUMENTS[folded[:-2]]  # "ピアノ独奏"
    if folded in ("vocal", "vocals"):
        return "instrument", "voice"
    return None
