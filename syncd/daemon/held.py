"""Something that is due, or not, and after a failure is held back for a pause."""

from collections.abc import Callable

from syncd.daemon.loop import Loop, Timer
from syncd.daemon.pauses import Pauses


class Held:
    """Something that is due, or not; after a failure it is held back for a pause."""

    def __init__(self, loop: Loop, again: Callable[[], None], pauses: Pauses, due: bool) -> None:
        self.due = due
        self._loop, self._again, self._pauses = loop, again, pauses
        self._timer: Timer | None = None

    @property
    def now(self) -> bool:
        """Whether it is due, and not held back."""
        return self.due and self._timer is None

    def failed(self) -> float:
        """It is due again after a pause, which is returned, in seconds."""
        self.due = True
        self.cancel()
        pause = self._pauses.next_s()
        self._timer = self._loop.after(pause, self._retry)
        return pause

    def reset(self) -> None:
        """It worked, or something changed that it failed by: no pause."""
        self._pauses.reset()
        self.cancel()

    def cancel(self) -> None:
        """Wait for no time any more."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _retry(self) -> None:
        self._timer = None
        self._again()
