"""A title's text made ready for cutting: marks set where taggers leave them out.

Abbreviations are spelled out, a movement counted behind its work gets a dash before it, a date of
recording goes. How the text is cut is told by ``separators.py``, what the pieces are by
``title.py``.
"""

import re

from syncd.works.abbreviations import spelled_out
from syncd.works.cjk import to_western
from syncd.works.worktitle.reader import read_work

_HOBOKEN_SPACE = re.compile(
    r"(\bHob(?:oken)?\.?\s*[IVX]+\s?[a-h]?)\s*[:/]\s*(?=[A-Z]{0,2}\d)", re.IGNORECASE
)
# "Symphony No. 5, Op. 67, 3rd Movement", "Quartet K. 80 mvt. 3": a movement counted behind its work
# with no more than a comma between. "the third movement of" is running text.
_COUNTED = re.compile(
    r"(?<=[\w)\]\"”»])(?<!\bfrom)(?<!\bthe)(?<!\bof),?\s+(?="
    r"(?:movement|mvt|mvmt|mvmnt|mouvement|movimento|satz)\b\.?\s*(?:no\.?\s*)?(?:\d{1,2}|(?-i:[IVX]+))\b"
    r"|(?:\d{1,2}(?:st|nd|rd|th|er|re|e|ème|[.º°])|first|second|third|fourth|fifth|erster|zweiter"
    r"|dritter|vierter|premier|deuxième|troisième|quatrième|primo|secondo|terzo|quarto)"
    r"\s*(?:movement|mvt|mvmt|mvmnt|mouvement|movimento|satz)\b(?!\s+(?:of|from|aus|du|de|dal)\b))",
    re.IGNORECASE,
)
_COUNTED_BRACKET = re.compile(
    r"\s*[(\[](?P<count>(?:\d{1,2}(?:st|nd|rd|th|er|re|e|ème|[.º°])|first|second|third|fourth|fifth|erster|zweiter|"
    r"dritter|vierter|premier|deuxième|troisième|quatrième|primo|secondo|terzo|quarto)\s*"
    r"(?:movement|mvt|mvmt|mov|mouvement|movimento|satz)\.?"
    r"|(?:movement|mvt|mvmt|mov|mouvement|movimento|satz)\.?\s*(?:no\.?\s*)?(?:\d{1,2}|[IVX]+))[)\]](?=\s*(?:$|[-–—]))",
    re.IGNORECASE,
)
_HASHED_MOVEMENT = re.compile(
    r"^(?P<work>[^:#№]{4,}?)[\s,:–—-]*[#№]\s?(?P<n>\d{1,2})\s*[-–:.,]?\s+(?=[A-ZÀ-ÞА-Я])"
)


def _parted_movement(match: re.Match[str]) -> str:
    """ "Scheherazade #1 The Sea" with a mark before the number, where no form is numbered."""
    work = match.group("work")
    return match.group() if read_work(work).form is not None else f"{work} - No. {match['n']} "


_NUMBER_ALONE = re.compile(r"[(\[]\d{1,2}[)\]]\s")  # in whatever the next expression finds
_BRACKETED_NUMBER = re.compile(
    r"^(?P<work>.{6,}?)[\s,:–—-]*\s[(\[](?P<n>\d{1,2})[)\]]\s+(?=[^\W\d_])"
)


def _parted_number(match: re.Match[str]) -> str:
    """ "Sonata in D, K. 311 (3) Rondo" with a mark before the movement's number."""
    work = match.group("work")
    return match.group() if read_work(work).strength < 2 else f"{work} - {match['n']}. "


_ARRANGED_BEHIND = re.compile(
    r",\s+(?P<said>(?:arr|arrangiert|arranged|arrangement|orch|orchestrated|orchestriert|transcr|"
    r"transcribed|transcription|bearb|bearbeitet|bearbeitung|instr|trans)\b\.?"
    r"\s+(?:(?:by|von|par|de|di|da|av|van)\s+)?(?-i:[^\W\d_a-zß-ÿ])[^,()\[\]:;]{1,40})$",
    re.IGNORECASE,
)
_SIGN_OF_ARRANGER = re.compile(r",\s+(?:arr|orch|trans|bearb|instr)")
_DATE_HEAD = re.compile(r"^(?:19|20)\d\d[-.]\d\d[-.]\d\d\s+(?:[-–]\s+)?")


def prepared(text: str) -> str:
    """*text* with marks before its movement, and without what stands for no part of a title."""
    date = _DATE_HEAD.match(text)
    text = spelled_out(to_western(text if date is None else text[date.end() :]))
    if "ob" in text:
        text = _HOBOKEN_SPACE.sub(r"\1:", text)
    if "#" in text or "№" in text:
        text = _HASHED_MOVEMENT.sub(_parted_movement, text)
    small = text.lower()
    if ("(" in text or "[" in text) and _NUMBER_ALONE.search(text) is not None:
        text = _BRACKETED_NUMBER.sub(_parted_number, text)
    if "," in small and _SIGN_OF_ARRANGER.search(small) is not None:
        text = _ARRANGED_BEHIND.sub(r" (\g<said>)", text)
    if "mov" in small or "mv" in small or "mouv" in small or "satz" in small:
        text = _COUNTED.sub(" - ", _COUNTED_BRACKET.sub(r" - \g<count>", text))
    return text
