"""What well-known works consist of: the order of their pieces, and which are for the stage.

Like ``known_works.py`` an aid: it tells where an order on a disc can or cannot be the movements'
numbers, and never gives a number itself. Data: ``data/contents.json`` (pieces by their place, with
gaps where only some are known; a work counted in several ways has several rows) and
``data/stage.json`` (operas, ballets, music for plays, oratorios, passions).
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from typing import Any

from syncd.works.text import title_key


@dataclass(frozen=True, slots=True)
class Contents:
    """One way to count a work's pieces: the names of each, as ``title_key`` compares them."""

    names: dict[int, tuple[str, ...]]

    def agrees(self, number: int, title: str) -> bool | None:
        """Whether the piece called *title* is the one at *number*; None if it is not listed."""
        text = f" {title_key(title)} "
        if any(f" {name} " in text for name in self.names.get(number, ())):
            return True
        listed = any(f" {name} " in text for names in self.names.values() for name in names)
        return False if listed else None

    def covered(self, titles: Sequence[str]) -> bool:
        """Whether *titles* have all pieces in order, however tracks join or part them."""
        place, last = 0, max(self.names)
        if last != len(self.names):
            return False  # only some of the pieces are known
        for title in titles:
            before = place
            while place < last and self.agrees(place + 1, title):
                place += 1
            if place == before and self.agrees(place, title) is False:
                return False
        return place == last


@cache
def _contents() -> dict[tuple[str, str], list[Contents]]:
    found: dict[tuple[str, str], list[Contents]] = {}
    for row in _read("contents.json"):
        names = {int(n): tuple(map(title_key, texts)) for n, texts in row["pieces"].items()}
        found.setdefault((row["composer"], title_key(row["whole"])), []).append(Contents(names))
    return found


@cache
def _stage() -> frozenset[tuple[str, str]]:
    rows = _read("stage.json")
    return frozenset((composer, title_key(t)) for composer, titles in rows.items() for t in titles)


def _read(name: str) -> Any:
    source = resources.files("syncd.works") / "data" / name
    return json.loads(source.read_text(encoding="utf-8"))


def _lists(composer: str | None, whole: str) -> Sequence[Contents]:
    return _contents().get((composer or "", title_key(whole)), ())


@lru_cache(maxsize=4096)
def is_for_stage(composer: str | None, title: str) -> bool:
    """Whether *title* of *composer* is a known opera, ballet, oratorio or the like."""
    return composer is not None and (composer, title_key(title)) in _stage()


def are_all(composer: str | None, whole: str, titles: Sequence[str]) -> bool:
    """Whether *titles* are known to be all pieces of *whole*, in order."""
    return any(one.covered(titles) for one in _lists(composer, whole))


def agreements(
    composer: str | None, whole: str, titles: Sequence[tuple[int, str]]
) -> list[bool | None]:
    """Of each (number, title): whether the work has that piece there; None where it is not known.

    Of several ways to count a work the one that agrees with the most of the first titles counts.
    """
    lists = _lists(composer, whole)
    answers = [[one.agrees(number, title) for number, title in titles] for one in lists]
    if not answers:
        return [None] * len(titles)
    return max(answers, key=_leading)


def _leading(answer: Sequence[bool | None]) -> tuple[int, int]:
    end = answer.index(False) if False in answer else len(answer)
    return end, answer[:end].count(True)
