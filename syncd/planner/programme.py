"""The programme: what shall be on a card, in order of priority. The language and its reading.

A TOML file a card; ``docs/programme.md`` has every key. Without one, everything in the library is
wanted. What a clause finds in the library is ``selecting.py``'s, what has room ``filling.py``'s.
"""

import difflib
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from syncd.planner.matching import plain
from syncd.toml_config import Table, read_table
from syncd.works.topics import PERIODS, form_called, form_names
from syncd.works.words.instruments import INSTRUMENTS

Texts = tuple[str, ...]
"""Texts of which one has to fit; empty: not asked."""

Ranges = tuple[tuple[float, float], ...]
"""Ranges, both ends within, of which one has to fit; empty: not asked."""

TEXT_KEYS = (
    "composer", "work", "form", "period", "performer", "conductor", "soloist", "ensemble", "choir",
    "instrument", "artist", "album", "genre", "label", "tag",
)  # fmt: skip
RANGE_KEYS = ("year", "rating")
_RANGE_EXAMPLES = {
    "year": '"1950-1969", "1980-" or "-1949"',
    "rating": '"4-" (four stars and more) or "2-3.5"',
}

_UNITS = {
    "": 1, "b": 1, "kb": 10**3, "mb": 10**6, "gb": 10**9, "tb": 10**12,
    "kib": 1 << 10, "mib": 1 << 20, "gib": 1 << 30, "tib": 1 << 40,
}  # fmt: skip
_SIZE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([A-Za-z]*)\s*")
_RANGE = re.compile(r"\s*(\d+(?:\.\d+)?)?\s*([-\u2013])?\s*(\d+(?:\.\d+)?)?\s*")


class Choice(Table):
    """Recordings and albums for which all that is given fits; of a list, one has to."""

    everything: bool = False
    kind: Literal["work", "popular"] | None = None
    composer: Texts = ()
    work: Texts = ()
    form: Texts = ()
    period: Texts = ()
    performer: Texts = ()
    conductor: Texts = ()
    soloist: Texts = ()
    ensemble: Texts = ()
    choir: Texts = ()
    instrument: Texts = ()
    artist: Texts = ()
    album: Texts = ()
    genre: Texts = ()
    label: Texts = ()
    tag: Texts = ()
    year: Ranges = ()
    rating: Ranges = ()
    added_days: Annotated[int, Field(ge=1)] | None = None
    newest: Annotated[int, Field(ge=1)] | None = None

    @field_validator(*TEXT_KEYS, mode="before")
    @classmethod
    def _texts(cls, value: object) -> object:
        items = list(value) if isinstance(value, list | tuple) else [value]
        if not items:
            raise ValueError("the list is empty; name at least one, or leave the key out")
        for item in items:
            if not isinstance(item, str) or not item.strip():
                raise ValueError(
                    'it must be a text in quotes, or a list of such: "A" or ["A", "B"]'
                )
        return tuple(" ".join(str(item).split()) for item in items)

    @field_validator(*RANGE_KEYS, mode="before")
    @classmethod
    def _ranges(cls, value: object, info: ValidationInfo) -> object:
        items = list(value) if isinstance(value, list | tuple) else [value]
        if not items:
            raise ValueError("the list is empty; name at least one, or leave the key out")
        return tuple(_range(item, _RANGE_EXAMPLES[info.field_name or ""]) for item in items)

    @field_validator("form")
    @classmethod
    def _known_forms(cls, value: Texts) -> Texts:
        return tuple(_known(item, form_called(item), form_names(), "form") for item in value)

    @field_validator("period")
    @classmethod
    def _known_periods(cls, value: Texts) -> Texts:
        periods = {plain(name): name for name in PERIODS}
        return tuple(_known(item, periods.get(plain(item)), PERIODS, "period") for item in value)

    @field_validator("instrument")
    @classmethod
    def _usual_instruments(cls, value: Texts) -> Texts:
        return tuple(INSTRUMENTS.get(plain(item), item) for item in value)

    @field_validator("rating")
    @classmethod
    def _within_five(cls, value: Ranges) -> Ranges:
        for low, high in value:
            if low > 5 or (high != _NO_END and high > 5):
                raise ValueError("ratings go from 0 to 5")
        return value

    @property
    def asks(self) -> bool:
        """Whether it says anything at all that chooses."""
        return self.everything or self.kind is not None or bool(self.asked)

    @property
    def asked(self) -> tuple[str, ...]:
        """The keys, besides ``everything`` and ``kind``, that are given."""
        keys = [key for key in (*TEXT_KEYS, *RANGE_KEYS) if getattr(self, key)]
        keys += [key for key in ("added_days", "newest") if getattr(self, key) is not None]
        return tuple(keys)

    @property
    def described(self) -> str:
        """What it asks for, in a few words."""
        said = [] if self.kind is None else ["works" if self.kind == "work" else "popular"]
        for key in self.asked:
            value = getattr(self, key)
            if key in RANGE_KEYS:
                said.append(f"{key} {' or '.join(_range_text(*pair) for pair in value)}")
            elif key == "added_days":
                said.append(f"added in the last {value} days")
            elif key == "newest":
                said.append(f"the {value} newest")
            else:
                said.append(f"{key} {' or '.join(value)}")
        return ", ".join(said) or "everything"


_CHOOSING = "kind, " + ", ".join((*TEXT_KEYS, *RANGE_KEYS, "added_days", "newest"))


class Limit(Table):
    """The most that a clause puts on the card: bytes, hours of music, recordings and albums."""

    size: int | None = None
    hours: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    recordings: Annotated[int, Field(ge=1)] | None = None

    @field_validator("size", mode="before")
    @classmethod
    def _bytes(cls, value: object) -> object:
        found = _SIZE.fullmatch(value) if isinstance(value, str) else None
        unit = _UNITS.get(found[2].lower()) if found else None
        if isinstance(value, int) and not isinstance(value, bool) and value > 0:
            return value
        if found is None or unit is None or int(float(found[1]) * unit) < 1:
            raise ValueError('it must be an amount such as "8 GB", "500 MB" or "7.5 GiB"')
        return int(float(found[1]) * unit)

    @field_validator("hours", mode="before")
    @classmethod
    def _hours(cls, value: object) -> object:
        return float(value) if isinstance(value, int) and not isinstance(value, bool) else value

    @model_validator(mode="after")
    def _limits_something(self) -> Self:
        if self.size is None and self.hours is None and self.recordings is None:
            raise ValueError("a limit must say 'size', 'hours' or 'recordings'")
        return self


class Clause(Choice):
    """One clause: what it chooses, but for what it leaves out, up to its limit.

    ``order`` says what has room first; without it, what lies on the card, then by title.
    """

    name: str = ""
    order: Literal["title", "newest", "year", "rating"] | None = None
    leave_out: tuple[Choice, ...] = ()
    limit: Limit | None = None

    @field_validator("leave_out", mode="before")
    @classmethod
    def _tuple(cls, value: object) -> object:
        return _tables(value)

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.asks:
            raise ValueError(
                f"a clause chooses nothing; give it 'everything = true' or one of {_CHOOSING}"
            )
        if self.everything and (self.kind is not None or self.asked):
            raise ValueError(
                "'everything' chooses all that is there; leave it out, or the other keys"
            )
        _check_left_out(self.leave_out)
        return self

    @property
    def title(self) -> str:
        """What to call it."""
        return self.name or self.described


class Fit(Table):
    """Bounds, in kbit/s, between which ``fit`` chooses the quality of what is encoded."""

    lowest_kbps: Annotated[int, Field(ge=32, le=512)] = 96
    highest_kbps: Annotated[int, Field(ge=32, le=512)] = 512

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.lowest_kbps > self.highest_kbps:
            raise ValueError("'lowest_kbps' is above 'highest_kbps'; exchange them")
        return self


class Programme(Table):
    """Clauses in order of priority, and what to leave out whatever they say."""

    format: Literal[1] = 1
    fit: Fit | None = None
    clause: Annotated[tuple[Clause, ...], Field(min_length=1)]
    leave_out: tuple[Choice, ...] = ()

    @field_validator("clause", "leave_out", mode="before")
    @classmethod
    def _tuple(cls, value: object) -> object:
        return _tables(value)

    @field_validator("fit", mode="before")
    @classmethod
    def _true_or_bounds(cls, value: object) -> object:
        if isinstance(value, bool):
            return Fit() if value else None
        if not isinstance(value, dict | Fit):
            raise ValueError("it must be true or false, or a table of bounds under a line [fit]")
        return value

    @field_validator("leave_out")
    @classmethod
    def _leaves_out_something(cls, value: tuple[Choice, ...]) -> tuple[Choice, ...]:
        _check_left_out(value)
        return value


def _tables(value: object) -> object:
    """A list of tables as a tuple; one table alone stands for a list of one."""
    if isinstance(value, dict):
        return (value,)
    return tuple(value) if isinstance(value, list) else value


def _check_left_out(choices: tuple[Choice, ...]) -> None:
    for choice in choices:
        if not choice.asks:
            raise ValueError(f"'leave_out' must say what; give it one of {_CHOOSING}")
        if choice.everything:
            raise ValueError("'leave_out' with 'everything = true' leaves nothing; name less")


_NO_END = float("inf")


def _range(item: object, examples: str) -> tuple[float, float]:
    if isinstance(item, tuple) and len(item) == 2:
        return item
    if isinstance(item, int | float) and not isinstance(item, bool) and 0 <= item < _NO_END:
        return float(item), float(item)
    found = _RANGE.fullmatch(item) if isinstance(item, str) else None
    if found is None or (found[1] is None and found[3] is None):
        raise ValueError(f"it must be a number, or a range such as {examples}")
    low = float(found[1]) if found[1] is not None else 0.0
    if found[2] is None:
        if found[1] is None or found[3] is not None:
            raise ValueError(f"it must be a number, or a range such as {examples}")
        return low, low
    high = float(found[3]) if found[3] is not None else _NO_END
    if low > high:
        raise ValueError("the range ends before it begins")
    return low, high


def _range_text(low: float, high: float) -> str:
    if low == high:
        return f"{low:g}"
    return f"{f'{low:g}' if low else ''}-{f'{high:g}' if high != _NO_END else ''}"


def _known(item: str, found: str | None, names: Iterable[str], what: str) -> str:
    if found is not None:
        return found
    known = list(names)
    near = difflib.get_close_matches(plain(item), known, n=1) or difflib.get_close_matches(
        item, known, n=1
    )
    hint = f"; did you mean '{near[0]}'?" if near else ""
    raise ValueError(
        f"'{item}' is not a {what} that syncd knows{hint or '; known are ' + ', '.join(known)}"
    )


EVERYTHING = Programme(clause=(Clause(everything=True),))


def read_programme(path: Path) -> Programme:
    """Read and check the programme in *path*. Raises SetupProblem naming every fault's line."""
    return read_table(path, Programme, "programme")
