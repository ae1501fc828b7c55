"""Who performs, and what on: the lists they stand in, and the recordings under each name. Pure."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from syncd.catalogue.belonging import best_spelling, same
from syncd.catalogue.labels import Text
from syncd.catalogue.order import display_key
from syncd.catalogue.rows import PERFORMER_LISTS
from syncd.model import Credit

NO_PERFORMER = "[Performers unknown]"

_LIST_OF_ROLE = {
    "conductor": "conductors",
    "ensemble": "ensembles",
    "choir": "choirs",
    "soloist": "soloists",
}
_NOT_PERFORMING = frozenset(
    {"arranger", "librettist", "lyricist", "editor", "author", "producer", "engineer", "translator"}
)
_PRINCIPALS = ("soloist", "ensemble", "choir", "conductor")
_MOST_PER_ROLE = 2


@dataclass(slots=True)
class Heading:
    """A name in one of the lists, and which of the links are under it: the first, and how many."""

    label: str
    key: str
    first: int
    count: int


class Performing:
    """The lists of those who perform.

    ``links`` are places of recordings: those under a heading stand together, in rising order. Who
    stands in two lists with the same recordings, as a conductor who does nothing else, has them
    once.
    """

    def __init__(self, text: Text, credits_of: Sequence[Sequence[Credit]]) -> None:
        """*credits_of* are the credits of each recording."""
        # list -> heading's key -> places of recordings, spellings of the heading
        found: dict[str, dict[str, tuple[list[int], Counter[str]]]]
        found = {name: {} for name in PERFORMER_LISTS}
        targets: dict[Credit, list[tuple[list[int], Counter[str], str]]] = {}
        for place, credits in enumerate(credits_of):
            for credit in credits:
                target = targets.get(credit)
                if target is None:
                    target = targets[credit] = [
                        (*found[name].setdefault(key, ([], Counter())), heading)
                        for name, heading, key in _listed(credit)
                    ]
                for places, spelled, heading in target:
                    if not places or places[-1] != place:
                        places.append(place)
                    spelled[heading] += 1
        self.links: list[int] = []
        self.lists: dict[str, list[Heading]] = {}
        known: dict[tuple[int, ...], int] = {}
        for name in PERFORMER_LISTS:
            titled = [
                (text.clean(best_spelling(spelled)) or NO_PERFORMER, key, tuple(places))
                for key, (places, spelled) in found[name].items()
            ]
            titled.sort(key=lambda one: (display_key(one[0]), one[1]))
            self.lists[name] = []
            for label, key, under in titled:
                if under not in known:
                    known[under] = len(self.links)
                    self.links += under
                self.lists[name].append(Heading(label, key, known[under], len(under)))


def headings_of(credits: Iterable[Credit]) -> Iterator[tuple[str, str]]:
    """The lists that a recording with *credits* stands in: list and name, perhaps repeated."""
    for credit in credits:
        for name, heading, _ in _listed(credit):
            yield name, heading


@lru_cache(maxsize=65536)
def _listed(credit: Credit) -> tuple[tuple[str, str, str], ...]:
    """The lists that *credit* leads into: list, name there, and what spellings have in common."""
    if not performs(credit):
        return ()
    key = same(credit.name)
    found = [("performers", credit.name, key)]
    role = credit.role.casefold()
    if role in _LIST_OF_ROLE:
        found.append((_LIST_OF_ROLE[role], credit.name, key))
    if credit.instrument and credit.instrument.strip():
        heading = credit.instrument[:1].upper() + credit.instrument[1:]
        found.append(("instruments", heading, same(heading)))
    return tuple(found)


def performs(credit: Credit) -> bool:
    """Whether who is credited can be heard; an arranger or a librettist cannot."""
    return credit.role.casefold() not in _NOT_PERFORMING


def principals(credits: Sequence[Credit]) -> str:
    """The principal performers in one line: soloists, ensembles, choirs, conductor."""
    shown: list[str] = []
    by_role: dict[str, dict[str, None]] = {}
    for credit in credits:
        if name := credit.name.strip():
            by_role.setdefault(credit.role.casefold(), {})[name] = None
    for role in _PRINCIPALS:
        names = list(by_role.get(role, ()))
        shown += names[:_MOST_PER_ROLE]
        if len(names) > _MOST_PER_ROLE:
            shown[-1] += " et al."
    if not shown:
        shown = [c.name.strip() for c in credits if performs(c)][:_MOST_PER_ROLE]
    return "; ".join(shown)
