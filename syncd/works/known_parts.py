"""Parts of well-known works that go by their own names: arias, choruses, pieces of a set.

"Nessun dorma" is Turandot's, "Waltz of the Flowers" The Nutcracker's. Only what means one work and
no other stands here. Like ``known_works.py`` an aid: it tells where a title belongs, never that a
number or key stands in the tags. Data: ``data/parts.json``.
"""

import json
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources

from syncd.works.text import title_key


@dataclass(frozen=True, slots=True)
class KnownPart:
    """Whose work a part belongs to: sort form and title as ``known_works.py`` has them."""

    composer: str
    whole: str


@cache
def _parts() -> dict[str, KnownPart]:
    source = resources.files("syncd.works") / "data" / "parts.json"
    rows = json.loads(source.read_text(encoding="utf-8"))
    return {
        title_key(name): KnownPart(row["composer"], row["whole"])
        for row in rows
        for name in row["parts"]
    }


@lru_cache(maxsize=8192)
def part_called(title: str) -> KnownPart | None:
    """The work that the part called *title* belongs to, or None."""
    return _parts().get(title_key(title)) if title else None
