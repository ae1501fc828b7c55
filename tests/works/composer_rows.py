"""The composer table as it is in its file, and its names folded by rules of the tests' own."""

import json
import re
import unicodedata
from collections import defaultdict
from pathlib import Path
from typing import Any

import syncd.works

TABLE = Path(syncd.works.__file__).parent / "data" / "composers.json"
TEXT = TABLE.read_text(encoding="utf-8")
ROWS: list[dict[str, Any]] = json.loads(TEXT)
BY_SORT = {row["sort"]: row for row in ROWS}
_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "æ": "ae", "œ": "oe", "ß": "ss", "đ": "d", "ı": "i", "ð": "d", "þ": "th"}
)
_SOFT_SIGNS = re.compile("[ʹʺ'’ʼ`]")


def case_and_accents(text: str) -> str:
    """*text* without case and accents, and without what stands for soft and hard signs."""
    spread = unicodedata.normalize("NFKD", _SOFT_SIGNS.sub("", text.casefold()))
    return "".join(ch for ch in spread if not unicodedata.combining(ch)).translate(_LETTERS)


def words(text: str) -> str:
    """The words of *text* folded, so that points and hyphens make no difference either."""
    return " ".join(re.sub(r"[^\w]+", " ", case_and_accents(text)).split())


def natural(inverted: str) -> str:
    """``Family, Given`` as ``Given Family``."""
    family, _, given = inverted.partition(", ")
    return f"{given} {family}".strip()


def owners(fold: Any) -> dict[str, set[str]]:
    """Every folded spelling with the sort forms of those who claim it."""
    claimed: dict[str, set[str]] = defaultdict(set)
    for row in ROWS:
        for form in (row["name"], row["sort"], natural(row["sort"]), *row["forms"]):
            claimed[fold(form)].add(row["sort"])
    return claimed


OWNERS = owners(words)
