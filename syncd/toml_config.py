"""Reading a TOML file into a validated value, with errors that a person can act on.

Settings, player profiles and programmes share it. The checking itself is pydantic's; what is ours
is the sentence: which file, which key, what was found, what is allowed.
"""

import difflib
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
        data = tomllib.loads(raw.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SetupProblem(
            f"The {what} {path} is not valid TOML: {error}. Mend that place and try again."
        ) from error
    return check_table(data, kind, what, str(path))


def check_table(data: Mapping[str, Any], kind: type[T], what: str, where: str) -> T:
    """Check already parsed *data* against *kind*. Raises SetupProblem with one line a fault."""
    try:
        return kind.model_validate(data)
    except ValidationError as error:
        found = error.errors(include_url=False)
        # A faulty item is dropped before its list is counted: told once, not twice.
        deeper = {fault["loc"][:depth] for fault in found for depth in range(1, len(fault["loc"]))}
        told = [fault for fault in found if fault["loc"] not in deeper]
        faults = [_sentence(fault, kind) for fault in told]
        head = f"The {what} {where} is not valid:"
        raise SetupProblem("\n  ".join([head, *faults])) from error


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
            return f"'{key}': {message}{shown}." if key else f"{message}{shown}."
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
