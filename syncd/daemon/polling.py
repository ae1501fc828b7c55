"""The simplest watch of the library: a scan is asked for at an interval."""

import time
from collections.abc import Callable, Sequence
from pathlib import Path

from syncd.daemon.ports import Hints


class PollingWatch:
    """Says at an interval that anything may have changed. Sees nothing itself."""

    def __init__(self, every_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._every_s = every_s
        self._clock = clock
        self._due = clock() + every_s

    def watch(self, roots: Sequence[Path]) -> None:
        """All roots are read alike."""

    def settled(self) -> Hints | None:
        if self._clock() < self._due:
            return None
        self._due = self._clock() + self._every_s
        return Hints()

    def next_s(self) -> float | None:
        return max(0.0, self._due - self._clock())

    def problems(self) -> tuple[str, ...]:
        return ()

    def close(self) -> None:
        """There is nothing to stop."""
