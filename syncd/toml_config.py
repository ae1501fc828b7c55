"""Reading a TOML file into a validated value, with errors that a person can act on.

Settings, player profiles and programmes share it. The checking itself is pydantic's; what is ours
is the sentence: which file, which key, what was found, what is allowed.
"""

import difflib
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from syncd.errors import SetupProblem

T = TypeVar("T", bound="Table")


class Table(BaseModel):
    """Base of all tables that are read from TOML: frozen, and no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


def read_table(path: Path, kind: type[T], what: str) -> T:
    """Read *path* as a table of *kind*; *what* names it in errors ("player profile").

    Raises SetupProblem when the file cannot be read, is not TOML, or does not fit the table; all
    faults of the table are told at once.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise SetupProblem(
            f"The {what} {path} cannot be read: {error.strerror}. Check the name and permissions."
        ) from error
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise SetupProblem(
            f"The {what} {path} is not text in UTF-8 (line {line}). Save it in UTF-8, if it is the "
            "right file."
        ) from error
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SetupProblem(
            f"The {what} {path} is not valid TOML: {error}. Mend that place and try again."
        ) from error
    return check_table(data, kind, what, str(path), text)


def check_table(data: Mapping[str, Any], kind: type[T], what: str, where: str, text: str = "") -> T:
    """Check already parsed *data* against *kind*. Raises SetupProblem with one line a fault.

    With the *text* that *data* was parsed from, each fault is told with its line.
    """
    try:
        return kind.model_validate(data)
    except ValidationError as error:
        found = error.errors(include_url=False)
        # A faulty item is dropped before its list is counted: told once, not twice.
        deeper = {fault["loc"][:depth] for fault in found for depth in range(1, len(fault["loc"]))}
        told = [fault for fault in found if fault["loc"] not in deeper]
        lines = lines_of(text) if text else {}
        told.sort(key=lambda fault: _line(fault["loc"], lines))
        faults = [_at_line(fault["loc"], lines) + _sentence(fault, kind) for fault in told]
        head = f"The {what} {where} is not valid:"
        raise SetupProblem("\n  ".join([head, *faults])) from error


Location = tuple[str | int, ...]
"""Where something stands in a table: keys, and positions in arrays from 0 on."""

_HEADER = re.compile(r"\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+|\s*\.\s*)+?)\s*=(.*)$""", re.DOTALL)
_KEY_PART = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*\.?""")
_VALUE_PART = re.compile(
    r"""\"\"\"(?:\\.|(?!\"\"\").)*(\"{3,5}|$)|'''(?:(?!''').)*('{3,5}|$)"""
    r"""|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|\#[^\n]*|[\[{\]}]""",
    re.DOTALL,
)


def lines_of(text: str) -> dict[Location, int]:
    """The line of every table and key in *text*, which must be valid TOML.

    Items of an array or table that is written in brackets have the line of their key.
    """
    found: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    table: Location = ()
    lines = text.removeprefix("\ufeff").split("\n")
    number = 0
    while number < len(lines):
        line = lines[number]
        number += 1
        header = _HEADER.match(line)
        if header is not None:
            table = _numbered(_key_parts(header[2]), counts, begins=header[1] == "[[")
            for depth in range(1, len(table) + 1):
                found.setdefault(table[:depth], number)
            continue
        key = _KEY.match(line)
        if key is None or line.lstrip().startswith("#"):
            continue
        found.setdefault((*table, *_key_parts(key[1])), number)
        value = key[2]
        while _goes_on(value) and number < len(lines):
            value += "\n" + lines[number]
            number += 1
    return found


def _key_parts(text: str) -> Location:
    return tuple("".join(part) for part in _KEY_PART.findall(text))


def _numbered(parts: Location, counts: dict[Location, int], *, begins: bool) -> Location:
    """*parts* with the positions in arrays of tables; *begins* that the last begins a new item."""
    table: Location = ()
    for place, part in enumerate(parts):
        table = (*table, part)
        if begins and place == len(parts) - 1:
            counts[table] = counts.get(table, -1) + 1
        if table in counts:
            table = (*table, counts[table])
    return table


def _goes_on(value: str) -> bool:
    """Whether *value*, from behind the sign of equality on, goes on in the next line."""
    depth = 0
    for part in _VALUE_PART.finditer(value):
        piece = part[0]
        if piece[:3] in ('"""', "'''"):
            if not (part[1] or part[2]):
                return True
        elif piece in "[{":
            depth += 1
        elif piece in "]}":
            depth -= 1
    return depth > 0


def _line(location: Sequence[str | int], lines: Mapping[Location, int]) -> int:
    """The line of what stands at *location*, or of the nearest thing around it; 0 for none."""
    place = tuple(location)
    while place:
        if place in lines:
            return lines[place]
        place = place[:-1]
    return 0


def _at_line(location: Sequence[str | int], lines: Mapping[Location, int]) -> str:
    line = _line(location, lines)
    return f"line {line}: " if line else ""


def _sentence(fault: Any, kind: type[BaseModel]) -> str:
    location: Sequence[str | int] = fault["loc"]
    key = _dotted(location)
    match fault["type"]:
        case "extra_forbidden":
            known = _keys_beside(kind, location)
            near = difflib.get_close_matches(str(location[-1]), known, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            return f"'{key}' is not a key here.{hint} Allowed: {', '.join(sorted(known))}."
        case "missing":
            return f"'{key}' is missing. Add it."
        case "value_error":
            found = fault["input"]
            shown = f" (found {found!r})" if isinstance(found, str | int | float | list) else ""
            message = str(fault["ctx"]["error"])
            shown = "" if repr(found) in message else shown
            stop = "" if message.endswith("?") and not shown else "."
            return f"'{key}': {message}{shown}{stop}" if key else f"{message}{shown}{stop}"
        case "model_type" | "dict_type":
            return f"'{key}' is {fault['input']!r}, but it must be a table, under a line [{key}]."
        case "greater_than_equal":
            return f"'{key}' is {fault['input']!r}, but it must be at least {fault['ctx']['ge']}."
        case "less_than_equal":
            return f"'{key}' is {fault['input']!r}, but it must be at most {fault['ctx']['le']}."
        case "int_type" | "int_from_float":
            return f"'{key}' is {fault['input']!r}, but it must be a whole number."
        case _:
            message = str(fault["msg"])
            message = message[0].lower() + message[1:]
            return (
                f"'{key}' is {fault['input']!r}, but {message.replace('input should', 'it must')}."
            )


def _dotted(location: Sequence[str | int]) -> str:
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _keys_beside(kind: type[BaseModel], location: Sequence[str | int]) -> list[str]:
    """The keys allowed in the table in which the last part of *location* was found."""
    table: type[BaseModel] = kind
    for part in location[:-1]:
        if isinstance(part, int) or part not in table.model_fields:
            continue
        found = _table_in(table.model_fields[part].annotation)
        if found is not None:
            table = found
    return list(table.model_fields)


def _table_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in get_args(annotation):
        found = _table_in(part)
        if found is not None:
            return found
    return None
