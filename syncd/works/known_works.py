"""Well-known works by catalogue number and by title, so that spellings fall together.

The table is an aid, never evidence that a number or key stands in the tags: it gives the customary
title and tells a work's name from a heading. Data: ``data/works.json``.
"""

import json
from dataclasses import dataclass
from functools import cache, lru_cache
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
    """The table, by composer and number and by composer and title."""

    def __init__(self, rows: list[dict[str, object]]) -> None:
        self.by_number: dict[tuple[str, str], KnownWork] = {}
        self.by_title: dict[str, list[KnownWork]] = {}
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
            for number in catalogue:
                self.by_number.setdefault((work.composer, number), work)
            for name in dict.fromkeys((work.title, *names)):
                self.by_title.setdefault(title_key(name), []).append(work)


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


@lru_cache(maxsize=16384)
def by_number(composer: str, numbers: tuple[str, ...]) -> KnownWork | None:
    """The known work of *composer* that has one of *numbers*."""
    table = known_works().by_number
    for number in numbers:
        found = table.get((composer, number))
        if found is not None:
            return found
    return None


@lru_cache(maxsize=16384)
def by_title(composer: str | None, title: str) -> KnownWork | None:
    """The one known work called *title*, of *composer* or (None) of whoever alone has one so called."""  # noqa: E501
    found = known_works().by_title.get(title_key(title), [])
    if composer is not None:
        own = [work for work in found if work.composer == composer]
        if len(own) >= 1 and all(work.title == own[0].title for work in own):
            return own[0]
        return None
    composers = {work.composer for work in found}
    return found[0] if len(composers) == 1 else None
