"""Every form of composers' names, and what is looked up by it.

Full names, inverted names, family names, spellings that library tables make of Cyrillic ones. Forms
that two composers would share mean neither, unless custom means one of them. How a name is asked
for is told by ``composers.py``.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from syncd.model import Composer
from syncd.works.composer_names import PARTICLES, SUFFIXES, name_key
from syncd.works.romanise import has_patronymic, romanised
from syncd.works.text import fold, fold_german


@dataclass(frozen=True, slots=True)
class Entry:
    """One composer of the table."""

    name: str
    sort: str
    born: int | None
    died: int | None
    period: str
    forms: tuple[str, ...]
    systems: tuple[str, ...]
    famous: bool

    @property
    def composer(self) -> Composer:
        """The composer as identities carry it."""
        return Composer(self.name, self.sort)


def ordered_initials(words: Sequence[str]) -> str:
    """The first letters of *words* in the order of the alphabet."""
    return "".join(sorted(word[0] for word in words))


def _is_family(key: str, entry: Entry) -> bool:
    """Whether *key* is the family name of *entry* as its sort form has it."""
    return key == name_key(entry.sort.partition(",")[0])


class NameForms:
    """The forms of the names of *entries*; keys are folded (``composer_names.name_key``).

    ``names`` are whole names and the family names that mean one composer, ``bags`` those of several
    words in the order of the alphabet, ``singles`` those of one word. ``families`` has for each
    family name its composers, with their given names as one form has them; ``shared_families`` are
    those of several composers; ``famous_families`` the well-known ones by their
    first letter. The others serve to pass quickly by what is no name.
    """

    def __init__(self, entries: Sequence[Entry]) -> None:
        self.names: dict[str, Entry] = {}
        self.bags: dict[str, Entry] = {}
        self.families: dict[str, list[tuple[Entry, tuple[str, ...]]]] = {}
        self.singles: dict[str, Entry] = {}
        clashes: set[str] = set()
        for entry in entries:
            family = entry.sort.split(",")[0]
            for form in (entry.name, entry.sort, *entry.forms):
                for key in {name_key(form), name_key(fold_german(form))}:
                    self._add(key, entry, clashes)
                self._add_family(form, entry)
            if entry.famous:
                for form in {name_key(family), name_key(fold_german(family))}:
                    self.names[form] = entry
                    self.singles[form] = entry
                    clashes.discard(form)
        for key in clashes:
            self.names.pop(key, None)
        self._add_romanised(entries, clashes)
        for key, entry in list(self.names.items()):
            if " " in key:
                self.bags.setdefault(" ".join(sorted(key.split())), entry)
            else:
                self.singles.setdefault(key, entry)
        self.fuzzy_keys = [key for key in self.names if " " in key and len(key) >= 9]
        self.first_words = {key.split()[0] for key in self.names}
        self.shared_families = {
            key
            for key, rows in self.families.items()
            if len({entry.sort for entry, _ in rows}) > 1 and key not in self.names and len(key) > 3
        }
        self.fuzzy_by_initials: dict[str, list[str]] = {}
        for key in self.fuzzy_keys:
            self.fuzzy_by_initials.setdefault(ordered_initials(key.split()), []).append(key)
        self.famous_families: dict[str, list[tuple[str, Entry]]] = {}
        for key, entry in self.names.items():
            if entry.famous and key.isascii() and _is_family(key, entry):
                self.famous_families.setdefault(key[0], []).append((key, entry))
        parts = [key.split() for key in self.families]
        self.family_heads = PARTICLES | {words[0] for words in parts if words}
        self.family_ends = PARTICLES | {words[-1] for words in parts if words}
        self.family_words = {
            word
            for key in parts
            for word in key
            if word not in PARTICLES or PARTICLES.issuperset(key)
        }

    def _add(self, key: str, entry: Entry, clashes: set[str]) -> None:
        if not key:
            return
        other = self.names.get(key)
        if other is not None and other is not entry:
            clashes.add(key)
            return
        self.names[key] = entry

    def _add_family(self, form: str, entry: Entry) -> None:
        if "," in form and SUFFIXES.issuperset(name_key(form.partition(",")[2]).split()):
            form = form.replace(",", "")  # "J. Strauss, Jr."
        if "," in form:
            family, _, given = form.partition(",")
        else:
            family_parts = entry.sort.split(",")[0].split()
            words = form.split()
            if len(words) > 2 and fold(words[-1]).strip("().") in SUFFIXES:
                words = [*words[:-2], words[-1], words[-2]]  # "Johann Strauss II"
            count = min(len(family_parts), max(1, len(words) - 1))
            if len(words) < 2:
                return
            family, given = " ".join(words[-count:]), " ".join(words[:-count])
            if any(ch == "." for ch in family):
                return
        given_words = tuple(word for word in name_key(given).split() if word not in PARTICLES)
        for key in {name_key(family), name_key(fold_german(family))}:
            rows = self.families.setdefault(key, [])
            if (entry, given_words) not in rows:
                rows.append((entry, given_words))

    def _add_romanised(self, entries: Sequence[Entry], clashes: set[str]) -> None:
        """Adds what library tables make of Cyrillic names, where the spelling is still free.

        A family name alone is believed only of Russians: ``Frank`` and ``List`` are what the tables
        make of the Cyrillic for Franck and Liszt.
        """
        by_sort = {entry.sort: entry for entry in entries}
        families = set(self.families)
        found: dict[str, set[str]] = {}
        for entry in entries:
            for form in entry.forms:
                for spelled in romanised(form):
                    key = name_key(spelled)
                    if key in self.names or key in clashes:
                        continue
                    several = " " in spelled or "-" in spelled
                    if several or (len(spelled) > 4 and any(map(has_patronymic, entry.forms))):
                        found.setdefault(key, set()).add(entry.sort)
                    if " " in spelled and name_key(spelled.split()[-1]) not in families:
                        self._add_family(spelled, entry)
        for key, owners in found.items():
            if len(owners) == 1:
                self.names[key] = by_sort[owners.pop()]
