"""Whether a name or title that a listener wrote means one that the library has. Pure.

As the works engine compares them: without case, accents and typographic variety, umlauts in either
spelling, other scripts by their Latin letters, initials for names, catalogue numbers as the
catalogue writes them. Nothing is guessed: what is nearly right is only suggested.
"""

import fnmatch
import re
from collections.abc import Iterable
from functools import lru_cache

from anyascii import anyascii
from rapidfuzz import fuzz, process

from syncd.model import Composer, Work
from syncd.works.composer_names import name_key
from syncd.works.composers import Entry, table
from syncd.works.known_works import by_number, known_works, the_one
from syncd.works.numbers.meaning import parse_number
from syncd.works.text import fold, fold_german, title_key

_NEAR = 75.0
"""How alike a name must be to be suggested, of 100."""

_FIRST_WITHOUT_SPACES = "\u2e80"
"""From this letter on (CJK), writing does not part words."""


def name_fits(asked: str, name: str) -> bool:
    """Whether *asked* means the person or ensemble called *name*.

    Each word asked for must be one of the name's; an initial stands for a word that begins so.
    With ``*`` (any letters) or ``?`` (one letter) the whole name must be so.
    """
    if _is_pattern(asked):
        return _pattern_fits(asked, name)
    return any(
        _words_fit(mine, theirs) for mine in _spellings(asked) for theirs in _spellings(name)
    )


def composer_fits(asked: str, composer: Composer) -> bool:
    """Whether *asked* means *composer*.

    A name that means one known composer means nobody else: "Bach" is Johann Sebastian, as in any
    shop; a family name that custom gives to nobody means all who bear it.
    """
    entry = None if _is_pattern(asked) else _known_composer(asked)
    if entry is not None and entry.sort == composer.sort:
        return True
    if entry is not None and composer.sort in table().by_sort:
        return False
    if entry is not None:  # somebody whom the table does not have: only by the very name
        return name_key(asked) in (name_key(composer.name), name_key(composer.sort))
    return name_fits(asked, composer.sort) or name_fits(asked, composer.name)


def text_fits(asked: str, text: str) -> bool:
    """Whether the words *asked* for stand in *text*, one after the other.

    With ``*`` or ``?`` the whole text must be so.
    """
    if _is_pattern(asked):
        return _pattern_fits(asked, text)
    wanted = title_key(asked)
    if not wanted:
        return False
    if any(letter >= _FIRST_WITHOUT_SPACES for letter in wanted):
        return wanted in title_key(text)
    return f" {wanted} " in f" {title_key(text)} "


def work_fits(asked: str, composer: str, work: Work) -> bool:
    """Whether *asked*, a title, a nickname or a catalogue number, means *work* of *composer*.

    The number of a set ("Op. 27") means all of its pieces. A work that is called by its number on
    cards has that number, be it in its tags or not.
    """
    if _is_pattern(asked):
        return _pattern_fits(asked, work.title)
    number = _number(asked, composer)
    numbers = _numbers_of(composer, work)
    if number is not None:
        return any(one == number or one.startswith(f"{number} No. ") for one in numbers)
    if not _numbers_called(asked, composer).isdisjoint(numbers):
        return True
    return text_fits(asked, work.title)


def nearest(asked: str, names: Iterable[str]) -> str | None:
    """The one of *names* that *asked* was probably meant to be, None if none is near."""
    known = sorted(set(names))
    found = process.extractOne(
        asked, known, scorer=fuzz.WRatio, processor=_for_likeness, score_cutoff=_NEAR
    )
    return found[0] if found is not None else None


def known_composer(asked: str) -> str | None:
    """The known composer whom *asked* names, in sort form."""
    entry = _known_composer(asked)
    return entry.sort if entry is not None else None


def known_composer_near(asked: str) -> str | None:
    """The known composer whom *asked* probably means, be anything of theirs in the library."""
    found = table().near(asked)
    if found is not None:
        return found.entry.sort
    return nearest(asked, (entry.sort for entry in table().entries if entry.famous))


def plain(text: str) -> str:
    """*text* as the words of the trade are compared: folded, single spaces."""
    return " ".join(fold(text).replace("-", " ").split())


def _is_pattern(asked: str) -> bool:
    return "*" in asked or "?" in asked


def _pattern_fits(asked: str, text: str) -> bool:
    return _pattern(asked).match(fold(text)) is not None


@lru_cache(maxsize=1024)
def _pattern(asked: str) -> re.Pattern[str]:
    return re.compile(fnmatch.translate(fold(asked).replace("[", "[[]")))


@lru_cache(maxsize=1024)
def _known_composer(asked: str) -> Entry | None:
    found = table().exact(asked)
    return found.entry if found is not None else None


@lru_cache(maxsize=8192)
def _number(asked: str, composer: str) -> str | None:
    entry = table().by_sort.get(composer)
    return parse_number(asked, entry.systems if entry is not None else None, composer or None)


@lru_cache(maxsize=65536)
def _numbers_of(composer: str, work: Work) -> frozenset[str]:
    """The numbers in *work*'s tags, and those by which the table knows it, as cards do."""
    known = (
        by_number(composer, work.catalogue)
        if work.catalogue
        else the_one(composer, work.title, work.key)
    )
    return frozenset(work.catalogue if known is None else (*work.catalogue, *known.catalogue))


@lru_cache(maxsize=8192)
def _numbers_called(asked: str, composer: str) -> frozenset[str]:
    """The catalogue numbers of the works of *composer* that are known by the name *asked*."""
    rows = known_works().by_title.get(title_key(asked), [])
    only = the_one(composer, asked)  # "Waldstein Sonata" as well
    works = [*(row for row in rows if row.composer == composer), *([only] if only else [])]
    return frozenset(number for work in works for number in work.catalogue)


@lru_cache(maxsize=65536)
def _spellings(name: str) -> tuple[tuple[str, ...], ...]:
    """The words of *name* in each way in which it may be spelled."""
    if name.isascii():
        return (tuple(name_key(name).split()),)
    keys = (name_key(name), name_key(fold_german(name)), name_key(anyascii(name)))
    return tuple(dict.fromkeys(tuple(key.split()) for key in keys))


def _words_fit(asked: tuple[str, ...], name: tuple[str, ...]) -> bool:
    if not any(len(word) > 1 for word in asked):
        return bool(asked) and asked == name
    left = list(name)
    initials = []
    for word in asked:
        if word in left:
            left.remove(word)
        else:
            initials.append(word)
    if len(initials) == len(asked):
        return False  # initials alone name nobody
    for word in initials:
        match = next((one for one in left if _stands_for(word, one)), None)
        if match is None:
            return False
        left.remove(match)
    return True


def _stands_for(word: str, other: str) -> bool:
    return (len(word) == 1 and other.startswith(word)) or (
        len(other) == 1 and word.startswith(other)
    )


def _for_likeness(text: str) -> str:
    return name_key(anyascii(text))
