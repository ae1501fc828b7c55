"""Numbers within groups of a catalogue: Hob. XVI:52, TWV 51:G9, JW VII/8, MWV N 16.

Plain numbers, and which of the two a prefix asks for, are ``reading.py``'s.
"""

from syncd.works.numbers.raw import Cursor, RawNumber, is_numeric, plain_digits
from syncd.works.tokens import Sort, Token
from syncd.works.words.numerals import roman, roman_text
from syncd.works.words.tables import word_set

GROUPED = word_set("twv tvwv jw mwv br gwv fwv wev qv haswv graunwv")
"""Prefixes of catalogues with groups, Hoboken's apart."""

_PLAIN_TOO = frozenset({"twv", "tvwv", "mwv"})  # a group's number alone is kept as it is
_SPACED = frozenset({"mwv", "br"})
_HOBOKEN_LETTERS = "abcdefghABCDEFGH"


def is_hoboken(cursor: Cursor) -> bool:
    """Whether ``XVI:52`` stands here (Hoboken's form under the letter H)."""
    head = cursor.at()
    return (
        head.text.isupper()
        and roman(head.text) is not None
        and cursor.at(1).text in (":", "/")
        and is_numeric(cursor.at(2))
    )


def read_hoboken(cursor: Cursor) -> RawNumber | None:
    """The number of Hoboken's catalogue at *cursor*, behind the letters, or None."""
    group = _hoboken_group(cursor.at())
    if group is None:
        return None
    cursor.position += 1
    # A letter written apart: "VIIb" tokenises whole, "VII b" and "XX/1 A" do not.
    letter = cursor.at()
    if letter.sort is Sort.WORD and len(letter.text) == 1 and cursor.at(1).text in (":", "/"):
        group += letter.text.lower()
        cursor.position += 1
    if cursor.at().text in (":", "/", ".", "*", "-"):
        cursor.position += 1
    number = cursor.at()
    if is_numeric(number):
        text = plain_digits(number)
        cursor.position += 1
    elif _is_letters_and_digits(cursor, 0, 2):
        text = number.text + cursor.at(1).text
        cursor.position += 2
    else:
        return None
    suffix = cursor.at()
    if suffix.sort is Sort.WORD and len(suffix.text) <= 3 and suffix.glued:
        text += suffix.text
        cursor.position += 1
    return cursor.made("hob", f"{group}:{text}")


def _hoboken_group(head: Token) -> str | None:
    if is_numeric(head):
        return roman_text(int(head.text[:4]))  # "Hob. 16:52": the group in Arabic digits
    if roman(head.text) is not None:
        return head.text.upper()
    stem = head.text.rstrip(_HOBOKEN_LETTERS)
    if stem and roman(stem) is not None:
        return stem.upper() + head.text[len(stem) :].lower()
    return None


def read_grouped(cursor: Cursor, prefix: str) -> RawNumber | None:
    """The number with its group at *cursor*, behind the letters *prefix*, or None."""
    head = cursor.at()
    if not (is_numeric(head) or (head.sort is Sort.WORD and len(head.text) <= 5)):
        return None
    start = cursor.position
    cursor.position += 1
    rest = _within_group(cursor, head, prefix)
    if rest is None:
        cursor.position = start
        return None
    return cursor.made(prefix, head.text + rest)


def _within_group(cursor: Cursor, head: Token, prefix: str) -> str | None:
    """What follows a group's name *head* at *cursor*; None where the number is not of this form."""
    mark, follow = cursor.at(), cursor.at(1)
    if mark.text in (":", "/", "."):
        sign = ":" if mark.text == ":" else "/"
        if is_numeric(follow):
            cursor.position += 2
            return sign + follow.text
        if _is_letters_and_digits(cursor, 1, 3):
            cursor.position += 3
            return sign + follow.text + cursor.at(-1).text
        if follow.sort is Sort.WORD and len(follow.text) <= 2 and follow.glued:
            cursor.position += 2
            return sign + follow.text
        return None if prefix in ("twv", "tvwv") else ""
    if head.sort is Sort.WORD:
        if not is_numeric(mark):
            return None
        cursor.position += 1
        return ("" if mark.glued and prefix not in _SPACED else " ") + mark.text
    return "" if prefix in _PLAIN_TOO else None


def _is_letters_and_digits(cursor: Cursor, offset: int, longest: int) -> bool:
    """Whether up to *longest* letters with digits glued to them stand there ("G9")."""
    letters, digits = cursor.at(offset), cursor.at(offset + 1)
    return (
        letters.sort is Sort.WORD
        and len(letters.text) <= longest
        and is_numeric(digits)
        and digits.glued
    )
