"""The works that an album's title lists, and which of them the whole album may be.

How sure that is, is told in degrees: ``AlbumReading.level`` of ``album.py``.
"""

import re

from syncd.works.composers import Match
from syncd.works.known_works import KnownWork, by_title
from syncd.works.text import fold, title_key
from syncd.works.words.albums import COLLECTIVE
from syncd.works.words.common_titles import COMMON_TITLES
from syncd.works.words.forms import SECTION_FORMS
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading

_SETS = frozenset({"Prelude", "Étude", "Caprice", "Song", "Songs", "Impromptu", "Bagatelle", "Variations",  # noqa: E501
                   "Piece", "Pieces", "Dance", "Invention", "Mazurka", "Nocturne", "Waltz", "Intermezzo",  # noqa: E501
                   "Slavonic Dances", "Hungarian Dances", "Symphonic Dances", "Madrigal", "Motet", "Concert Étude",  # noqa: E501
                   "Romance", "Capriccio", "Humoresque", "Psalm", "Album Leaves", "Piano Pieces", "Rhapsody"})  # fmt: skip  # noqa: E501


_OUTSIDE = r"(?![^()\[\]]*[)\]])"  # of brackets, which may list who plays
_BETWEEN_WORKS = re.compile(rf"(?:\s*[;/|+]\s*|\s+&\s+(?=[A-ZÀ-Þ])){_OUTSIDE}")
_COMMA = re.compile(rf",\s+(?=[A-ZÀ-Þ]){_OUTSIDE}")


def listed_works(segment: str) -> list[str]:
    """Works listed in one piece of an album's title: "Clarinet Concerto; Eclogue", "A & B"."""
    parts = [part.strip() for part in _BETWEEN_WORKS.split(segment) if part.strip()]
    out: list[str] = []
    for part in parts:
        pieces = [p.strip() for p in _COMMA.split(part) if p.strip()]
        readings = [read_work(piece) for piece in pieces]
        plain = sum(1 for r in readings if r.title and not (r.raws and not r.form and not r.proper))
        only_facts = any((r.raws or r.key) and not r.proper and not r.form for r in readings)
        if (
            len(pieces) > 1
            and plain == len(pieces)
            and not only_facts
            and not any(_is_volume(piece) for piece in pieces[1:])
        ):
            out.extend(pieces)
        else:
            out.append(part)
    return out


def _is_volume(text: str) -> bool:
    """Whether *text* is a volume of a work ("Book I", "Livre 2", "Act 1")."""
    words = fold(text).split()
    return bool(words) and words[0] in (
        "book", "livre", "buch", "libro", "band", "heft", "teil", "part", "act", "akt", "vol", "op", "bwv", "k",  # noqa: E501
    )  # fmt: skip


_AND_OTHERS = re.compile(
    r"(?:&|\+|\b(?:and|und|et|e|ed|y|en|och|og|a|i|and some|mit|with))\s+"
    r"(?:other|andere|weitere|autres|altr[ei]|otr[ao]s|andere|andra|andre|dalsi|inne)\b"
)


def _known(composer: str | None, title: str) -> KnownWork | None:
    """The known work of an album's title; "Evening" without a composer means none."""
    if composer is None and title_key(title) in COMMON_TITLES:
        return None
    return by_title(composer, title)


def the_work(
    kept: list[str], works: list[WorkReading], prefix: Match | None
) -> tuple[WorkReading | None, int]:
    """The one work of the pieces *kept* of a title, and its level; *works* are those it lists.

    *prefix* is the composer before the title.
    """
    named = [work for work in works if work.title or work.raws]
    composer = prefix.entry.sort if prefix is not None else None
    whole = read_work(", ".join(kept)) if kept else None
    if whole is not None and len(kept) >= 1:
        known = _known(composer, whole.proper or whole.title)
        if known is not None and not (whole.plural and whole.form not in _SETS and whole.range):
            return whole, 2
    if (
        (len(kept) > 1 or len(named) > 1)
        and whole is not None
        and len({(raw.prefix, raw.main) for raw in whole.raws}) >= 1
        and not any(mark in kept[0] + kept[-1] for mark in ";&/+")
        and (len(kept) > 1 or any(_is_volume(work.text) for work in named[1:]))
        and not whole.range
        and sum(1 for work in named if work.raws) == 1
        and named[-1].raws
        and not any(work.form and work.number is not None for work in named[:-1])
    ):
        return whole, 3  # "Années de pèlerinage, Deuxième année: Italie, S. 161"
    if len(named) != 1:
        if (
            len(kept) == 1
            and whole is not None
            and len(whole.raws) >= 1
            and not whole.range
            and whole.form
        ):
            return whole, 3
        if (
            len(named) > 1
            and named[0].raws
            and all(not w.raws and w.strength == 0 for w in named[1:])
        ):
            # "Symphony No. 5, Op. 67, Live in Altenried"
            return named[0], 1
        return None, 0
    work = named[0]
    if work.range:
        return None, 0
    if work.plural:
        if (work.raws or "Book" in work.title) and (work.form in _SETS or work.form is None):
            return work, 3
        if work.count and work.form in _SETS:
            return work, 1
        return None, 0
    if _AND_OTHERS.search(fold(work.text)) is not None:
        return None, 0
    if work.strength >= 2:
        return work, 3
    words = re.findall(r"[^\W_]+", fold(work.title))
    if any(word in COLLECTIVE for word in words):
        return None, 0
    if _known(composer, work.title) is not None:
        return work, 2
    if work.structured and work.form is not None and (work.key or work.form not in SECTION_FORMS):
        return work, 2
    return work, 1
