"""What stands behind an album's title: the disc's number, remarks on the edition."""

import re
from functools import lru_cache

_DISC_REMARK = re.compile(
    r"\s*[-–,:]?\s*[(\[]?\s*\b(?:cd|disc|disk|disque|disco|dvd|lp)\s*\.?\s*#?\d{1,3}(?:\s*(?:of|/|von)\s*\d+)?\s*[)\]]?\s*$",
    re.IGNORECASE,
)
_TRAILING_REMARK = re.compile(
    r"\s*[(\[](?:live|remaster\w*|deluxe[^)\]]*|\d{4}[^)\]]*|hi-?res[^)\]]*|24[ -]?bit[^)\]]*|"
    r"sacd|mono|stereo|"
    r"complete|highlights|auszüge|extraits|excerpts|querschnitt|gesamtaufnahme|flac|mp3)[)\]]\s*$",
    re.IGNORECASE,
)


def without_disc(text: str) -> str:
    """*text* without the disc's number that may end it."""
    end = text.rstrip()[-1:]
    return _DISC_REMARK.sub("", text) if end.isdecimal() or end in (")", "]") else text


def _without_remark(text: str) -> str:
    """*text* without a remark on the edition in brackets at its end."""
    return _TRAILING_REMARK.sub("", text) if text.rstrip()[-1:] in (")", "]") else text


@lru_cache(maxsize=4096)
def clean_album(text: str) -> str:
    """*text* without a disc's number and remarks on the edition at its end."""
    for _ in range(3):
        shorter = _without_remark(without_disc(text)).strip(" -–,;:")
        if not shorter or shorter == text:
            break
        text = shorter
    return text
