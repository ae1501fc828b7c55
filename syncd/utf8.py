"""Text that UTF-8 can hold, for sentences and JSON.

A file's name may have bytes that are not UTF-8; in paths they stand as lone surrogates (PEP 383),
which no output takes. Control characters are left to who prints (``cli/output.py``).
"""

from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Any


def printable(text: str | Path) -> str:
    """*text* with a question mark for each byte of a file's name that is not UTF-8."""
    return str(text).encode("utf-8", "replace").decode("utf-8")


def for_json(value: Any) -> Any:
    """*value* with what JSON cannot hold made plain: dataclasses, tuples, sets, lone surrogates."""
    if isinstance(value, str):
        return printable(value)
    if is_dataclass(value) and not isinstance(value, type):
        return for_json(asdict(value))
    if isinstance(value, dict):
        return {for_json(str(key)): for_json(item) for key, item in value.items()}
    if isinstance(value, list | tuple | frozenset | set):
        return [for_json(item) for item in value]
    return value
