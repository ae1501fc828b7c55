"""The composer table and the finding of composers by the names that taggers write.

Exact names, inverted names, initials and, for COMPOSER tags only, near misses. Families with
several composers are told apart by their given names; a family name alone means the famous one
only where the table says that this is custom. How names are spelled is ``composer_names.py``'s,
which forms of them there are ``composer_forms.py``'s. Data: ``data/composers.json``.
"""

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources

from rapidfuzz import fuzz, process

from syncd.works.composer_forms import Entry, NameForms, ordered_initials
from syncd.works.composer_names import (
    PARTICLES,
    compatible,
    given_names,
    initials_of,
    name_key,
    spelled_nearly,
    strip_dates,
)
from syncd.works.romanise import has_patronymic
from syncd.works.text import central_european


@dataclass(frozen=True, slots=True)
class Match:
    """A composer found: how surely, and by what (for the reasons of an identity)."""

    entry: Entry
    confidence: float
    how: str


_LONG_FAMILY = 8
"""Letters from which a family name with a slip is believed: Webern, Weber and Webber are three."""

_NO_NAME = re.compile("[:;/|]")
_NAME_WORD = re.compile(r"[^\s,:;()\[\]/]+")
_YEAR = re.compile(r"(?<!\d)(?:1[0-9]|20)\d\d(?!\d)")


class Table:
    """All composers, found by every form of their names."""

    def __init__(self, entries: Sequence[Entry]) -> None:
        self.entries = tuple(entries)
        self.by_sort = {entry.sort: entry for entry in self.entries}
        self._forms = NameForms(self.entries)

    def exact(self, text: str) -> Match | None:
        """The composer whose name *text* is as a whole: a full form, inverted, or by initials."""
        return self._exact(text)

    @lru_cache(maxsize=32768)  # noqa: B019  (one table lives as long as the process)
    def _exact(self, text: str) -> Match | None:
        if len(text) > 90:
            return None
        bare = strip_dates(text)
        if _NO_NAME.search(bare) is not None:
            return None
        found = self._named(bare, text)
        if bare == text:
            return found
        if "(" in text or "[" in text:
            # "Johann Strauss (Vater)": what is in brackets can be a part of the name.
            entry = self._forms.names.get(name_key(text))
            if entry is not None and " " in name_key(text):
                return Match(entry, 0.98, "name")
            if found is not None and found.how == "family name" and bare in text:
                # "Bach (C.P.E.)"
                rest = " ".join(name_key(text.replace(bare, " ", 1)).split())
                given = self._named(f"{rest} {bare}", text) if rest else None
                if given is not None and given.how in ("name", "initials"):
                    return given
        return self._of_those_years(found, bare, text)

    def _of_those_years(self, found: Match | None, bare: str, text: str) -> Match | None:
        """*found*, or the namesake whose years of life *text* gives and *found* contradicts."""
        years = [int(year) for year in _YEAR.findall(text)]
        if not years or (found is not None and {found.entry.born, found.entry.died} & set(years)):
            return found
        rows = (
            self.namesakes(found.entry)
            if found is not None and found.how != "family name"
            else self.family(bare)
        )
        fitting = [e for e in rows if e.born == years[0] or (e.died and e.died == years[-1])]
        if len(fitting) != 1:
            return found
        return Match(fitting[0], 0.95, "name and years of life")

    def namesakes(self, entry: Entry) -> tuple[Entry, ...]:
        """The others of *entry*'s family with the same given names (the three Johann Strauss)."""
        mine = given_names(entry.sort)
        return tuple(
            other
            for other in self.family(entry.sort.split(",")[0])
            if other is not entry and given_names(other.sort) == mine
        )

    def _named(self, bare: str, text: str) -> Match | None:
        key = name_key(bare)
        if not key:
            return None
        entry = self._forms.names.get(key)
        if entry is not None:
            if " " in key:
                return Match(entry, 0.98, "name")
            mononym = "," not in entry.sort and name_key(entry.sort) == key
            return Match(entry, 0.98 if mononym else 0.93, "family name")
        if key.endswith(" s") and len(key) > 5:  # Bach's
            possessive = self._forms.names.get(key[:-2])
            if possessive is not None:
                return Match(possessive, 0.85, "possessive")
        words = key.split()
        if len(words) == 1:
            return None
        bag = self._forms.bags.get(" ".join(sorted(words)))
        if bag is not None:
            return Match(bag, 0.95, "name in another order")
        return self._by_initials(words, text)

    def _by_initials(self, words: list[str], text: str) -> Match | None:
        found = self._fitting(words)
        if len(found) == 1:
            return Match(found[0], 0.92, "initials")
        famous = [entry for entry in found if entry.famous]
        if len(famous) == 1:
            return Match(famous[0], 0.75, "initials that fit several")
        return None

    def several(self, text: str) -> bool:
        """Whether *text* is a family name, or one with initials, that fits several composers."""
        return len(self.candidates(text)) > 1

    @lru_cache(maxsize=8192)  # noqa: B019
    def candidates(self, text: str) -> tuple[Entry, ...]:
        """All whom *text* can mean as a family name, or as one with initials ("J. Strauss")."""
        found = self.family(text)
        return found or tuple(self._fitting(name_key(strip_dates(text)).split()))

    def _fitting(self, words: list[str]) -> list[Entry]:
        if len(words) > 7 or self._forms.family_words.isdisjoint(words):
            return []
        if words[0] not in self._forms.family_heads and words[-1] not in self._forms.family_ends:
            return []
        options: list[tuple[list[str], list[str]]] = []
        for cut in range(1, len(words)):
            options.append((words[cut:], words[:cut]))
            options.append((words[:cut], words[cut:]))
        found: dict[str, Entry] = {}
        asked: list[str] = []
        for family_words, given in options:
            if len(family_words) == 1 and len(family_words[0]) < 3:
                continue
            rows = self._forms.families.get(" ".join(family_words))
            if rows is None:
                core = [word for word in family_words if word not in PARTICLES]
                if core == family_words or not core:
                    continue
                rows = self._forms.families.get(" ".join(core))
                if rows is None:
                    continue
            # A letter in front is an initial ("D. Kabalevskij"), further on a particle (d'Indy).
            wanted = [
                word
                for number, word in enumerate(given)
                if word not in PARTICLES or (number == 0 and len(word) == 1)
            ]
            if not wanted:
                continue
            for entry, have in rows:
                if compatible(wanted, have):
                    found[entry.sort] = entry
                    asked = wanted
        if len(found) > 1 and all(len(word) == 1 for word in asked):
            # "A. Cherepnin" is Alexander, hardly Ivan Alexandrovich by his father's name.
            first = [e for e in found.values() if initials_of(e.sort).startswith(asked[0])]
            others = [e for e in found.values() if e not in first]
            if first and all(any(map(has_patronymic, e.forms)) for e in others):
                return first
        return list(found.values())

    def family(self, text: str) -> tuple[Entry, ...]:
        """All composers whose family name is *text*, for a name that does not decide by itself."""
        key = name_key(strip_dates(text))
        rows = self._forms.families.get(key)
        if rows is None:
            return ()
        seen: dict[str, Entry] = {}
        for entry, _ in rows:
            seen.setdefault(entry.sort, entry)
        return tuple(seen.values())

    def leading_family(self, text: str) -> int:
        """How long a family name of several composers is at the beginning of *text*; 0 for none."""
        first = _NAME_WORD.match(text)
        if first is None or name_key(first.group()) not in self._forms.shared_families:
            return 0
        return first.end()

    def near(self, text: str) -> Match | None:
        """The composer whose name *text* misspells, for COMPOSER tags only; guarded."""
        return self._near(text)

    @lru_cache(maxsize=8192)  # noqa: B019
    def _near(self, text: str) -> Match | None:
        found = self._exact(text)
        if found is not None or len(text) > 90:
            return found
        other = central_european(text)
        if other is not None:
            found = self._exact(other)
            if found is not None:
                return Match(found.entry, 0.9, "name after repair of Windows-1250 bytes")
        key = name_key(strip_dates(text))
        words = key.split()
        if len(words) < 2 or len(key) < 9 or any(len(w) > 40 for w in words):
            return self.near_family(text)
        # The one meant has the same initials, as is asked below: mostly nobody with them is near.
        alike = self._forms.fuzzy_by_initials.get(ordered_initials(words), [])
        if process.extractOne(key, alike, scorer=fuzz.ratio, score_cutoff=88) is None:
            return None
        best = process.extract(
            key, self._forms.fuzzy_keys, scorer=fuzz.ratio, score_cutoff=88, limit=4
        )
        if not best:
            return None
        top_key, score, _ = best[0]
        entry = self._forms.names[top_key]
        for other_key, other_score, _ in best[1:]:
            if self._forms.names[other_key] is not entry and other_score > score - 4:
                return None
        mine, theirs = words, top_key.split()
        # Each word has to answer to one of the other: no given name is a misspelling of another's.
        for word in mine:
            if len(word) > 2 and max(fuzz.ratio(word, t) for t in theirs) < 75:
                return None
        for word in theirs:
            if len(word) > 2 and max(fuzz.ratio(word, t) for t in mine) < 75:
                return None
        if ordered_initials(mine) != ordered_initials(theirs):
            return None
        return Match(entry, 0.78, "a name spelled nearly so")

    @lru_cache(maxsize=8192)  # noqa: B019
    def near_families(self, text: str) -> tuple[Entry, ...]:
        """The famous whose family name *text* may be, misspelled: "Tchaikovksy", "Schuman"."""
        key = name_key(strip_dates(text))
        if len(key) > 40 or len(key.split()) > 3:
            return ()
        size = len(key)
        found = [
            entry
            for name, entry in self._forms.famous_families.get(key[:1], ())
            if -3 < len(name) - size < 3 and key != name and spelled_nearly(key, name)
        ]
        return tuple(dict.fromkeys(found))

    def near_family(self, text: str) -> Match | None:
        """The only one whose long family name *text* misspells, where it is nobody else's."""
        if text.count(" ") > 2:
            return None  # most titles
        key = name_key(strip_dates(text))
        if len(key) < _LONG_FAMILY or key in self._forms.families or key in self._forms.names:
            return None
        found = self.near_families(text)
        return Match(found[0], 0.78, "a family name spelled nearly so") if len(found) == 1 else None

    def leading(self, text: str, words: int = 5) -> tuple[Match, int] | None:
        """A composer's name at the very beginning of *text*, with the length it takes, or None.

        ``Mozart Symphony No. 40`` and ``Beethoven's Fifth`` begin so. The longest name wins.
        """
        first = _NAME_WORD.match(text)
        if first is None or not self._begins_a_name(first.group()):
            return None
        best: tuple[Match, int] | None = None
        for number, match in enumerate(_NAME_WORD.finditer(text)):
            if number >= words:
                break
            position = match.end()
            found = self._exact(text[:position])
            if found is not None:
                best = (found, position)
        return best

    @lru_cache(maxsize=16384)  # noqa: B019
    def _begins_a_name(self, word: str) -> bool:
        first = name_key(word).split()
        if first and (first[0] in self._forms.first_words or first[0] in PARTICLES):
            return True
        stripped = word.removesuffix("'s").removesuffix("’s")
        return stripped != word and name_key(stripped) in self._forms.first_words

    def mentioned(self, text: str) -> list[Match]:
        """Composers whose full names (two words or more) stand anywhere in *text*, in its order."""
        words = name_key(text).split()[:60]
        found: list[Match] = []
        index = 0
        while index < len(words):
            step = 1
            if words[index] in self._forms.first_words:
                for length in range(min(5, len(words) - index), 1, -1):
                    entry = self._forms.names.get(" ".join(words[index : index + length]))
                    if entry is not None and any(len(w) > 1 for w in words[index : index + length]):
                        if all(match.entry is not entry for match in found):
                            found.append(Match(entry, 0.85, "name"))
                        step = length
                        break
            index += step
        return found

    def surnames_in(self, text: str) -> list[Entry]:
        """Composers whom a family name by itself means that stand anywhere in *text*."""
        found: list[Entry] = []
        for word in name_key(text).split()[:60]:
            entry = self._forms.singles.get(word)
            if entry is not None and entry not in found:
                found.append(entry)
        return found


def read_table(rows: Iterable[dict[str, object]]) -> Table:
    """A table from the rows of the data file."""
    entries = []
    for row in rows:
        forms = row.get("forms") or ()
        systems = row.get("systems") or ()
        assert isinstance(forms, (list, tuple)) and isinstance(systems, (list, tuple))
        born, died = row.get("born"), row.get("died")
        entries.append(
            Entry(
                name=str(row["name"]),
                sort=str(row["sort"]),
                born=born if isinstance(born, int) else None,
                died=died if isinstance(died, int) else None,
                period=str(row.get("period", "")),
                forms=tuple(str(form) for form in forms),
                systems=tuple(str(system) for system in systems),
                famous=bool(row.get("famous")),
            )
        )
    return Table(entries)


@cache
def table() -> Table:
    """The package's table, read once on first use."""
    source = resources.files("syncd.works") / "data" / "composers.json"
    return read_table(json.loads(source.read_text(encoding="utf-8")))


__all__ = ["Entry", "Match", "Table", "read_table", "table"]
