"""Performers and instruments: the lists they stand in, and the recordings under each. Pure."""

from collections import Counter
from collections.abc import Iterable, Sequence

from syncd.catalogue.belonging import best_spelling, same
from syncd.catalogue.labels import Text
from syncd.catalogue.order import display_key
from syncd.catalogue.rows import HOME, PERFORMER_LISTS, Rows, Span, span
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


class Headings:
    """Performers, by the lists that they stand in, with the recordings of each."""

    def __init__(self, text: Text, recordings: Sequence[tuple[str, Sequence[Credit]]]) -> None:
        """*recordings*: label and credits of each, in the order of their ids."""
        self._text = text
        self._labels = [label for label, _ in recordings]
        self.spans: dict[str, Span] = {}
        # list -> heading's key -> recording ids
        found: dict[str, dict[str, list[int]]] = {name: {} for name in PERFORMER_LISTS}
        spelled: dict[str, dict[str, Counter[str]]] = {name: {} for name in PERFORMER_LISTS}
        for number, (_, credits) in enumerate(recordings, start=1):
            for name, heading in _headings_of(credits):
                key = same(heading)
                ids = found[name].setdefault(key, [])
                if not ids or ids[-1] != number:
                    ids.append(number)
                spelled[name].setdefault(key, Counter())[heading] += 1
        self._performers: dict[str, int] = {}
        self._rows: list[tuple[int, str, list[int]]] = []
        homes = {name: number for number, (name, _) in enumerate(HOME, start=1)}
        for name in PERFORMER_LISTS:
            titled = [
                (text.clean(best_spelling(spelled[name][key])) or NO_PERFORMER, key, ids)
                for key, ids in found[name].items()
            ]
            self.spans[name] = span(self._rows, titled)
            for label, key, ids in sorted(titled, key=lambda t: display_key(t[0])):
                self._rows.append((homes[name], label, ids))
                if name == "performers":
                    self._performers[key] = len(self._rows)

    def performer(self, credit: Credit) -> int:
        """The id of the heading of who is credited, 0 for who performs in no recording."""
        return self._performers.get(same(credit.name), 0)

    def add_to(self, out: Rows) -> None:
        """Append the rows of headings and entries to *out*."""
        # A conductor who does nothing else has the same recordings in both lists: one range.
        known: dict[tuple[int, ...], Span] = {}
        for home, label, recordings in self._rows:
            ids = tuple(recordings)
            if ids not in known:
                known[ids] = span(out.entries, ids)
                out.entries.extend(
                    (number, *self._text.label(self._labels[number - 1])) for number in ids
                )
            out.headings.append((home, *self._text.label(label), *known[ids]))


def _headings_of(credits: Sequence[Credit]) -> Iterable[tuple[str, str]]:
    for credit in credits:
        if not performs(credit):
            continue
        yield "performers", credit.name
        role = credit.role.casefold()
        if role in _LIST_OF_ROLE:
            yield _LIST_OF_ROLE[role], credit.name
        if credit.instrument and credit.instrument.strip():
            yield "instruments", credit.instrument[:1].upper() + credit.instrument[1:]


def performs(credit: Credit) -> bool:
    return credit.role.casefold() not in _NOT_PERFORMING


def principals(credits: Sequence[Credit]) -> str:
    """The principal performers in one line: soloists, ensembles, choirs, conductor."""
    shown: list[str] = []
    for role in _PRINCIPALS:
        names = list(dict.fromkeys(c.name.strip() for c in credits if c.role.casefold() == role))
        names = [name for name in names if name]
        shown += names[:_MOST_PER_ROLE]
        if len(names) > _MOST_PER_ROLE:
            shown[-1] += " et al."
    if not shown:
        shown = [c.name.strip() for c in credits if performs(c)][:_MOST_PER_ROLE]
    return "; ".join(shown)
