"""What the applier is given and what it gives back: makers of files, who is told, what was done."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from syncd.errors import ItemProblem
from syncd.model import CardPath
from syncd.planner.plan import Placement, Step


class Content(Protocol):
    """The bytes of a file for a card: its exact size, and its bytes as chunks."""

    @property
    def size(self) -> int:
        """Bytes that ``chunks`` has in all."""
        ...

    def chunks(self) -> Iterator[bytes]:
        """The bytes from the beginning. Raises ItemProblem when they cannot be read to the end."""
        ...


Dresser = Callable[[Placement], AbstractContextManager[Content]]
CatalogueBuilder = Callable[[Sequence[tuple[Placement, int]]], Path]
"""Builds, at home, the catalogue of placements with their sizes; returns the file."""

Report = Callable[[Step, int], None]
"""Told of each step that was done, and of the bytes that it wrote."""

Compared = Callable[[CardPath, int], None]
"""Told of each new file that was read back, and of its size."""


@dataclass(slots=True)
class Applied:
    """What was done. ``bytes_written`` counts everything written to the card.

    ``read_back`` counts the new files that were read again and compared; ``from_memory`` those of
    them where the system may have answered from its memory instead of the card. ``mended`` counts
    those that differed, and did no more when written once more.
    """

    written: int = 0
    renamed: int = 0
    removed: int = 0
    kept_from_before: int = 0
    bytes_written: int = 0
    read_back: int = 0
    from_memory: int = 0
    mended: int = 0

    def and_then(self, later: "Applied") -> "Applied":
        """This and what was done in the same update after it; files kept count from before it."""
        return Applied(
            self.written + later.written,
            self.renamed + later.renamed,
            self.removed + later.removed,
            self.kept_from_before,
            self.bytes_written + later.bytes_written,
            self.read_back + later.read_back,
            self.from_memory + later.from_memory,
            self.mended + later.mended,
        )


class CannotMake(ItemProblem):
    """A file that the plan counts on cannot be made; the plan must be made anew without it.

    ``done`` is what was done up to there.
    """

    def __init__(self, placement: Placement, problem: ItemProblem) -> None:
        super().__init__(problem.item, problem.reason)
        self.placement = placement
        self.done = Applied()
