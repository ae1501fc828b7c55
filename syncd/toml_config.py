"""Reading a TOML file into a validated value, with errors that a person can act on.

Settings, player profiles and programmes share it. The checking itself is pydantic's; what is ours
is the sentence: which file, which key, what was found, what is allowed.
"""

import datetime
import difflib
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

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
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise SetupProblem(
            f"The {what} {path} is not text in UTF-8 (line {line}). Save it in UTF-8, if it is the "
            "right file."
        ) from error
    return check_table(parsed(text, what, str(path)), kind, what, str(path), text)


def parsed(text: str, what: str, where: str) -> dict[str, Any]:
    """*text* as TOML. Raises SetupProblem with the line, what is wrong there, and what to do."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line, fault = misread(error, text)
        raise SetupProblem(f"The {what} {where} is not valid:\n  line {line}: {fault}") from error


_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")

_BARE = re.compile(r"[^\"'\[\]{}#\\=]+")
"""A value without quotes or brackets."""

_MISREADINGS = (
    ("Cannot overwrite", "'{key}' is there already; keep one of the two"),
    ("Cannot declare", "[{key}] is there already; put the lines below it under the first one"),
    ("Cannot mutate", "[{key}] is there already; put the lines below it under the first one"),
    ("Duplicate inline", "a key is given twice between the same braces; keep one of the two"),
    ("Unclosed array", "a list is not closed: items are parted by commas, and ']' is behind them"),
    ("Unclosed inline", "what begins with '{{' is not closed; write '}}' behind it"),
    ("Expected '='", "a key without a value; write: key = value"),
    ("Expected newline", 'more stands here than one value; text goes in quotes, "like this"'),
    ('Expected "]', "a line that begins with '[' must end with as many ']'"),
    ("Expected ']", "a line that begins with '[' must end with as many ']'"),
    ("Illegal character '\\n'", "a text is not closed; write its second quotation mark"),
    ("Unterminated string", "a text is not closed; write its second quotation mark"),
    ('Expected "\'"', "a text is not closed; write its second quotation mark"),
    ("Unescaped", "a backslash in a text in \"…\" must be doubled; or put the text in '…'"),
    ("Invalid hex", "a backslash in a text in \"…\" must be doubled; or put the text in '…'"),
    ("Invalid date", "this is not a date; if it is meant as text, put it in quotes"),
    ("Invalid statement", "this is neither a key with its value nor a [table]; remove or mend it"),
    ("Invalid initial", "this is neither a key with its value nor a [table]; remove or mend it"),
)
"""How tomllib begins what it says of a fault, and what that means to who wrote the file."""


def misread(error: tomllib.TOMLDecodeError, text: str) -> tuple[int, str]:
    """The line of what tomllib stumbled over in *text*, and what is wrong with it: a sentence."""
    message = str(error)
    lines = text.split("\n")
    place = _PLACE.search(message)
    number = int(place[1]) if place is not None and place[1] else len(text.rstrip().split("\n"))
    line = lines[number - 1].strip() if number <= len(lines) else ""
    key, sign, value = (part.strip() for part in line.partition("="))
    if sign and (not value or value.startswith("#")):
        return number, f"'{key}' has no value; write it behind the '=', or take the line away."
    if value in ("True", "False"):
        return number, f"'{key}' is {value}; write it small: {key} = {value.lower()}."
    if message.startswith(("Invalid value", "Expected newline")) and _BARE.fullmatch(value):
        return number, f"'{key}' is {value}; text goes in quotes: {key} = \"{value}\"."
    if message.startswith("Cannot overwrite") and (table := _HEADER.match(line)):
        header = table[1] + table[2] + "]" * len(table[1])
        return number, f"{header} comes too late: put what belongs to it below this line."
    for start, meaning in _MISREADINGS:
        if message.startswith(start):
            return number, meaning.format(key=key.strip("[] ")) + "."
    return number, f"this is not TOML ({_PLACE.sub('', message)}); mend it."


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
    found = _as_written(fault["input"])
    match fault["type"]:
        case "extra_forbidden":
            known = _keys_beside(kind, location)
            near = difflib.get_close_matches(str(location[-1]), known, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else _where_it_belongs(kind, location)
            return f"'{key}' is not a key here.{hint} Allowed: {', '.join(sorted(known))}."
        case "missing":
            header = _header(kind, location)
            what = f"A line {header} with what belongs to it" if header else f"'{key}'"
            return f"{what} is missing. Add it."
        case "value_error":
            message = str(fault["ctx"]["error"])
            simple = isinstance(fault["input"], str | int | float) or found.startswith(("['", "[]"))
            shown = f" (found {found})" if simple and not message.startswith(found) else ""
            stop = "" if message.endswith("?") and not shown else "."
            return f"'{key}': {message}{shown}{stop}" if key else f"{message}{shown}{stop}"
        case "greater_than_equal":
            return f"'{key}' is {found}, but it must be at least {fault['ctx']['ge']}."
        case "less_than_equal":
            return f"'{key}' is {found}, but it must be at most {fault['ctx']['le']}."
        case "greater_than":
            return f"'{key}' is {found}, but it must be more than {fault['ctx']['gt']:g}."
        case "model_type" | "dict_type" | "tuple_type":
            header = _header(kind, location)
            what = f"a table, under a line {header}" if header else "a list in brackets: [...]"
            return f"'{key}' is {found}, but it must be {what}."
        case "int_type" | "int_from_float":
            return f"'{key}' is {found}, but it must be a whole number{_unquoted(fault)}."
        case "float_type" | "finite_number":
            return f"'{key}' is {found}, but it must be a number{_unquoted(fault)}."
        case "bool_type":
            return f"'{key}' is {found}, but it must be true or false, without quotes."
        case "string_type":
            return f"'{key}' is {found}, but it must be a text in quotes."
        case _:
            message = str(fault["msg"])
            message = message[0].lower() + message[1:]
            return f"'{key}' is {found}, but {message.replace('input should', 'it must')}."


def _as_written(value: object) -> str:
    """*value* as TOML writes it, nearly."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return repr(value)


def _unquoted(fault: Any) -> str:
    return ", without quotes" if isinstance(fault["input"], str) else ""


def _where_it_belongs(kind: type[BaseModel], location: Sequence[str | int]) -> str:
    """Where a key belongs that is none in its table, but is one in another table."""
    key = str(location[-1])
    if len(location) > 1 and key in kind.model_fields:
        return f" '{key}' belongs at the top, before the first line in brackets."
    for name in kind.model_fields if len(location) == 1 else ():
        inner = _table_in(kind.model_fields[name].annotation)
        if inner is not None and key in inner.model_fields:
            header = _header(inner, (key,), (name,))
            return (
                f" It belongs below {_header(kind, (name,))}{', as ' + header if header else ''}."
            )
    return ""


def _header(kind: type[BaseModel], location: Sequence[str | int], above: Sequence[str] = ()) -> str:
    """The line with which the table at *location* begins, empty if there stands no table."""
    names = list(above)
    table: type[BaseModel] | None = kind
    annotation: Any = None
    for part in location:
        if isinstance(part, int):
            continue
        if table is None or part not in table.model_fields:
            return ""
        annotation = table.model_fields[part].annotation
        table = _table_in(annotation)
        names.append(part)
    if table is None:
        return ""
    dotted = ".".join(names)
    return f"[[{dotted}]]" if _has_many(annotation) else f"[{dotted}]"


def _has_many(annotation: Any) -> bool:
    """Whether a field holds a row of tables, be it in an annotation or one of several kinds."""
    if get_origin(annotation) in (tuple, list):
        return True
    return any(_has_many(part) for part in get_args(annotation))


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
