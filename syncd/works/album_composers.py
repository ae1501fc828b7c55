"""The composers whom an album's title names, each with the works that stand beside his name.

"Debussy: Children's Corner; Ravel: Gaspard de la nuit", "Works by X and Y", "X · Y: Quartets". Also
which names in it are of men to whom something is dedicated, and which titles tell no composer of
each track ("Bach and his contemporaries"). Whose a track is, is left to ``attribution.py``.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from syncd.works.composers import Match, table
from syncd.works.known_works import by_title
from syncd.works.text import fold
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading


@dataclass(frozen=True, slots=True)
class Share:
    """One of an album's composers, and the works beside his name (none where none is named)."""

    match: Match
    works: tuple[WorkReading, ...] = ()


_NAME = r"(?-i:[^\W\d_a-zß-ÿ][\w.'’-]*|d['’]|de|di|la|le|van|von)"
_DEDICATED = re.compile(
    r"\b(?:(?:themes?|thema|themen|thèmes?|thême|temat?|temi|motif|motiv|motive|motivo|tema|waltz|walzer|"
    r"valse|aria|air|arie)\s+(?:by|of|from|von|aus|de|di|da|du|d['’]|av|van)"
    r"|(?:an?\s+)?(?:hommages?|homages?|homenajes?|omaggio|hommáge|pocta|hołd)\s+(?:à|a|an|to|al?|pour|für)"
    r"|tributes?\s+to|(?:le\s+)?tombeaux?\s+(?:de|d['’]|for)|in\s+memoriam|(?:in|to the)\s+memory\s+of|"  # noqa: E501
    r"à la mémoire de|inspired\s+by|inspiré\w*\s+par|d['’]après|after|based\s+on|around|autour\s+de|"  # noqa: E501
    r"rund\s+um|beyond|dedicated\s+to|gewidmet|reflections\s+on|variations\s+on|variationen\s+über|"
    r"arr(?:anged|\.)?(?:\s+by|\s+von)?|orch(?:estrated|\.)?(?:\s+by)?|transcr\w*\.?(?:\s+by)?|"
    r"bearb\w*\.?(?:\s+von)?|dir(?:ected|\.)(?:\s+by)?|cond(?:ucted|\.)(?:\s+by)?|played\s+by|"
    r"performed\s+by|conducts|dirigiert|dirige)"
    rf"\s*:?\s*{_NAME}(?:\s+{_NAME}){{0,3}}",
    re.IGNORECASE,
)
# One of them is in whatever the expression above finds; most titles have none.
_SIGNS_OF_DEDICATION = (
    "them", "thèm", "thêm", "tem", "moti", "waltz", "walzer", "valse", "aria", "air", "arie",
    "omm", "homa", "homenaje", "omaggio", "pocta", "hołd", "tribut", "tombeau", "memor", "mémoire",
    "inspir", "après", "after", "based", "around", "autour", "rund", "beyond", "dedicat",
    "gewidmet", "reflect", "variation",
    "arr", "orch", "transcr", "bearb", "dir", "cond", "play", "perform",
)  # fmt: skip
_AROUND = re.compile(
    r"\b(?:(?:and|&|und|et|e|y|en|och|i|a)\s+(?:his|her|their|seine?|ihre?|ses?|son|sa|il suo|la sua|i suoi|"  # noqa: E501
    r"sus?|zijn|hans|friends|freunde|amis|amici|amigos|co|beyond|more|others|andere|andere meister|"
    r"contemporaries|zeitgenossen|contemporains|company|sons|sohne|fils|family|familie|pupils|schuler)\b"
    r"|recomposed|reimagined|re-imagined|reworked|reloaded|remixed|revisited|metamorphos\w+|inspirations?|"
    r"inspired|reflections?|unbound|circle|umkreis|zeit|era|epoch|epoque|world of|welt|tribute|"
    r"hommages?|homages?|omagg[io]|homenajes?|tombeaux?|influences?|legacy|heritage|"
    r"from .{3,30} to|von .{3,30} bis|de .{3,30} a|da .{3,30} a|"
    r"before|after|vor|nach|avant|apres)\b"
)
_MARK = re.compile(
    r"\s*[;|·•+]\s*|\s*/\s*|\s+[-–—]\s+|\s+[&]\s+|,\s+|\s+(?:and|und|et|e|y|en|och|og|i|with|mit|avec)\s+"
)
_BY = re.compile(
    r"\b(?:by|of|von|par|de|di|by:|av|af|van|door|from|obras de|från|od|сочинения)\s+(?=\w)",
    re.IGNORECASE,
)


@lru_cache(maxsize=4096)
def without_dedications(text: str) -> str:
    """*text* without names of those who are honoured, arranged it or play it."""
    small = text.lower()
    if not any(sign in small for sign in _SIGNS_OF_DEDICATION):
        return text
    return _DEDICATED.sub(" ", text)


@lru_cache(maxsize=4096)
def tells_of_many(text: str) -> bool:
    """Whether a title is about a composer rather than a list of his works."""
    return _AROUND.search(fold(text)) is not None


@lru_cache(maxsize=4096)
def read_shares(text: str) -> tuple[Share, ...]:
    """Who are named in an album's title as composers, in its order, and with which works.

    None where only one can be named: his share is the whole.
    """
    if _MARK.search(text) is None:
        return ()
    shares: list[Share] = []
    pending: list[Match] = []
    works: list[WorkReading] = []

    def close() -> None:
        shares.extend(Share(match, tuple(works)) for match in pending)
        pending.clear()
        works.clear()

    for piece in _MARK.split(without_dedications(text)):
        piece = piece.strip(" ,:()[]")
        if not piece:
            continue
        match, rest = _composer_at_head(piece)
        if match is not None:
            if works:
                close()
            pending.append(match)
            piece = rest
        if piece and pending:
            works.append(read_work(piece))
    close()
    merged: dict[str, Share] = {}
    for share in shares:
        have = merged.get(share.match.entry.sort)
        merged[share.match.entry.sort] = (
            share if have is None else Share(have.match, have.works + share.works)
        )
    return tuple(merged.values())


def _composer_at_head(piece: str) -> tuple[Match | None, str]:
    """The composer at the head of *piece* or behind "works by", and what follows his name."""
    by = _BY.search(piece)
    if by is not None:
        whole = table().exact(piece[by.end() :].strip(" ."))
        if whole is not None:
            return whole, ""
    head = table().leading(piece)
    if head is None:
        return None, piece
    match, length = head
    rest = piece[length:]
    bare = rest.strip(" ,:.'’-–—")
    bare = bare.removeprefix("s ") if rest[:2] in ("'s", "’s") else bare
    if not bare or rest.lstrip().startswith(":") or match.how == "possessive":
        return match, bare
    reading = read_work(bare)
    if reading.strength >= 1 or reading.plural or by_title(match.entry.sort, bare) is not None:
        return match, bare
    return None, piece
