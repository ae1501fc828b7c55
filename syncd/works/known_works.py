"""Well-known works by catalogue number and by title, so that spellings fall together.

The table is an aid, never evidence that a number or key stands in the tags: it gives the customary
title and tells a work's name from a heading. Data: ``data/works.json``.
"""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from importlib import resources

from syncd.works.text import title_key


@dataclass(frozen=True, slots=True)
class KnownWork:
    """One row of the table."""

    composer: str
    title: str
    catalogue: tuple[str, ...]
    key: str | None
    names: tuple[str, ...]


class KnownWorks:
    """The table, by composer and number and by title.

    Titles are made comparable when they are first asked for: of one composer, or of all.
    """

    def __init__(self, rows: list[dict[str, object]]) -> None:
        self.by_number: dict[tuple[str, str], KnownWork] = {}
        self.numbered: set[tuple[str, str]] = set()
        self._all: list[KnownWork] = []
        self._of: dict[str, list[KnownWork]] = {}
        self._titles_of: dict[str, dict[str, list[KnownWork]]] = {}
        for row in rows:
            catalogue = _texts(row.get("catalogue"))
            names = _texts(row.get("nicknames")) + _texts(row.get("aliases"))
            key = row.get("key")
            work = KnownWork(
                str(row["composer"]),
                str(row["title"]),
                catalogue,
                key if isinstance(key, str) else None,
                names,
            )
            head, mark, _ = work.title.partition(" No. ")
            if mark:
                self.numbered.add((work.composer, head))
            for number in catalogue:
                self.by_number.setdefault((work.composer, number), work)
            self._of.setdefault(work.composer, []).append(work)
            self._all.append(work)

    @cached_property
    def by_title(self) -> dict[str, list[KnownWork]]:
        """All works by their titles and other names, as ``title_key`` compares them."""
        return _by_title(self._all)

    def called(self, composer: str, title: str) -> list[KnownWork]:
        """The works of *composer* that are called *title*."""
        if composer not in self._titles_of:
            self._titles_of[composer] = _by_title(self._of.get(composer, ()))
        return self._titles_of[composer].get(title_key(title), [])


def _by_title(works: Iterable[KnownWork]) -> dict[str, list[KnownWork]]:
    found: dict[str, list[KnownWork]] = {}
    for work in works:
        for name in dict.fromkeys((work.title, *work.names)):
            found.setdefault(title_key(name), []).append(work)
    return found


def _texts(value: object) -> tuple[str, ...]:
    if isinstance(value, str):
        return (value,)
    if isinstance(value, list):
        return tuple(str(item) for item in value)
    return ()


@cache
def known_works() -> KnownWorks:
    """The package's table, read once on first use."""
    source = resources.files("syncd.works") / "data" / "works.json"
    if not source.is_file():
        return KnownWorks([])
    return KnownWorks(json.loads(source.read_text(encoding="utf-8")))


def by_number(composer: str, numbers: tuple[str, ...]) -> KnownWork | None:
    """The known work of *composer* that has one of *numbers*."""
    table = known_works().by_number
    for number in numbers:
        found = table.get((composer, number))
        if found is not None:
            return found
    return None


@lru_cache(maxsize=4096)
def by_title(composer: str | None, title: str) -> KnownWork | None:
    """The one known work called *title*, of *composer* or (None) of whoever alone has one so called."""  # noqa: E501
    if composer is not None:
        own = known_works().called(composer, title)
        if len(own) >= 1 and all(work.title == own[0].title for work in own):
            return own[0]
        return None
    found = known_works().by_title.get(title_key(title), [])
    composers = {work.composer for work in found}
    return found[0] if len(composers) == 1 else None


_OF_SET = re.compile(
    r"(?P<one>\D*[^\W\d_])\s*,?\s+(?:no|nr|n|№)?\s*[.°º]?\s*\d{1,2}", re.IGNORECASE
)


@lru_cache(maxsize=4096)
def set_of(composer: str | None, title: str) -> KnownWork | None:
    """The set of which *title* is one piece: "Gymnopédie No. 1" of "Gymnopédies".

    Only where nobody but *composer* (or, None, but one) has a set so called.
    """
    found = _OF_SET.fullmatch(title)
    if found is None:
        return None
    for name in (found["one"], f"{found['one']}s"):
        known = by_title(None, name)
        if known is not None and composer in (None, known.composer):
            return known
    return None


@lru_cache(maxsize=4096)
def the_one(composer: str, title: str, key: str | None = None) -> KnownWork | None:
    """The work that *title* means beyond doubt among those of *composer*, or None.

    A bare form ("Piano Sonata") means nothing where the composer has several; a *key* that is not
    the work's speaks against it. Titles, nicknames and nicknames before the form
    ("Waldstein Sonata") count.
    """
    found = _own(composer, title)
    if not found:
        nickname, _, form = title.rpartition(" ")
        found = [work for work in _own(composer, nickname) if form in work.title.split(" ")]
    if len(found) != 1 or (composer, title) in known_works().numbered:
        return None
    work = found[0]
    return None if key and work.key and key != work.key else work


def _own(composer: str, title: str) -> list[KnownWork]:
    if not title:
        return []
    return list(dict.fromkeys(known_works().called(composer, title)))


def identity_of(
    composer: str, title: str, numbers: tuple[str, ...], key: str | None = None
) -> tuple[str, str]:
    """What makes a work the same work, in whatever way its tags name it: (composer, sign).

    The sign is the first catalogue number by which the table knows the work, be it found by any of
    *numbers* or, without numbers, by a *title* that can mean no other; else the tags' own first
    number, else the title. It is for comparing and never shown as if the tags had said it.
    """
    number = number_of(composer, title, numbers, key)
    if number is not None:
        return composer, number
    known = the_one(composer, title, key)
    return composer, title_key(known.title if known is not None else title)


@lru_cache(maxsize=4096)
def number_of(
    composer: str, title: str, numbers: tuple[str, ...], key: str | None = None
) -> str | None:
    """The one number by which a work is shelved, whichever of its numbers the tags give, or none.

    None where neither the tags nor the table know a number.
    """
    known = by_number(composer, numbers) if numbers else the_one(composer, title, key)
    if known is not None and known.catalogue:
        return known.catalogue[0]
    return numbers[0] if numbers else None
