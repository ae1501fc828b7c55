"""The jobs of the keeper as it sees them: what is due, what is under way, how one is begun."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from syncd.daemon.plugged import Card
from syncd.daemon.state import Doing

Event = dict[str, Any]


class Job(Protocol):
    """A job under way."""

    def stop(self) -> None:
        """Stop at the next safe point."""
        ...

    def kill(self) -> None:
        """End at once."""
        ...


class JobMaker(Protocol):
    """Begins a job that keeps the descriptor *keep* open as long as it lives."""

    def __call__(
        self,
        order: str,
        heard: Callable[[Event], None],
        ended: Callable[[Event], None],
        keep: int,
    ) -> Job: ...


@dataclass(slots=True, eq=False)
class Running:
    """A job under way; ``library`` is the number of the library's state that it works from."""

    job: Job
    doing: Doing
    library: int
    card: Card | None = None
    begun: bool = False
    unmounting: bool = False


class NoJob:
    """Stands for a job that could not be begun."""

    def stop(self) -> None:
        """There is nothing to stop."""

    def kill(self) -> None:
        """There is nothing to end."""
