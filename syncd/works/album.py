"""What an album's title says: composers, one work or several, performers.

Whether the album *is* one work, so that its tracks are movements, is answered in degrees
(:attr:`AlbumReading.level`, by ``album_title_works.py``); the tracks have the last word (grouping).
What stands behind the title is read in ``album_edition.py`` and ``album_excerpts.py``.
"""

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from syncd.works.abbreviations import spelled_out
from syncd.works.album_composers import Share, read_shares, tells_of_many, without_dedications
from syncd.works.album_edition import clean_album, without_disc
from syncd.works.album_excerpts import behind_name, whole_of_excerpts
from syncd.works.album_title_works import listed_works, the_work
from syncd.works.cjk import to_western
from syncd.works.composer_pair import is_theme_of
from syncd.works.composers import Match, table
from syncd.works.ensembles import kind_of
from syncd.works.people import read_people
from syncd.works.player_roles import role_or_instrument
from syncd.works.separators import split_title
from syncd.works.text import fold
from syncd.works.title import read_title
from syncd.works.words.albums import COLLECTIVE
from syncd.works.words.compounds import compound
from syncd.works.words.forms import FORMS
from syncd.works.words.linking import FOR_WORDS
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_WORDS
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading


@dataclass(frozen=True, slots=True)
class AlbumReading:
    """An album's title taken apart.

    ``level`` of ``work``: 3 it has a number, key or catalogue number; 2 it is a known work; 1 it
    may be a work, for all its title says; 0 no single work. ``works`` are all works named,
    ``shares`` whose they are, if several men's; ``about`` says that the title is about a composer
    and does not list what is played, ``excerpts`` that only parts of the work are there.
    """

    text: str = ""
    composers: tuple[Match, ...] = ()
    prefix: Match | None = None
    family: str | None = None
    work: WorkReading | None = None
    level: int = 0
    works: tuple[WorkReading, ...] = ()
    people: tuple[str, ...] = ()
    instruments: tuple[str, ...] = ()
    only_composer: bool = False
    shares: tuple[Share, ...] = ()
    about: bool = False
    excerpts: bool = False


@lru_cache(maxsize=4096)
def read_album(original: str) -> AlbumReading:
    """Take an album's title apart. Never fails."""
    text = spelled_out(to_western(clean_album(original)))
    if not text:
        return AlbumReading(original)
    edition = spelled_out(to_western(without_disc(original)))
    opera = whole_of_excerpts(edition)
    if opera is None and edition != text:
        opera = whole_of_excerpts(text)
    if opera is not None:
        return replace(_read(original, opera), excerpts=True)
    return _read(original, text)


def _read(original: str, text: str) -> AlbumReading:
    """The reading of *text*, which is the title *original* without remarks."""
    whole = table().exact(text)
    if whole is not None:
        return AlbumReading(original, (whole,), whole, only_composer=True)
    if table().leading_family(text) == len(text):
        return AlbumReading(original, family=text, only_composer=True)
    several = _composers_only(text)
    if several:
        shares = tuple(Share(match) for match in several)
        return AlbumReading(original, several, None, only_composer=True, shares=shares)
    reading = read_title(text)
    prefix, family = reading.composer, reading.family
    composers: list[Match] = [prefix] if prefix is not None else []
    people = list(reading.people)
    segments = list(reading.segments)
    kept: list[str] = []
    for segment in segments:
        if kept and _is_people(segment):
            people.append(segment)
        else:
            kept.append(segment)
    pieces = split_title(text) if prefix is None else []
    if len(pieces) > 1:
        first = pieces[0][0].strip()
        several = _composers_only(first)
        if several:
            composers.extend(several)
            kept = kept[1:] if kept and kept[0] == first else kept
    for found in table().mentioned(without_dedications(text)):
        if all(found.entry is not have.entry for have in composers):
            composers.append(found)
    if prefix is None and not composers:
        head = table().leading(text)
        if head is not None:
            match, length = head
            rest = text[length:].strip(" ,:;-–'’")
            rest = rest[2:] if rest.startswith("s ") else rest
            if _may_follow_composer(rest):
                composers.append(match)
                prefix = match
                kept = [rest]
        elif family is None and (length := table().leading_family(text)):
            rest = text[length:].strip(" ,:;-–'’")
            if _may_follow_composer(rest):  # "Scarlatti Sonatas"
                family, kept = text[:length], [rest]
    if prefix is not None and kept and not is_theme_of("", f" {kept[0]}"):
        prefix, kept, composers = _played_by_prefix(prefix, kept, composers)
    works = [read_work(part) for segment in kept for part in listed_works(segment)]
    work, level = the_work(kept, works, prefix)
    if level == 1 and _OF_SEVERAL.search(fold(text)) is not None:
        work, level = None, 0
    if not people:
        people.extend(_people_in_bracket(text))
    instruments = tuple(
        dict.fromkeys(name for one in works if one.form for name in one.instruments)
    )
    return AlbumReading(
        text=original,
        composers=tuple(composers),
        prefix=prefix,
        family=family,
        work=work,
        level=level,
        works=tuple(w for w in works if w.strength >= 1 or w.title),
        people=tuple(people),
        instruments=instruments,
        shares=read_shares(text),
        about=bool(composers) and tells_of_many(text),
    )


_OF_SEVERAL = re.compile(r"\b(?:hommages|homages|omaggi|homenajes|tombeaux|tributes|hommagen)\b")


def _played_by_prefix(
    prefix: Match, kept: list[str], composers: list[Match]
) -> tuple[Match, list[str], list[Match]]:
    """Prefix, pieces and composers of "Bernstein: Mahler Symphony No. 1": the second composed."""
    inner = table().leading(kept[0])
    if inner is None or inner[0].entry is prefix.entry:
        return prefix, kept, composers
    rest = kept[0][inner[1] :]
    if is_theme_of(inner[0].entry.name, rest) or read_work(rest.strip(" ,:")).strength < 2:
        return prefix, kept, composers
    match = replace(inner[0], confidence=0.7)
    others = [one for one in composers if one.entry is not prefix.entry]
    return match, [behind_name(kept[0], inner[1]), *kept[1:]], [match, *others]


def _may_follow_composer(rest: str) -> bool:
    """Whether *rest* can stand behind a composer's name: "Sonatas", "The Complete Works", "2"."""
    words = fold(rest).split()
    return rest.isdigit() or any(
        word.strip(".,:&") in COLLECTIVE or word in FORMS or compound(word) for word in words
    )


_NAMES_MARK = re.compile(r"\s*(?:[/,;&+|•]|\s[-–—]\s|\band\b|\bund\b|\bet\b|\be\b|\by\b)\s*")
_BETWEEN_NAMES = re.compile(r"[/,;&+|•–—-]|\W(?:and|und|et|e|y)\b")  # found quickly


def _composers_only(text: str) -> tuple[Match, ...]:
    """The composers if *text* is nothing but their names ("Berg / Stravinsky", "Reger & Wolf")."""
    if _BETWEEN_NAMES.search(text) is None:
        return ()
    parts = [p for p in _NAMES_MARK.split(text) if p]
    if not 2 <= len(parts) <= 8:
        return ()
    found = [table().exact(part) for part in parts]
    return tuple(match for match in found if match is not None) if all(found) else ()


_LAST_BRACKET = re.compile(r"[(\[]([^()\[\]]{4,})[)\]]\s*$")


def people_of_folder(name: str) -> tuple[str, ...]:
    """Who plays, as the end of a folder's name says in brackets: "Haydn (Tarn Quartet)"."""
    return tuple(_people_in_bracket(name)) if name.endswith((")", "]")) else ()


def _people_in_bracket(text: str) -> list[str]:
    """Performers in brackets at the end of an album's title: "[Linden Quartet]"."""
    found = _LAST_BRACKET.search(text)
    if found is None or read_work(found.group(1)).strength >= 2:
        return []
    if fold(found.group(1)).partition(" ")[0] in FOR_WORDS:
        return []  # "(for violin & piano)"
    people = read_people(found.group(1))
    told = any(p.kind in ("ensemble", "choir") or p.instruments or p.roles for p in people)
    return [found.group(1)] if told else []


def _is_people(segment: str) -> bool:
    folded = fold(segment)
    if read_work(segment).strength >= 2:
        return False
    words = re.findall(r"[^\W_]+", folded)
    if kind_of(segment.partition(",")[0].strip()) == "ensemble" and not FORMS.keys() & set(words):
        return True
    if any(word in ENSEMBLE_WORDS or word in CHOIR_WORDS for word in words):
        return not any(word in FORMS for word in words) or len(words) > 3
    bracket = re.search(r"\(([^()]*)\)", segment)
    if bracket is not None and role_or_instrument(bracket.group(1)) is not None:
        return True
    tail = segment.rpartition(",")[2]
    return bool(tail) and tail != segment and role_or_instrument(tail) is not None
