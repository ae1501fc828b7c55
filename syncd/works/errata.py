"""The listener's corrections: a TOML file at home, read, matched against tracks, added to.

One ``[[entry]]`` a correction. Its ``file``, ``folder``, ``album``, ``artist`` or ``composer``
(more than one: all have to fit) says which tracks; the rest says what is so. Names may use ``*``
and ``?``. Later entries win over earlier ones, key by key::

    [[entry]]
    artist = "Lowlands Trio"          # a rule: whatever this artist plays ...
    is-composer = "Weber, Carl Maria von"

Comments and order survive :func:`add_entry`. The master library is never touched.
"""

import fnmatch
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache

import tomlkit
from tomlkit.exceptions import ParseError, TOMLKitError

from syncd.errors import SetupProblem
from syncd.model import Kind
from syncd.works.text import fold

SELECTORS = ("file", "folder", "album", "artist", "composer")
"""Keys that say which tracks an entry is for."""

_TEXTS = ("is-composer", "work", "key", "movement-title", "kind", "arranger", "recording")
_LISTS = ("catalogue", "conductor", "ensembles", "choirs", "soloists")
_NUMBERS = ("movement",)
VALUES = (*_TEXTS, *_LISTS, *_NUMBERS)
"""Keys that say what is so."""


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
    lines: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.lines)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the file: selectors, values, and the line it begins on."""

    selectors: tuple[tuple[str, str], ...]
    values: tuple[tuple[str, object], ...]
    line: int


_FIELD_OF = {"is-composer": "composer", "movement-title": "movement_title"}


@dataclass(frozen=True)
class Errata:
    """All entries, in the order of the file."""

    entries: tuple[Entry, ...] = ()
    _plain: dict[str, str] = field(default_factory=dict, compare=False, repr=False)

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
        for entry in self.entries:
            if all(
                _fits(name, pattern, path, album, (*artists, *album_artists), composers)
                for name, pattern in entry.selectors
            ):
                lines.append(entry.line)
                for name, value in entry.values:
                    found[_FIELD_OF.get(name, name)] = value
        if not lines:
            return Correction()
        known = {item.name for item in fields(Correction)}
        return Correction(
            **{name: value for name, value in found.items() if name in known},  # type: ignore[arg-type]
            lines=tuple(lines),
        )


@lru_cache(maxsize=4096)
def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(fnmatch.translate(fold(text)))


def _fits(
    name: str,
    pattern: str,
    path: str,
    album: str,
    artists: Sequence[str],
    composers: Sequence[str],
) -> bool:
    if name == "file":
        return _path_fits(path, pattern, whole=True)
    if name == "folder":
        return _path_fits(path, pattern, whole=False)
    if name == "album":
        return bool(_pattern(pattern).match(fold(album)))
    values = artists if name == "artist" else composers
    return any(_pattern(pattern).match(fold(value)) for value in values)


def _path_fits(path: str, pattern: str, whole: bool) -> bool:
    """Whether *path* is the file, or lies in the folder, that *pattern* ends with (by components)."""  # noqa: E501
    parts = [part for part in path.replace("\\", "/").split("/") if part]
    wanted = [part for part in pattern.replace("\\", "/").split("/") if part]
    if not wanted:
        return False
    absolute = pattern.startswith("/")

    def same(have: Sequence[str]) -> bool:
        return len(have) == len(wanted) and all(
            one == other or bool(_pattern(other).match(fold(one)))
            for one, other in zip(have, wanted, strict=True)
        )

    if whole:
        return same(parts) if absolute else same(parts[-len(wanted) :])
    folders = parts[:-1]
    if absolute:
        return same(folders[: len(wanted)])
    return any(same(folders[start : start + len(wanted)]) for start in range(len(folders)))


def read_errata(text: str, name: str = "errata.toml") -> Errata:
    """The errata in *text*, the contents of the file *name*.

    Raises SetupProblem with the file, the line and what is wrong with it.
    """
    try:
        document = tomlkit.parse(text)
    except ParseError as error:
        raise SetupProblem(
            f"{name}, line {error.line}: this is not valid TOML ({_reason(error)}). "
            "Correct the line, or put # before it."
        ) from error
    except TOMLKitError as error:
        raise SetupProblem(
            f"{name} is not valid TOML ({error}). Correct it and try again."
        ) from error
    lines = _entry_lines(text)
    for key in document:
        if key != "entry":
            raise SetupProblem(
                f"{name}, line {_line_of_key(text, key)}: “{key}” is not known here. "
                "Each correction is an [[entry]]."
            )
    rows = document.unwrap().get("entry", [])
    if not isinstance(rows, list):
        raise SetupProblem(
            f"{name}, line {_line_of_key(text, 'entry')}: write [[entry]] with two brackets "
            f"each side."
        )
    entries = []
    for number, row in enumerate(rows):
        line = lines[number] if number < len(lines) else 1
        entries.append(_entry(row, line, name, text))
    return Errata(tuple(entries))


def _reason(error: ParseError) -> str:
    return str(error).partition(" at line")[0].lower()


def _entry_lines(text: str) -> list[int]:
    return [
        number
        for number, line in enumerate(text.splitlines(), start=1)
        if re.match(r"\s*\[\[\s*entry\s*\]\]", line)
    ]


def _line_of_key(text: str, key: str, after: int = 0) -> int:
    expression = re.compile(rf'\s*\[*\s*["\']?{re.escape(key)}["\']?\s*[=\].]')
    for number, line in enumerate(text.splitlines(), start=1):
        if number > after and expression.match(line):
            return number
    return after or 1


def _entry(row: Mapping[str, object], line: int, name: str, text: str) -> Entry:
    selectors: list[tuple[str, str]] = []
    values: list[tuple[str, object]] = []
    for key, value in row.items():
        where = f"{name}, line {_line_of_key(text, key, line)}"
        if key in SELECTORS:
            if not isinstance(value, str) or not value.strip():
                raise SetupProblem(
                    f"{where}: “{key}” has to be a text in quotes that names what to correct."
                )
            selectors.append((key, value))
        elif key in _TEXTS:
            if not isinstance(value, str):
                raise SetupProblem(f"{where}: “{key}” has to be a text in quotes, not {value!r}.")
            if key == "kind":
                try:
                    values.append((key, Kind(value)))
                except ValueError:
                    raise SetupProblem(
                        f'{where}: kind “{value}” is not known. Write "work", "popular" or "unknown".'  # noqa: E501
                    ) from None
            else:
                values.append((key, value))
        elif key in _LISTS:
            items = [value] if isinstance(value, str) else value
            if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
                raise SetupProblem(f"{where}: “{key}” has to be a text or a list of texts.")
            values.append((key, tuple(items)))
        elif key in _NUMBERS:
            if not isinstance(value, int) or isinstance(value, bool) or value < 1:
                raise SetupProblem(
                    f"{where}: “{key}” has to be a whole number from 1 on, not {value!r}."
                )
            values.append((key, value))
        else:
            raise SetupProblem(
                f"{where}: “{key}” is not known. Tracks are chosen by {', '.join(SELECTORS)}; "
                f"corrected can be {', '.join(VALUES)}."
            )
    if not selectors:
        raise SetupProblem(
            f"{name}, line {line}: this entry does not say which tracks it is for. "
            f"Add one of {', '.join(SELECTORS)}."
        )
    if not values:
        raise SetupProblem(
            f"{name}, line {line}: this entry corrects nothing. Add one of {', '.join(VALUES)}."
        )
    return Entry(tuple(selectors), tuple(values), line)


def entry_text(selectors: Mapping[str, str], values: Mapping[str, object]) -> str:
    """The TOML of one entry, ready to paste."""
    table = tomlkit.table()
    for name in SELECTORS:
        if name in selectors:
            table.add(name, selectors[name])
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


def add_entry(text: str, selectors: Mapping[str, str], values: Mapping[str, object]) -> str:
    """*text* of an errata file with one more entry at its end; all that was there stays as it was.

    Raises SetupProblem where *text* or the new entry is not valid.
    """
    read_errata(text)
    before = text if not text or text.endswith("\n") else text + "\n"
    gap = "\n" if before.strip() else ""
    result = before + gap + entry_text(selectors, values)
    read_errata(result)
    return result
