"""Remarks beside a title that are no part of it: arrangers, sources, versions, dates."""

import re
from functools import lru_cache

_ARRANGED = re.compile(
    r"^(?:arr|arrang|orch|transcr|trans|bearb|instr|version|ver\b|compl|ed\b|edit|adapt|realis|realiz"
    r"|harmon|reduc|rev\b|revis|orig|fassung|urfassung|unvollend|unfinish|arrangement|dans|after|nach"
    r"|d'apres|from|aus|extrait|dall|excerpt|ausz|live|remaster|bonus|encore|zugabe|bis\b|mono|stereo"
    r"|\d{4}|first|original|final|recorded|recording|aufn|world)"
)
_ARRANGER = re.compile(
    r"(?:arr(?:anged|angement|angiert)?|orch(?:estrated|estration|estriert)?|transcr(?:ibed|iption|it)?"
    r"|bearb(?:eitet|eitung)?|instr(?:umentiert|umentation)?|trans|realised|realized|completed|compl|ed)"
    r"\.?:?\s+(?:by\s+|von\s+|par\s+|da\s+|di\s+|pour\s+|for\s+|für\s+)?(?P<who>.+)$",
    re.IGNORECASE,
)
_FROM = re.compile(
    r"^(?:from|aus|extrait de|extraits de|tiré de|dall[ao']|dal|dai|dagli|da|de|z|ze|uit|ur|fra|из|"
    r"excerpt from|excerpts from|theme from)(?:\s*:\s*|\s+)(?:the\s+opera\s+|der\s+oper\s+|"
    r"l'opéra\s+)?(?P<work>.+)$",
    re.IGNORECASE,
)


def is_remark(folded: str) -> bool:
    """Whether a bracket with this *folded* text begins as remarks on version or recording do."""
    return _ARRANGED.match(folded) is not None


def arranger_in(text: str) -> str | None:
    """Who is named by ``arr. X`` and its like in other languages, or None."""
    match = _ARRANGER.match(text)
    return match.group("who").strip() if match else None


@lru_cache(maxsize=4096)
def read_from(text: str) -> str | None:
    """The work named by ``from Messiah`` and its like in other languages, or None."""
    match = _FROM.match(text)
    return match.group("work").strip() if match else None
