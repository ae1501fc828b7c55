"""What a title says that its music was taken from or made after: "Méditation from Thaïs".

Where in a title that may stand is left to ``title_cut.py``, remarks in brackets to
``worktitle/remarks.py``.
"""

import re

from syncd.works.composers import table
from syncd.works.known_works import known_works
from syncd.works.text import title_key
from syncd.works.words.forms import SECTION_FORMS
from syncd.works.worktitle.reader import read_work

_FROM_INLINE = re.compile(
    r"^(?P<piece>.{3,}?)(?:,\s+|\s+)(?:from|aus der oper|aus|extrait de|"
    r"excerpt from)\s+(?P<work>[A-ZÀ-ÖØ-ÞŠŽ\"“'«].{2,})$"
)
# "Fantasy on Themes from Faust": what follows "from" is part of the title.
_ON_THEMES = re.compile(
    r"\b(?:on|upon|over|sur|über|ueber|su|sopra|sobre|på|na)\b.*"
    r"(?:themes?|thèmes?|themen|thema|temi|temas?|melod\w+|motifs?|motiv\w*|airs?|arias?|arien|tunes)$",
    re.IGNORECASE,
)
_MODEL_WORD = re.compile(r"\b(?:nach|after|naar|efter|dopo|apr[eè]s)\s", re.IGNORECASE)
_MODEL = re.compile(
    r"^(?P<work>.{6,}?),?\s+(?:nach|after|naar|efter|dopo|d['’]apr[eè]s)\s+(?P<who>\S.{2,40})$",
    re.IGNORECASE,
)


_FROM_THE = re.compile(
    r"^(?P<piece>.{3,}?)(?:,\s+|\s+)(?:from|aus)\s+(?:the\s+(?:opera|ballet|suite|oratorio)\s+|"
    r"(?=(?:the|der|die|das|dem|den|la|le|les|il)\s+[A-ZÀ-ÖØ-ÞŠŽ]))(?P<work>\S.{2,})$"
)


def _from_known(text: str) -> re.Match[str] | None:
    """The match of "Barcarolle from the Tales of Hoffmann", of a known work with an article.

    Not of "Symphony from the New World", where it belongs to the name.
    """
    match = _FROM_THE.match(text)
    if match is None or not _is_known(match.group("work")):
        return None
    piece = read_work(match.group("piece"))
    return match if piece.form is None or piece.form in SECTION_FORMS else None


def _is_known(title: str) -> bool:
    without = title.partition(" ")[2]
    names = (title, without, f"die {without}", f"der {without}", f"das {without}")
    return any(title_key(name) in known_works().by_title for name in names)


def taken_from(text: str) -> tuple[str, str] | None:
    """The piece and the work of "Adagietto from Symphony No. 5"; None where nothing is taken."""
    if "from" not in text and "aus" not in text and "extrait" not in text:
        return None
    match = _FROM_INLINE.match(text) or _from_known(text)
    if match is None or _ON_THEMES.search(match.group("piece")) is not None:
        return None
    return match.group("piece"), match.group("work")


def without_models(segments: tuple[str, ...], whole: str) -> tuple[str, ...]:
    """*segments* of the title *whole*, each without the composer after whose work it was made."""
    if _MODEL_WORD.search(whole) is None:
        return segments
    return tuple(map(_without_model, segments))


def _without_model(segment: str) -> str:
    """*segment* without the composer after whose work it was made: "Concerto ... after Vivaldi"."""
    found = _MODEL.match(segment)
    if found is None or table().exact(found.group("who")) is None:
        return segment
    work = found.group("work")
    reading = read_work(work)
    return work if reading.strength >= 2 and reading.structured else segment


def without_composer(text: str) -> str:
    """*text* without a composer's name before it ("Handel's Messiah", "Puccini: Tosca")."""
    head = table().leading(text)
    if head is not None:
        rest = text[head[1] :].lstrip(" ,:;-'’")
        if rest.startswith("s ") and text[head[1] : head[1] + 1] in "'’":
            rest = rest[2:]
        if len(rest) > 2:
            return rest
    return text
