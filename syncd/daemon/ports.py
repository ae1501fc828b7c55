"""What the keeper asks of the world: to watch the library, to tell the listener.

The real ones are in ``watcher``, ``notices``; tests hand in others.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Hints:
    """Something in the library may have changed: the places, none where it may be anywhere."""

    paths: tuple[str, ...] = ()


class LibraryWatch(Protocol):
    """Tells when the library may have changed. Its events are hints; the scan is the truth.

    It calls *wake*, from any thread, when there is something new to ask it about. All of its
    methods are called in the keeper's thread and must not wait for a disk.
    """

    def watch(self, roots: Sequence[Path]) -> None:
        """Watch these roots from now on, and no others."""
        ...

    def settled(self) -> Hints | None:
        """What changed and has come to rest since this was last asked; None if nothing has."""
        ...

    def next_s(self) -> float | None:
        """Seconds until it should be asked again; None when it will call *wake* itself."""
        ...

    def restless(self) -> tuple[bytes, ...]:
        """The folders in which something is going on: a scan is to leave them as they are known.

        A name with a slash at its end stands for all under it.
        """
        ...

    def look_round(self) -> None:
        """A mount changed, or it is time: see whether roots came, went or are others."""
        ...

    def problems(self) -> tuple[str, ...]:
        """Why it sees less than it should, each with its remedy."""
        ...

    def close(self) -> None:
        """Stop watching."""
        ...


WatchMaker = Callable[[Callable[[], None]], LibraryWatch]
"""Makes a watch that calls the given function when it wants to be asked."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to tell the listener. ``urgent`` asks for something to be done about it."""

    title: str
    text: str
    urgent: bool = False


class Notices(Protocol):
    """Tells the listener. Never raises, and never waits for the desktop."""

    def tell(self, notice: Notice) -> None:
        """Show *notice*."""
        ...

    def tidy(self) -> None:
        """Put in order what earlier notices have left; called now and then."""
        ...

    def close(self) -> None:
        """Let go of what it uses."""
        ...
