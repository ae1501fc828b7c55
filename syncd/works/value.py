"""Values of the works engine that are made for every track, without the price of frozen ones.

A frozen dataclass sets each field through a call; for readings of up to thirty fields, several a
track, that was a seventh of the engine's time. The type checker holds these values to be frozen
just the same, and nothing else sets fields from outside.
"""

from dataclasses import dataclass
from typing import TypeVar, dataclass_transform

_C = TypeVar("_C")


@dataclass_transform(frozen_default=True)
def plain_value(cls: type[_C]) -> type[_C]:
    """A dataclass with slots, equality and hash, frozen for the type checker alone."""
    return dataclass(slots=True, unsafe_hash=True)(cls)


__all__ = ["plain_value"]
