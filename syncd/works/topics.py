"""Periods of composers and forms of works: what leads across composers. Pure.

The periods are those of the works engine's table of composers; who is not in it is in no period.
Forms are found in a work's title by the works engine's words, so "Piano Sonata No. 14" is a sonata
and "Prelude and Fugue" both a prelude and a fugue. A title without such a word is of no form.
"""

import json
from functools import cache, lru_cache
from importlib import resources

from syncd.works.text import fold
from syncd.works.words.forms import FORMS

PERIODS = ("medieval", "renaissance", "baroque", "classical", "romantic", "modern", "contemporary")
"""In the order of time, in which they are listed."""

_LONGEST_PHRASE = 3
_LONGEST_TITLE_CHARS = 400
# A form that is named after where it comes from or what it is for is of the form it is.
_PARTICULAR = (
    "Brandenburg", "Cello", "English", "French", "German", "Hungarian", "Orchestral", "Piano",
    "Slavonic", "Symphonic",
)  # fmt: skip
_SINGULAR = {
    "Album Leaves": "Album Leaf",
    "Dances": "Dance",
    "Pieces": "Piece",
    "Songs": "Song",
    "Suites": "Suite",
}
_ITSELF = frozenset({"Symphonic Poem"})


def period_of(heading: str) -> str | None:
    """The period of the composer with that heading ("Bach, Johann Sebastian"), None if unknown."""
    period = _periods().get(heading)
    return period if period in PERIODS else None


@cache
def _periods() -> dict[str, str]:
    """The period of each heading in the table: all forms of names need not be indexed for it."""
    source = resources.files("syncd.works") / "data" / "composers.json"
    rows = json.loads(source.read_text(encoding="utf-8"))
    return {row["sort"]: row.get("period", "") for row in rows}


@lru_cache(maxsize=65536)
def forms_of(title: str) -> tuple[str, ...]:
    """The forms that a work's *title* names, each once, in the order of the title."""
    head = title[:_LONGEST_TITLE_CHARS].partition(" No. ")[0]
    words = "".join(c if c.isalnum() else " " for c in fold(head)).split()
    found: dict[str, None] = {}
    place = 0
    while place < len(words):
        for length in range(min(_LONGEST_PHRASE, len(words) - place), 0, -1):
            form = FORMS.get(" ".join(words[place : place + length]))
            if form is not None:
                found[_general(form)] = None
                place += length
                break
        else:
            place += 1
    return tuple(found)


def _general(form: str) -> str:
    first, _, rest = form.partition(" ")
    if form not in _ITSELF and first in _PARTICULAR and rest:
        form = rest
    return _SINGULAR.get(form, form)


@cache
def form_names() -> tuple[str, ...]:
    """Every form that :func:`forms_of` can find, in alphabetical order."""
    return tuple(sorted({_general(form) for form in FORMS.values()}))


def form_called(text: str) -> str | None:
    """The form that *text* means in any language of the table ("sonate", "Sonatas"), or None."""
    folded = " ".join(fold(text).replace("-", " ").split())
    for name in (folded, folded.removesuffix("s")):
        if name in FORMS:
            return _general(FORMS[name])
    return next((form for form in form_names() if fold(form) == folded), None)
