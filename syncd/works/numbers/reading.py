"""What looks like a number of a thematic catalogue is taken out of a text, whoever the composer is.

Which catalogue the letters mean is decided in ``meaning.py``, numbers with groups are read in
``grouped.py``.
"""

from collections.abc import Sequence

from syncd.works.numbers.grouped import GROUPED, is_hoboken, read_grouped, read_hoboken
from syncd.works.numbers.raw import Cursor, RawNumber, is_numeric, plain_digits
from syncd.works.numbers.systems import is_prefix
from syncd.works.tokens import Sort, Token, tokenize
from syncd.works.words.numerals import roman, skip_number_word
from syncd.works.words.tables import word_set

_POSTHUMOUS = frozenset({"posth", "post", "posthumous", "posthume", "posthum", "postumo"})
_OPUS = ("op", "opus")
_KOCHEL = ("k", "kv", "kochel", "koechel")
_BEFORE_NUMBER_WORDS = word_set("op opus hob woo kochel koechel deutsch anh")
_LAST_KOCHEL_PIECE = 60  # K. 331/300i gives two numberings of one catalogue, 27/2 a piece of a set
_MOST_DIGITS = 5


def read_number(tokens: Sequence[Token], index: int) -> RawNumber | None:
    """The catalogue number that begins at token *index*, or None."""
    token = tokens[index]
    if token.sort is not Sort.WORD or not is_prefix(token):
        return None
    return _Reader(tokens, index).read()


def numbers_in(text: str) -> list[RawNumber]:
    """All that looks like a catalogue number in *text*, in its order."""
    tokens = tokenize(text)
    found: list[RawNumber] = []
    position = 0
    while position < len(tokens):
        raw = read_number(tokens, position)
        if raw is None:
            position += 1
        else:
            found.append(raw)
            position = raw.end
    return found


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
        head = self.at()
        if is_numeric(head) and len(head.text) > _MOST_DIGITS:
            return None
        main = self._main(head)
        if main is None:
            return self._made("", None, True) if self.posthumous else None
        sub = self._piece()
        if self.is_opus and self.at().folded in _POSTHUMOUS:  # "Op. 66 posth."
            self.posthumous = True
            self.position += 2 if self.at(1).text == "." else 1
        if sub is None and self._is_range(head):
            main += "–" + self.at(1).text
            self.position += 2
        if self._is_second_numbering():
            self.position += 1
        sure = len(self.prefix) > 1 or self.tight or letters.isupper()
        return self._made(main, sub, sure)

    def _made(self, main: str, sub: str | None, sure: bool) -> RawNumber:
        return self.made(self.prefix, main, sub, self.posthumous, self.annex, sure)

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
            main += letters.text
            self.position += 1
        return main

    def _piece(self) -> str | None:
        """The number of a piece within a set: 27/2, 18 No. 4, 27:2, 27, 2, 27-2."""
        mark, follow = self.at(), self.at(1)
        if mark.text == "/" and mark.glued and is_numeric(follow):
            return self._after_slash(follow)
        if self.is_opus and mark.text == ":" and mark.glued and follow.glued and is_numeric(follow):
            self.position += 2
            return plain_digits(follow)
        comma = 1 if mark.text == "," else 0
        worded = skip_number_word(self.tokens, self.position + comma) - self.position
        if worded > comma and is_numeric(self.at(worded)):
            self.position += worded + 1
            return plain_digits(self.at(-1))
        if not self.is_opus:
            return None
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

    def _after_slash(self, number: Token) -> str | None:
        self.position += 2
        letters = self.at()
        lettered = letters.glued and letters.sort is Sort.WORD
        if self.prefix in ("k", "kv") and int(number.text[:6]) > _LAST_KOCHEL_PIECE:
            self.position += lettered
            return None
        if lettered and len(letters.text) == 1:
            self.position += 1
            return plain_digits(number) + letters.text
        return plain_digits(number)

    def _is_range(self, head: Token) -> bool:
        """Whether the number goes on to another one: BWV 846-869, Op. 1-3."""
        mark, last = self.at(), self.at(1)
        return (
            mark.folded in ("-", "&")
            and is_numeric(last)
            and len(last.text) >= len(head.text)
            and (mark.glued or not self.is_opus)
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
