"""What numbers mean once the composer is known: whose catalogue it is, how the number is written.

A number whose catalogue is not the composer's becomes a warning. Numbers are taken out of text by
``reading.py``.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from syncd.works.numbers.raw import RawNumber
from syncd.works.numbers.reading import numbers_in
from syncd.works.numbers.systems import System, systems_of

_FOR_ANYBODY = frozenset({"op", "woo"})
_FOR_UNKNOWN = frozenset({"op", "woo", "anh"})


@dataclass(frozen=True, slots=True)
class Resolved:
    """What numbers mean for one composer."""

    numbers: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def write_number(system: System, raw: RawNumber) -> str:
    """How the conventions write *raw* as a number of *system* (``Op. 27 No. 2``, ``WoO 59``)."""
    label = system.label
    if raw.posthumous:
        label += " posth."
    if raw.annex:
        label += " Anh."
    text = f"{label} {raw.main}".strip()
    return f"{text} No. {raw.sub}" if raw.sub else text


def resolve(
    raws: Iterable[RawNumber], systems: Sequence[str] | None, composer: str | None = None
) -> Resolved:
    """What *raws* mean for a *composer* with these *systems* (None: he is not in the table).

    The order is that of *raws*; a repeated number is given once.
    """
    return _resolve(tuple(raws), None if systems is None else tuple(systems), composer)


@lru_cache(maxsize=16384)
def _resolve(
    raws: tuple[RawNumber, ...], systems: tuple[str, ...] | None, composer: str | None
) -> Resolved:
    numbers: dict[str, None] = {}
    warnings: list[str] = []
    for raw in raws:
        system = _system_for(raw, systems, composer)
        if system is not None:
            numbers[write_number(system, raw)] = None
        elif raw.sure:
            whose = f" of {composer}" if composer else ""
            warnings.append(f"{raw.text} is in no catalogue{whose}")
    return Resolved(tuple(numbers), tuple(warnings))


def _system_for(
    raw: RawNumber, systems: tuple[str, ...] | None, composer: str | None
) -> System | None:
    candidates = systems_of(raw.prefix)
    if systems is not None:
        for system in candidates:
            if system.id in systems:
                return system
        for system in candidates:
            if system.id in _FOR_ANYBODY or (composer is not None and system.owner == composer):
                return system
        return None
    for system in candidates:
        if system.id in _FOR_UNKNOWN:
            return system
    if len(raw.prefix) == 1:
        return None
    # Letters that tell their composer mean him when none is named; a composer outside the table can
    # only have a catalogue whose letters are several composers'.
    for system in candidates:
        if (system.owner is None) == (composer is not None):
            return system
    return None


def owner_of(raw: RawNumber) -> str | None:
    """The sort form of the only composer whose catalogue *raw* can come from, or None."""
    if len(raw.prefix) == 1:
        return None
    owners = {system.owner for system in systems_of(raw.prefix)}
    return owners.pop() if len(owners) == 1 else None


def parse_number(text: str, systems: Sequence[str] | None, composer: str | None) -> str | None:
    """The first catalogue number in *text* as the conventions write it, or None."""
    for raw in numbers_in(text):
        numbers = resolve([raw], systems, composer).numbers
        if numbers:
            return numbers[0]
    return None
