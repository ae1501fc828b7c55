"""The rows of the catalogue's tables, as ``arrange`` fills them and ``build`` writes them. Pure."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

PERFORMER_LISTS = ("performers", "conductors", "ensembles", "choirs", "soloists", "instruments")
"""The lists of home whose rows are those who perform, and what on."""

LISTS = (
    ("composers", "Composers"),
    ("periods", "Periods"),
    ("forms", "Forms"),
    ("performers", "Performers"),
    ("conductors", "Conductors"),
    ("ensembles", "Ensembles"),
    ("choirs", "Choirs"),
    ("soloists", "Soloists"),
    ("instruments", "Instruments and voices"),
    ("artists", "Popular artists"),
    ("albums", "Popular albums"),
    ("recent", "Recently added"),
)
"""The lists of a home screen, by name and label, in the order of their rows in home."""

RANGES = (
    ("works", "Works"),
    ("recordings", "Recordings"),
    ("artist_albums", "Popular albums by artist"),
    ("entries", "Rows of lists"),
    ("tracks", "Tracks"),
)
"""What else has a row in home: ranges of ids that tell what an item is, and for random choice."""

HOME = LISTS + RANGES

LETTERED = frozenset({"composers", "artists", "albums", *PERFORMER_LISTS})
"""The lists that have jumps by letter."""

LETTERED_FROM = 33
"""The least rows of a list with jumps: fewer are four screens at most."""

RECENT_MOST = 500
"""How many recordings and albums the list of recently added ones holds at most."""

Row = tuple[str | int | bytes | None, ...]
Span = tuple[int, int]
"""First id and count; 0 and 0 if there is nothing."""

NOTHING: Span = (0, 0)


@dataclass(slots=True)
class Item:
    """What stands in its place and may stand in other lists too: its label, what it leads to.

    ``tracks`` are how many there are below it, ``added`` the day of the last one (0 unknown).
    """

    label: str
    number: int
    seconds: int
    first: int
    count: int
    id: int
    tracks: int
    added: int = 0

    def own_row(self) -> Row:
        """Its entry in its own place."""
        return (self.label, self.number, self.seconds, self.first, self.count, 0)

    def link(self, label: str) -> Row:
        """An entry in another list that stands for it."""
        return (label, self.number, self.seconds, self.first, self.count, self.id)


@dataclass(slots=True)
class Rows:
    """The rows of every table in the order of their ids, which are left out.

    ``starts`` gives the id of each table's first row. Groups are two runs, recordings and albums,
    and so are links: who performs, and behind all entries what a search finds. Letters have the ids
    of their lists in home.
    """

    home: list[Row] = field(default_factory=list)
    letters: list[tuple[int, Row]] = field(default_factory=list)
    entries: list[Row] = field(default_factory=list)
    links: list[Row] = field(default_factory=list)
    hits: list[Row] = field(default_factory=list)
    prefixes: list[Row] = field(default_factory=list)
    recordings: list[Row] = field(default_factory=list)
    albums: list[Row] = field(default_factory=list)
    tracks: list[Row] = field(default_factory=list)
    credits: list[Row] = field(default_factory=list)
    starts: dict[str, int] = field(default_factory=dict)

    def runs(self) -> Iterator[tuple[str, int, list[Row]]]:
        """Table, id of the first row, and rows, in the order in which they are written."""
        yield "home", 1, self.home
        for number, row in self.letters:
            yield "letters", number, [row]
        yield "entries", self.starts.get("entries", 1), self.entries
        yield "links", self.starts.get("links", 1), self.links
        yield "links", self.starts.get("hits", 1), self.hits
        yield "prefixes", 1, self.prefixes
        yield "groups", self.starts.get("recordings", 1), self.recordings
        yield "groups", self.starts.get("albums", 1), self.albums
        yield "tracks", 1, self.tracks
        yield "credits", 1, self.credits


def runs(values: Sequence[str]) -> Iterator[tuple[str, int, int]]:
    """Each stretch of equal *values*: the value, where it begins, and how long it is."""
    place = 0
    for value, same in groupby(values):
        length = sum(1 for _ in same)
        yield value, place, length
        place += length


def span(first: int, children: Iterable[object]) -> Span:
    """*first* and the count of *children*; 0 and 0 if there are none."""
    count = len(list(children))
    return (first, count) if count else NOTHING
