"""Whose names stand before or behind a title: players, the composer, his arranger.

They are taken away from the pieces, one kind after the other; what is left is cut by
``title_cut.py``, which also sees to names in brackets. Whether a family name behind a title is the
composer's is left to the folder.
"""

import re
from dataclasses import replace
from functools import lru_cache

from syncd.works.composer_pair import is_theme_of, read_loose_pair, read_pair
from syncd.works.composers import Match, table
from syncd.works.known_works import by_title
from syncd.works.movement import is_heading
from syncd.works.text import fold, title_key
from syncd.works.words.common_titles import COMMON_TITLES
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_WORDS
from syncd.works.worktitle.reader import read_work

_PLAYER = re.compile(r"\((?:violine?|piano|klavier|cello)\)")
_AROUND = " ,.-'’"  # what may stand between a name and the title


class Names:
    """The *pieces* of the title *text*, each with its offset, and the names taken from them."""

    def __init__(self, text: str, pieces: list[tuple[str, int]]) -> None:
        self.text, self.pieces = text, pieces
        self.people: list[str] = []
        self.composer: Match | None = None
        self.composer_text: str | None = None
        self.family: str | None = None  # fits several composers
        self.pair: str | None = None
        self.trailing: Match | None = None
        self.trailing_family: str | None = None
        self.behind = False
        self.before = ""
        if len(pieces) > 1:
            self._players_before()
        if len(self.pieces) > 1:
            self._composer_before()
        if self.composer is None and self.family is None:
            self._composer_at_the_beginning()
        if self.composer is None and self.family is None and len(self.pieces) > 1:
            self._composer_behind()

    def _players_before(self) -> None:
        first = self.pieces[0][0]
        if (
            _looks_like_people(first)
            and read_work(first).strength == 0
            and any(read_work(piece).strength >= 2 for piece, _ in self.pieces[1:])
        ):
            self.people.append(first)
            self.pieces = self.pieces[1:]

    def _composer_before(self) -> None:
        """A composer in a piece of his own: "Brahms: Ballade"."""
        pieces = self.pieces
        first = pieces[0][0]
        found = _composer_segment(first)
        if found is not None and not is_heading(first):
            self.composer, self.composer_text = found, first
            if len(pieces) > 2 and "/" in self.text[pieces[0][1] + len(first) : pieces[1][1]]:
                second = _composer_segment(pieces[1][0])
                if second is not None and second.entry is not found.entry:
                    self.pair = pieces[1][0].strip()  # "Schumann / Liszt - Widmung"
                    pieces = pieces[1:]
            self.pieces = pieces[1:]
        elif _is_family(first, pieces[1][0]):
            self.family = first
            self.pieces = pieces[1:]
        elif (both_named := _pair_before(pieces)) is not None:
            self.composer, self.pair, self.composer_text, self.pieces = both_named
        elif (near := table().near_family(first)) and read_work(pieces[1][0]).strength >= 2:
            self.composer, self.composer_text = near, first
            self.pieces = pieces[1:]
        elif len(pieces) > 2:
            both = _composer_segment(first.strip() + " " + pieces[1][0].strip())
            if both is not None:
                self.composer, self.composer_text = both, first
                self.pieces = pieces[2:]

    def _composer_at_the_beginning(self) -> None:
        """A composer in the first piece, with the title behind him: "Brahms Ballade"."""
        first = self.pieces[0][0]
        head = table().leading(first)
        if head is None:
            length = table().leading_family(first)
            rest = first[length:].lstrip(_AROUND) if length else ""
            if rest and read_work(rest).strength >= 2:  # "Scarlatti Sonata in E, K. 380"
                self.family = first[:length]
                self._begin_with(rest, length)
            return
        match, length = head
        after = first[length:]
        if is_theme_of(first[:length], after):
            return  # "Diabelli Variations"
        rest = after.lstrip(_AROUND)
        rest = rest.removeprefix("s ") if after[:2] in ("'s", "’s") else rest
        if rest:
            reading = read_work(rest)
            if reading.strength >= 1 or (after.startswith((",", ":")) and reading.title):
                self.composer, self.composer_text = match, first[:length]
                self._begin_with(rest, length)

    def _begin_with(self, rest: str, length: int) -> None:
        """Let the first piece begin with its *rest* behind a name of *length* letters."""
        first, at = self.pieces[0]
        self.pieces = [(rest, at + first.index(rest, length)), *self.pieces[1:]]

    def _composer_behind(self) -> None:
        """ "Ave Maria - Franz Schubert". A family name alone is left to the folder."""
        last = self.pieces[-1][0]
        title, at = self.pieces[-2]
        before = self.text[: at + len(title)]
        found = _composer_segment(last)
        if found is None:
            both = read_pair(last)
            if both is not None:
                found, self.pair = replace(both[0], how="name"), both[1]
            elif len(last) < 40 and len(table().family(last)) > 1:
                self.trailing_family = last
                self.before = before
        if found is None or found.how == "initials that fit several":
            return
        self.before = before
        if found.how == "family name":
            self.trailing = found
        else:
            self.behind = True
            self.composer, self.composer_text = found, last
            self.text = before
            self.pieces = self.pieces[:-1]


@lru_cache(maxsize=16384)
def _composer_segment(text: str) -> Match | None:
    """The composer that a whole segment names, or None. Titles that are also names are not."""
    if len(text) > 60:
        return None
    return table().exact(text.strip())


def _is_family(first: str, following: str) -> bool:
    """Whether *first* before a title is the family name of composers.

    Of several, or of one who needs a work behind it because the name is a word, too: "Field".
    """
    members = len(table().family(first))
    if members != 1:
        return members > 1
    if by_title(None, first) is not None or title_key(first) in COMMON_TITLES:
        return False
    reading = read_work(following)
    return reading.strength >= 2 or (reading.plural and reading.structured)


def _looks_like_people(text: str) -> bool:
    folded = fold(text)
    words = folded.replace(",", " ").replace("(", " ").replace(")", " ").split()
    return (
        not ENSEMBLE_WORDS.isdisjoint(words)
        or not CHOIR_WORDS.isdisjoint(words)
        or ("(" in folded and _PLAYER.search(folded) is not None)
    )


def _pair_before(
    pieces: list[tuple[str, int]],
) -> tuple[Match, str, str, list[tuple[str, int]]] | None:
    """Composer and arranger before a title, the text that names them, and the pieces behind it."""
    first = read_pair(pieces[0][0]) or read_loose_pair(pieces[0][0])
    if first is not None:
        return *first, pieces[0][0], pieces[1:]
    if len(pieces) > 2:
        both = read_pair(f"{pieces[0][0].strip()} - {pieces[1][0].strip()}")
        if both is not None:
            return *both, pieces[0][0], pieces[2:]
    return None
