"""The scanner under the title grammar: a string becomes words, numbers, quotes, brackets, marks.

It knows nothing of music. Positions are kept so that a reading can be cut out of its text.
"""

import re
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

from syncd.works.text import fold


class Sort(Enum):
    """What a token is."""

    WORD = 1
    NUMBER = 2
    QUOTE = 3
    BRACKET = 4
    MARK = 5


class Token(NamedTuple):
    """One token: ``text`` as written (without quotes or brackets), ``folded`` for comparison."""

    sort: Sort
    text: str
    folded: str
    start: int
    end: int
    glued: bool  # no space before it


_CLOSING = {
    "(": ")",
    "[": "]",
    "{": "}",
    "“": "”",
    "„": '“”"',
    "«": "»",
    "»": "«",
    "‹": "›",
    "‚": "‘’'",
    "‘": "’",
    '"': '"',
    "'": "'",
    "”": "”",
}
_TOKEN = re.compile(r"\s*(?:([^\W\d_]+(?:['’][^\W\d_]+)*)|(\d+)|(\S))")
_WORD, _NUMBER = 1, 2  # the groups of _TOKEN
_new = tuple.__new__  # a third of the time of a named tuple's own
_SIGNS = {"♯": "#", "♭": "flat"}


@lru_cache(maxsize=4096)  # a title is read as work, as movement and as tempo, one after another
def tokenize(text: str) -> tuple[Token, ...]:
    """The tokens of *text*. Unclosed quotes and brackets are plain marks. Linear in its length."""
    tokens: list[Token] = []
    word, number = Sort.WORD, Sort.NUMBER
    last_end = -1
    for match in _TOKEN.finditer(text):
        group = match.lastindex or 0
        position, end = match.span(group)
        if position < last_end:
            continue  # within a bracket or a quote that is a token already
        value = match[group]
        glued = last_end == position
        if group == _WORD:
            folded = value.lower() if value.isascii() else fold(value)
            tokens.append(_new(Token, (word, value, folded, position, end, glued)))
        elif group == _NUMBER:
            tokens.append(_new(Token, (number, value, value, position, end, glued)))
        else:
            closing = _CLOSING.get(value)
            found = -1
            if closing and (value not in "'‘’" or _opens_quote(text, position)):
                found = _find_closing(text, position + 1, value, closing)
            if found > position + 1:
                inner = text[position + 1 : found].strip()
                sort = Sort.BRACKET if value in "([{" else Sort.QUOTE
                end = found + 1
                tokens.append(Token(sort, inner, fold(inner), position, end, glued))
            else:
                folded = _SIGNS.get(value) or fold(value).strip()
                if value == "♭":
                    tokens.append(Token(Sort.WORD, value, "flat", position, end, glued))
                else:
                    tokens.append(Token(Sort.MARK, value, folded, position, end, glued))
        last_end = end
    return tuple(tokens)


def _opens_quote(text: str, position: int) -> bool:
    before_ok = position == 0 or not (text[position - 1].isalnum())
    after_ok = position + 1 < len(text) and not text[position + 1].isspace()
    return before_ok and after_ok


_LOOK_AHEAD = 300  # a bound, so that many openings without an end cost no quadratic search


def _find_closing(text: str, start: int, opening: str, closing: str) -> int:
    limit = min(len(text), start + _LOOK_AHEAD)
    if opening in "([{":
        depth = 1
        for index in range(start, limit):
            ch = text[index]
            if ch == opening:
                depth += 1
            elif ch == closing:
                depth -= 1
                if depth == 0:
                    return index
        return -1
    for index in range(start, limit):
        if text[index] in closing:
            if closing in ("'", "’") or text[index] in "'’‘":
                after = text[index + 1 : index + 2]
                if after.isalnum():
                    continue
            return index
    return -1
