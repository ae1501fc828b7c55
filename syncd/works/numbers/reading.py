"""What looks like a number of a thematic catalogue is taken out of a text, whoever the composer is.

Which catalogue the letters mean is decided in ``meaning.py``, numbers with groups are read in
``grouped.py``.
"""

from collections.abc import Sequence
from dataclasses import replace
from string import ascii_lowercase

from syncd.works.numbers.grouped import GROUPED, is_hoboken, read_grouped, read_hoboken
from syncd.works.numbers.raw import Cursor, RawNumber, is_numeric, plain_digits
from syncd.works.numbers.systems import is_prefix
from syncd.works.tokens import Sort, Token, tokenize
from syncd.works.words.numerals import roman, skip_number_word
from syncd.works.words.tables import word_set

_POSTHUMOUS = frozenset({"posth", "post", "posthumous", "posthume", "posthum", "postumo"})
_OPUS = ("op", "opus", "opp")
_KOCHEL = ("k", "kv", "kochel", "koechel")
_BEFORE_NUMBER_WORDS = word_set("op opus hob woo kochel koechel deutsch anh")
_LAST_KOCHEL_PIECE = 60  # K. 331/300i gives two numberings of one catalogue, 27/2 a piece of a set
_MOST_DIGITS = 5
_MOST_PIECES = 24  # in a set
_ONE_WORK_A_NUMBER = word_set("bwv rv hwv buxwv k kv kochel koechel swv sv zwv wwv wab lwv")
"""Catalogues that number works, so that a slash behind the number counts their movements."""
_SETS_OF_MOZART = frozenset(
    {
        *(61, 65, 101, 103, 104, 105, 106, 122, 123, 164, 176, 267, 269, 315, 363, 439, 461, 462),
        *(463, 487, 509, 534, 536, 549, 559, 560, 567, 568, 571, 585, 586, 587, 588, 599, 600),
        *(601, 602, 603, 604, 605, 606, 607, 609, 610, 611),
    }
)
"""Köchel's numbers of dances, duos and divertimenti that are sets of pieces (from memory)."""
_AND = frozenset(
    {"&", "+", "and", "und", "et", "e", "y", "en", "och", "og", "ja", "i", "oraz", "и"}
)
_GOES_ON = _AND | {",", "/"}
_REPEATED = frozenset({"bis", "ter", "quater", "quinquies"})
_UP_TO = frozenset({"-", "–", "—", "to", "bis", "through", "thru", "до", "az", "tot", "till"})
_AFTER_A_LIST = _AND | {"in", "no", "nos", "nr", "for", "fur", "pour", "per"}


def read_number(tokens: Sequence[Token], index: int) -> RawNumber | None:
    """The catalogue number that begins at token *index*, or None."""
    token = tokens[index]
    if token.sort is not Sort.WORD:
        return None
    if len(token.text) == 1 and (dotted := _dotted_letters(tokens, index)) is not None:
        return dotted
    return _Reader(tokens, index).read() if is_prefix(token) else None


def _dotted_letters(tokens: Sequence[Token], index: int) -> RawNumber | None:
    """The number behind letters with a dot each ("R.V. 443", "B. W. V. 1043"), or None."""
    end = index
    while (
        end + 1 < len(tokens)
        and tokens[end].sort is Sort.WORD
        and len(tokens[end].text) == 1
        and tokens[end + 1].text == "."
    ):
        end += 2
    letters = "".join(token.text for token in tokens[index:end:2])
    whole = letters.upper()
    if len(letters) < 2 or letters not in (whole, letters.lower()):
        return None
    prefix = tokens[index]._replace(text=whole, folded=whole.lower())
    if end >= len(tokens) or not is_numeric(tokens[end]) or not is_prefix(prefix):
        return None
    found = _Reader((*tokens[: end - 1], prefix, *tokens[end:]), end - 1).read()
    return None if found is None else replace(found, start=index)


def numbers_in(text: str) -> list[RawNumber]:
    """All that looks like a catalogue number in *text*, in its order."""
    tokens = tokenize(text)
    found: list[RawNumber] = []
    position = 0
    while position < len(tokens):
        raws = read_numbers(tokens, position)
        found.extend(raws)
        position = raws[-1].end if raws else position + 1
    return found


def read_numbers(tokens: Sequence[Token], index: int) -> tuple[RawNumber, ...]:
    """The number that begins at token *index* with those listed behind it: "Opp. 21, 36 & 55"."""
    first = read_number(tokens, index)
    if first is None:
        return ()
    found = [first]
    while (following := _next_of_list(tokens, index, found[-1])) is not None:
        if len(found) == 1:
            found[0] = replace(first, listed=True)
        found.append(following)
    return tuple(found)


def _next_of_list(tokens: Sequence[Token], letters: int, last: RawNumber) -> RawNumber | None:
    """The number that goes on a list behind *last* without letters of its own, or None.

    "&" and "and" go on any list; a comma goes on one of three or more, or behind "Opp.".
    """
    if last.end >= len(tokens) or tokens[last.end].text not in _GOES_ON:
        return None
    cursor = Cursor(tokens, letters)
    cursor.position = last.end
    slash = cursor.at().text == "/" and _is_next_work(cursor, last.main)
    comma = cursor.at().text == ","
    cursor.position += comma
    joined = slash or cursor.at().text in _AND
    cursor.position += joined
    head = cursor.at()
    if not (comma or joined) or not is_numeric(head) or len(head.text) > _MOST_DIGITS - 1:
        return None
    follow = cursor.at(1)
    if follow.sort is Sort.WORD and not follow.glued and follow.folded not in _AFTER_A_LIST:
        return None  # "Op. 48 and 3 songs"
    if follow.text in (".", ")", ":") and follow.glued:
        return None  # "Op. 67, 1. Allegro"
    if not joined and tokens[letters].folded != "opp" and not last.listed and not _goes_on(cursor):
        return None
    if last.sub is not None:
        return _listed_piece(cursor, last)
    reader = _Reader(tokens, letters)
    reader.position = cursor.position
    if ":" in last.main:  # "Hob. XVI:50 & 52"
        main = f"{last.main.partition(':')[0]}:{plain_digits(head)}"
        reader.position += 1
        raw = reader.made(last.prefix, main)
    else:
        main_number = reader.number()
        if main_number is None:
            return None
        raw = main_number
    return replace(raw, start=last.end, sure=last.sure, listed=True)


def _is_next_work(cursor: Cursor, main: str) -> bool:
    """Whether a slash at *cursor* parts two works ("K. 423/424"), not a work and a piece of it."""
    number, letters = cursor.at(1), cursor.at(2)
    return (
        main.isdigit()
        and is_numeric(number)
        and len(number.text) == len(main) >= 2
        and int(number.text) > max(int(main), _MOST_PIECES)
        and not (letters.glued and letters.sort is Sort.WORD)
    )


def _goes_on(cursor: Cursor) -> bool:
    """Whether a list goes on behind the number at *cursor*: "RV 269, 315 & 293"."""
    mark, number = cursor.at(1), cursor.at(2)
    if mark.text == "," and number.text in _AND:
        number = cursor.at(3)
    return (mark.text == "," or mark.text in _AND) and is_numeric(number)


def _listed_piece(cursor: Cursor, last: RawNumber) -> RawNumber | None:
    """The next piece of the same set: "Op. 27 Nos. 1 & 2"."""
    sub = plain_digits(cursor.at())
    if last.sub is None or not last.sub.isdigit() or int(sub) <= int(last.sub):
        return None
    return replace(
        last,
        sub=sub,
        start=last.end,
        end=cursor.position + 1,
        text=f"{last.text.partition('/')[0]}/{sub}",
        listed=True,
    )


class _Reader(Cursor):
    """Reads one number from its letters on; each method takes one part of it."""

    def __init__(self, tokens: Sequence[Token], start: int) -> None:
        super().__init__(tokens, start)
        self.prefix = tokens[start].folded
        self.is_opus = self.prefix in _OPUS
        self.dotted = self.at().text == "."
        self.tight = self.dotted or self.at().glued
        self.posthumous = False
        self.annex = False
        self.movement: int | None = None

    def read(self) -> RawNumber | None:
        letters = self.tokens[self.start].text
        if letters in ("k", "d") and not self.tight:
            return None
        self._pass_letters()
        self._take_remarks()
        if self.annex or self.prefix in _BEFORE_NUMBER_WORDS:
            self.position = skip_number_word(self.tokens, self.position)
        if self.prefix in ("hob", "hoboken") or (self.prefix == "h" and is_hoboken(self)):
            return read_hoboken(self)
        if self.prefix in GROUPED:
            grouped = read_grouped(self, self.prefix)
            if grouped is not None:
                return grouped
        return self.number()

    def number(self) -> RawNumber | None:
        """The plain number that stands here, with its piece within a set, or None."""
        head = self.at()
        if is_numeric(head) and len(head.text) > _MOST_DIGITS:
            return None
        main = self._main(head)
        if main is None:
            return self._made("", None, True) if self.posthumous else None
        sub = self._piece(main)
        if self.is_opus and self.at().folded in _POSTHUMOUS:  # "Op. 66 posth."
            self.posthumous = True
            self.position += 2 if self.at(1).text == "." else 1
        if sub is None and self._is_range(head):
            main += "–" + self.at(1).text
            self.position += 2
        if self._is_second_numbering():
            self.position += 1
        letters = self.tokens[self.start].text
        sure = len(self.prefix) > 1 or self.tight or letters.isupper()
        return self._made(main, sub, sure)

    def _made(self, main: str, sub: str | None, sure: bool) -> RawNumber:
        prefix = "op" if self.prefix == "opp" else self.prefix
        made = self.made(prefix, main, sub, self.posthumous, self.annex, sure)
        return made if self.movement is None else replace(made, movement=self.movement)

    def _pass_letters(self) -> None:
        """Past the marks behind the letters, the rest of "BR-WFB" and of "K.V."."""
        while self.at().text in (".", "#"):
            self.position += 1
        if self.prefix == "br" and self.at().text == "-" and self.at(1).text:
            self.position += 2
        if self.prefix == "k" and self.at().folded == "v":
            self.position += 1
            while self.at().text == ".":
                self.position += 1

    def _take_remarks(self) -> None:
        """ "posth." and "Anh." between the letters and the number."""
        while folded := self.at().folded:
            if self.is_opus and folded in _POSTHUMOUS:
                self.posthumous = True
            elif folded in ("anh", "anhang", "app") and self.prefix not in ("anh", "anhang"):
                self.annex = True
            elif not (folded in (".", "-") and (self.posthumous or self.annex)):
                return
            self.position += 1

    def _main(self, head: Token) -> str | None:
        """The main number with letters glued to it: 86A, 300i, 173dB, 1061a."""
        if is_numeric(head):
            main = str(int(head.text))
        elif head.sort is Sort.WORD and (self.is_opus or self.prefix == "oeuvre"):
            value = roman(head.text)
            if value is None or not (head.text.isupper() or self.dotted):
                return None
            main = str(value)
        else:
            return None
        self.position += 1
        letters = self.at()
        if (
            letters.glued
            and letters.sort is Sort.WORD
            and len(letters.text) <= 2
            and not (is_numeric(self.at(1)) and self.at(1).glued)
        ):
            # "OP. 56A" is shouted; other catalogues tell large letters from small ones.
            main += letters.text.lower() if self.is_opus else letters.text
            self.position += 1
        elif self._is_repeated(letters):
            main += letters.folded
            self.position += 1
        elif (
            letters.text == "-"
            and letters.glued
            and self.at(1).folded in _REPEATED
            and not is_numeric(self.at(2))
        ):  # "op. 43-ter", not "op. 59-bis 61"
            main += self.at(1).folded
            self.position += 2
        return main

    def _is_repeated(self, letters: Token) -> bool:
        """Whether "bis", "ter", "quater" make another number of this one: "Op. 64ter"."""
        if letters.folded not in _REPEATED:
            return False
        return letters.glued or not (is_numeric(self.at(1)) or self.at(1).folded in _UP_TO)

    def _piece(self, main: str) -> str | None:
        """The number of a piece within a set: 27/2, 18 No. 4, 27:2, 27, 2, 27-2."""
        mark, follow = self.at(), self.at(1)
        if mark.text == "/" and mark.glued and is_numeric(follow):
            return None if _is_next_work(self, main) else self._after_slash(main, follow)
        if self.is_opus and mark.text == ":" and mark.glued and follow.glued and is_numeric(follow):
            self.position += 2
            return plain_digits(follow)
        comma = 1 if mark.text == "," else 0
        worded = skip_number_word(self.tokens, self.position + comma) - self.position
        if worded > comma and is_numeric(self.at(worded)):
            self.position += worded + 1
            return self._up_to(plain_digits(self.at(-1)))
        if not self.is_opus:
            return None
        if self.prefix == "opp":
            return None  # "Opp. 1, 2", "Opp. 1-3": several works
        if comma and is_numeric(follow) and int(follow.text[:6]) <= 30:
            if self.at(2).text in (".", ")"):
                return None
            self.position += 2
            return plain_digits(follow)
        dash, number = self.at(comma), self.at(comma + 1)
        if (
            dash.text == "-"
            and dash.glued
            and number.glued
            and is_numeric(number)
            and int(number.text[:6]) <= 24
        ):
            self.position += comma + 2
            return plain_digits(number)
        return None

    def _up_to(self, sub: str) -> str:
        """*sub*, or the pieces from it to another: "Op. 27 Nos. 1-2"."""
        mark, last = self.at(), self.at(1)
        if (
            mark.folded in _UP_TO
            and is_numeric(last)
            and len(last.text) <= 2
            and int(last.text) > int(sub)
            and self.at(2).text not in (".", ")")
        ):
            self.position += 2
            return f"{sub}–{plain_digits(last)}"
        return sub

    def _after_slash(self, main: str, number: Token) -> str | None:
        self.position += 2
        letters = self.at()
        lettered = letters.glued and letters.sort is Sort.WORD
        if self.prefix in ("k", "kv") and int(number.text[:6]) > _LAST_KOCHEL_PIECE:
            self.position += lettered
            return None
        sub = plain_digits(number)
        if lettered and len(letters.text) == 1:
            self.position += 1
            sub += letters.text
        if self.prefix in _ONE_WORK_A_NUMBER and not self._is_set_of_mozart(main):
            self.movement = int(number.text[:6])
            return None
        return sub

    def _is_set_of_mozart(self, main: str) -> bool:
        digits = main.rstrip(ascii_lowercase)
        return self.prefix in _KOCHEL and digits.isdigit() and int(digits) in _SETS_OF_MOZART

    def _is_range(self, head: Token) -> bool:
        """Whether the number goes on to another one: BWV 846-869, BWV 772 bis 786, Opp. 1-3."""
        mark, last = self.at(), self.at(1)
        return (
            mark.folded in _UP_TO
            and is_numeric(last)
            and is_numeric(head)
            and len(last.text) >= len(head.text)
            and int(last.text[:6]) > int(head.text[:6])
            and (mark.glued or mark.sort is Sort.WORD or not self.is_opus)
        )

    def _is_second_numbering(self) -> bool:
        """Whether a bracket with Köchel's other numbering follows: "(300i)", "(K. 173dB)"."""
        bracket = self.at()
        if self.prefix not in _KOCHEL or bracket.sort is not Sort.BRACKET:
            return False
        text = bracket.text
        letters = sum(ch.isalpha() for ch in text.replace("KV", "").replace("K", ""))
        return (
            0 < len(text) <= 8
            and (text[0].isdigit() or text[0] == "K")
            and any(ch.isdigit() for ch in text)
            and letters <= 2
        )
