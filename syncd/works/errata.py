"""The listener's corrections: a TOML file at home, read, matched against tracks, added to.

One ``[[entry]]`` a correction. Its ``file``, ``folder``, ``album``, ``artist`` or ``composer``
(more than one: all have to fit; a list: one of it has to) says which tracks; the rest says what is
so. Names may use ``*`` and ``?``. Later entries win over earlier ones, key by key::

    [[entry]]
    artist = "Lowlands Trio"          # a rule: whatever this artist plays ...
    is-composer = "Weber, Carl Maria von"

    [[entry]]
    album = "Advent *"                # words of one's own, which programmes of cards can ask for;
    tags = ["Christmas"]              # those of all entries that fit add up

Comments and order survive :func:`add_entry`. Which tracks a selector chooses is told by
``selectors.py``; the file itself is read and written elsewhere.
"""

import difflib
import re
import tomllib
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from operator import attrgetter

import tomlkit
from tomlkit.exceptions import ParseError, TOMLKitError
from tomlkit.items import AoT

from syncd.errors import SetupProblem
from syncd.model import Kind
from syncd.toml_config import misread
from syncd.works.selectors import SELECTORS, Asked, Patterns, Selectors, fits, needed

_TEXTS = ("is-composer", "work", "key", "movement-title", "kind", "arranger", "recording")
_DAMAGED = ("damaged",)
_LISTS = ("catalogue", "conductor", "ensembles", "choirs", "soloists", "tags")
_NUMBERS = ("movement",)
VALUES = (*_TEXTS, *_LISTS, *_NUMBERS, *_DAMAGED)
"""Keys that say what is so."""

LISTS = frozenset(_LISTS)
"""Those of VALUES that may have several values."""


@dataclass(frozen=True, slots=True)
class Correction:
    """What errata say of one track; None where they say nothing."""

    composer: str | None = None
    work: str | None = None
    catalogue: tuple[str, ...] | None = None
    key: str | None = None
    movement: int | None = None
    movement_title: str | None = None
    kind: Kind | None = None
    conductor: tuple[str, ...] | None = None
    ensembles: tuple[str, ...] | None = None
    choirs: tuple[str, ...] | None = None
    soloists: tuple[str, ...] | None = None
    arranger: str | None = None
    recording: str | None = None
    tags: tuple[str, ...] | None = None
    """The listener's own words for it, of all entries that fit."""
    damaged: str | None = None
    lines: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        """Whether anything is said of what the track is: neither damage nor own words count."""
        return _what_is_said(self) != _NOTHING


_WHAT = [item.name for item in fields(Correction) if item.name not in ("tags", "damaged", "lines")]
_what_is_said = attrgetter(*_WHAT)  # asked several times of every track
_NOTHING = (None,) * len(_WHAT)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the file: selectors, values, and the line it begins on."""

    selectors: Selectors
    values: tuple[tuple[str, object], ...]
    line: int


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with the file: the line, and a sentence that names file, line and remedy."""

    line: int
    message: str


_FIELD_OF = {"is-composer": "composer", "movement-title": "movement_title"}


@dataclass(frozen=True)
class Errata:
    """All entries, in the order of the file."""

    entries: tuple[Entry, ...] = ()
    _at: dict[str | None, list[int]] = field(
        default_factory=lambda: defaultdict(list), compare=False, repr=False
    )
    """Entries by a name that a track must bear for them to fit (None: no such name), so that
    hundreds of entries are not tried one by one on each of 100,000 tracks."""

    def __post_init__(self) -> None:
        for number, entry in enumerate(self.entries):
            for name in needed(entry.selectors) or (None,):
                self._at[name].append(number)

    def correction(
        self,
        path: str,
        album: str,
        artists: Sequence[str],
        composers: Sequence[str],
        album_artists: Sequence[str] = (),
    ) -> Correction:
        """What the entries that fit a track say of it; the later entry wins, key by key."""
        if not self.entries:
            return Correction()
        found: dict[str, object] = {}
        lines: list[int] = []
        asked = Asked(path, album, (*artists, *album_artists), tuple(composers))
        numbers = {number for name in asked.names for number in self._at.get(name, ())}
        for entry in (self.entries[number] for number in sorted(numbers)):
            if fits(entry.selectors, asked):
                lines.append(entry.line)
                for name, value in entry.values:
                    earlier = found.get(name)
                    if name == "tags" and isinstance(earlier, tuple) and isinstance(value, tuple):
                        value = tuple(dict.fromkeys(earlier + value))  # words add up
                    found[_FIELD_OF.get(name, name)] = value
        if not lines:
            return Correction()
        known = {item.name for item in fields(Correction)}
        return Correction(
            **{name: value for name, value in found.items() if name in known},  # type: ignore[arg-type]
            lines=tuple(lines),
        )

    def speaks_of_damage(self) -> bool:
        """Whether any entry speaks of damaged files."""
        return any(name in _DAMAGED for entry in self.entries for name, _ in entry.values)


def read_errata(text: str, name: str = "errata.toml") -> Errata:
    """The errata in *text*, the contents of the file *name*.

    Raises SetupProblem with the file, the line and what is wrong with it.
    """
    errata, faults = examine(text, name)
    if faults:
        raise SetupProblem(faults[0].message)
    return errata


def examine(text: str, name: str = "errata.toml") -> tuple[Errata, tuple[Fault, ...]]:
    """The sound entries in *text*, and what is wrong with the others, one fault an entry.

    Where *text* is no TOML there is one fault and no entry.
    """
    text = text.removeprefix("\ufeff")  # some editors' mark of UTF-8
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line, fault = misread(error, text)
        return Errata(), (Fault(line, f"{name}, line {line}: {fault}"),)
    try:
        document = tomlkit.parse(text)
        rows = document.unwrap()
    except TOMLKitError as error:
        line = error.line if isinstance(error, ParseError) else 1
        reason = str(error).partition(" at line")[0].rstrip(".").lower()
        message = f"{name}, line {line}: this is not valid TOML ({reason}). Correct the line."
        return Errata(), (Fault(line, message),)
    lines = _entry_lines(text)
    faults: list[Fault] = []
    for key in rows:
        if key != "entry":
            line = _line_of_key(text, key)
            faults.append(
                Fault(
                    line,
                    f"{name}, line {line}: “{key}” is not known here. "
                    "Each correction is an [[entry]].",
                )
            )
    listed = rows.get("entry", [])
    if listed != [] and not isinstance(document["entry"], AoT):
        line = _line_of_key(text, "entry")
        message = (
            f"{name}, line {line}: write each correction under a line [[entry]] of its own, "
            "with two brackets each side."
        )
        return Errata(), (*faults, Fault(line, message))
    entries = []
    for number, row in enumerate(listed):
        line = lines[number] if number < len(lines) else 1

        def where(key: str | None, line: int = line) -> tuple[str, int]:
            found = line if key is None else _line_of_key(text, key, line)
            return f"{name}, line {found}: ", found

        try:
            entries.append(_entry(row, line, where))
        except _Wrong as wrong:
            faults.append(Fault(wrong.line, str(wrong)))
    return Errata(tuple(entries)), tuple(faults)


def _lines(text: str) -> list[str]:
    """The lines of *text* as editors count them: TOML ends a line with a line feed only."""
    return text.removeprefix("\ufeff").split("\n")


def _entry_lines(text: str) -> list[int]:
    return [
        number
        for number, line in enumerate(_lines(text), start=1)
        if re.match(r"\s*\[\[\s*entry\s*\]\]", line)
    ]


def _line_of_key(text: str, key: str, after: int = 0) -> int:
    expression = re.compile(rf'\s*\[*\s*["\']?{re.escape(key)}["\']?\s*[=\].]')
    for number, line in enumerate(_lines(text), start=1):
        if number > after and expression.match(line):
            return number
    return after or 1


class _Wrong(Exception):
    """An entry that cannot be taken; ``str()`` is the sentence."""

    def __init__(self, where: tuple[str, int], fault: str) -> None:
        super().__init__(where[0] + fault)
        self.line = where[1]


_Where = Callable[[str | None], tuple[str, int]]
"""For a key of an entry (None: the entry), what a sentence about it begins with, and its line."""


def _entry(row: Mapping[str, object], line: int, where: _Where) -> Entry:
    selectors: list[tuple[str, Patterns]] = []
    values: list[tuple[str, object]] = []
    for key, value in row.items():
        if key in SELECTORS:
            selectors.append((key, _patterns(key, value, where)))
        elif key in VALUES:
            values.append((key, _value(key, value, where)))
        else:
            near = difflib.get_close_matches(key, (*SELECTORS, *VALUES), n=1)
            meant = f" Did you mean “{near[0]}”?" if near else ""
            raise _Wrong(
                where(key),
                f"“{key}” is not known.{meant} Tracks are chosen by {', '.join(SELECTORS)}; "
                f"corrected can be {', '.join(VALUES)}.",
            )
    if not selectors:
        raise _Wrong(
            where(None),
            f"this entry does not say which tracks it is for. Add one of {', '.join(SELECTORS)}.",
        )
    if any(key == "damaged" for key, _ in values) and any(
        key == "composer" for key, _ in selectors
    ):
        raise _Wrong(
            where("damaged"),
            "whether a damaged file is used is said by file, folder, album or artist, not by "
            "composer.",
        )
    if not values:
        raise _Wrong(where(None), f"this entry corrects nothing. Add one of {', '.join(VALUES)}.")
    return Entry(tuple(selectors), tuple(values), line)


def _patterns(key: str, value: object, where: _Where) -> Patterns:
    items = value if isinstance(value, list | tuple) else [value]
    if not items or not all(isinstance(item, str) and item.strip() for item in items):
        raise _Wrong(
            where(key),
            f"“{key}” has to be a text in quotes that names what to correct, or a list of such.",
        )
    return value if isinstance(value, str) else tuple(str(item) for item in items)


def _value(key: str, value: object, where: _Where) -> object:
    items = value if isinstance(value, list | tuple) else [value]
    if any(isinstance(item, str) and "⟨" in item for item in items):
        raise _Wrong(
            where(key), f"“{key}” is still to be filled in. Write what is so in place of ⟨...⟩."
        )
    if key in _NUMBERS:
        if not isinstance(value, int) or isinstance(value, bool) or value < 1:
            raise _Wrong(where(key), f"“{key}” has to be a whole number from 1 on, not {value!r}.")
        return value
    if key in _LISTS:
        if not all(isinstance(item, str) for item in items):
            raise _Wrong(where(key), f"“{key}” has to be a text or a list of texts.")
        return tuple(items)
    if not isinstance(value, str):
        raise _Wrong(where(key), f"“{key}” has to be a text in quotes, not {value!r}.")
    if key in _DAMAGED and value not in ("use", "leave out"):
        raise _Wrong(where(key), f'damaged “{value}” is not known. Write "use" or "leave out".')
    if key != "kind":
        return value
    try:
        return Kind(value)
    except ValueError:
        raise _Wrong(
            where(key), f'kind “{value}” is not known. Write "work", "popular" or "unknown".'
        ) from None


def check_entry(selectors: Mapping[str, Patterns], values: Mapping[str, object]) -> Entry:
    """The entry that *selectors* and *values* make; its line is 0.

    Raises SetupProblem where it could not be read back, naming the key.
    """
    try:
        return _entry({**selectors, **values}, 0, lambda key: ("", 0))
    except _Wrong as wrong:
        sentence = str(wrong)
        raise SetupProblem(sentence[:1].upper() + sentence[1:]) from None


def entry_text(selectors: Mapping[str, Patterns], values: Mapping[str, object]) -> str:
    """The TOML of one entry, ready to paste."""
    table = tomlkit.table()
    for name in SELECTORS:
        if name in selectors:
            patterns = selectors[name]
            table.add(name, patterns if isinstance(patterns, str) else list(patterns))
    for name in VALUES:
        if name in values:
            value = values[name]
            if isinstance(value, Kind):
                value = value.value
            table.add(name, list(value) if isinstance(value, tuple) else value)
    array = tomlkit.aot()
    array.append(table)
    document = tomlkit.document()
    document.add("entry", array)
    return tomlkit.dumps(document).strip() + "\n"


def add_entry(
    text: str,
    selectors: Mapping[str, Patterns],
    values: Mapping[str, object],
    name: str = "errata.toml",
) -> str:
    """*text* of the errata file *name* with one more entry at its end.

    All that was there stays as it was; line ends are the file's own. Raises SetupProblem where
    *text* or the new entry is not valid.
    """
    check_entry(selectors, values)
    read_errata(text, name)
    end = "\r\n" if "\r\n" in text else "\n"
    before = text if not text or text.endswith("\n") else text + end
    gap = end if before.strip() else ""
    result = before + gap + entry_text(selectors, values).replace("\n", end)
    read_errata(result, name)
    return result
