"""A number as it was read, before it is known whose it is; and the place up to which was read."""

from collections.abc import Sequence
from dataclasses import dataclass

from syncd.works.tokens import Sort, Token

_END = Token(Sort.MARK, "", "", -1, -1, False)


@dataclass(frozen=True, slots=True)
class RawNumber:
    """A number as it was read: folded prefix, main number, number within it, where it stood."""

    prefix: str
    main: str
    sub: str | None = None
    posthumous: bool = False
    annex: bool = False
    start: int = 0
    end: int = 0
    text: str = ""
    sure: bool = True  # False where the letters are so short that they may mean something else
    listed: bool = False  # one of several in a list: "Opp. 21 & 36"
    movement: int | None = None  # behind a slash where works have no pieces: "BWV 846/1"

    @property
    def several(self) -> bool:
        """Whether the text gives the numbers of several works here, as a list or a range."""
        return self.listed or "–" in self.main or "–" in (self.sub or "")


class Cursor:
    """A place in a list of tokens, from the letters of a number on."""

    def __init__(self, tokens: Sequence[Token], start: int) -> None:
        self.tokens = tokens
        self.start = start
        self.position = start + 1

    def at(self, offset: int = 0) -> Token:
        """The token *offset* places on, or one that is empty where the list has ended."""
        place = self.position + offset
        return self.tokens[place] if place < len(self.tokens) else _END

    def made(
        self,
        prefix: str,
        main: str,
        sub: str | None = None,
        posthumous: bool = False,
        annex: bool = False,
        sure: bool = True,
    ) -> RawNumber:
        """The number that ends here."""
        text = f"{self.tokens[self.start].text} {main}".strip() + (f"/{sub}" if sub else "")
        return RawNumber(
            prefix, main, sub, posthumous, annex, self.start, self.position, text, sure
        )


def is_numeric(token: Token) -> bool:
    """Whether *token* is written in digits."""
    return token.sort is Sort.NUMBER


def plain_digits(token: Token) -> str:
    """The digits of *token* without leading zeros, six of them at the most."""
    return str(int(token.text[:6]))
