"""The rows of the catalogue's tables, as ``arrange`` fills them and ``build`` writes them. Pure."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

PERFORMER_LISTS = ("performers", "conductors", "ensembles", "choirs", "soloists", "instruments")
"""The lists of home whose rows are in the table headings."""

HOME = (
    ("composers", "Composers"),
    ("works", "Works"),
    ("recordings", "Recordings"),
    ("performers", "Performers"),
    ("conductors", "Conductors"),
    ("ensembles", "Ensembles"),
    ("choirs", "Choirs"),
    ("soloists", "Soloists"),
    ("instruments", "Instruments and voices"),
    ("artists", "Popular artists"),
    ("albums", "Popular albums"),
    ("tracks", "Tracks"),
)
"""The lists of home, by name and label."""

Row = tuple[str | int | None, ...]
Span = tuple[int, int]
"""First id and count; 0 and 0 if there is nothing."""


@dataclass(slots=True)
class Rows:
    """The rows of every table, each table's in the order of its ids from 1 on (ids left out)."""

    home: list[Row] = field(default_factory=list)
    letters: list[Row] = field(default_factory=list)
    composers: list[Row] = field(default_factory=list)
    works: list[Row] = field(default_factory=list)
    recordings: list[Row] = field(default_factory=list)
    artists: list[Row] = field(default_factory=list)
    albums: list[Row] = field(default_factory=list)
    tracks: list[Row] = field(default_factory=list)
    credits: list[Row] = field(default_factory=list)
    headings: list[Row] = field(default_factory=list)
    entries: list[Row] = field(default_factory=list)


def runs(values: Sequence[str]) -> Iterator[tuple[str, list[int]]]:
    """Each stretch of equal *values*, with the places where it stands."""
    for value, places in groupby(range(len(values)), key=values.__getitem__):
        yield value, list(places)


def span(before: Sequence[object], children: Iterable[object]) -> Span:
    """First id and count of *children* that will be appended to *before*."""
    count = len(list(children))
    return (len(before) + 1, count) if count else (0, 0)
