"""One thread that waits for descriptors, for times and for other threads, and wakes for no more.

``asyncio`` cannot wait for what the mount table gives (POLLPRI without POLLIN), and brings more
than the daemon needs. What is called must be quick: whatever may wait for a disk is a process or a
thread of its own.
"""

import contextlib
import heapq
import itertools
import logging
import os
import select
import signal
import time
from collections import deque
from collections.abc import Callable

Call = Callable[[], None]

_FEW_TIMERS = 64
_log = logging.getLogger(__name__)


class Timer:
    """A call that is to be made at a certain time, unless it is taken back."""

    __slots__ = ("call",)

    def __init__(self, call: Call) -> None:
        self.call: Call | None = call

    def cancel(self) -> None:
        """Take it back; once it was made, that changes nothing."""
        self.call = None


class Loop:
    """Waits, and calls. *clock* is monotonic, in seconds."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self.rounds = 0
        self._poll = select.poll()
        self._attended: dict[int, Callable[[int], None]] = {}
        self._timers: list[tuple[float, int, Timer]] = []
        self._many = _FEW_TIMERS
        self._numbers = itertools.count()
        self._soon: deque[Call] = deque()
        self._stopped = False
        self._heeds = False
        self._reader, self._writer = os.pipe()
        for end in (self._reader, self._writer):
            os.set_blocking(end, False)
        self.attend(self._reader, self._drain)

    def attend(self, fd: int, call: Callable[[int], None], events: int = select.POLLIN) -> None:
        """Call *call* with the events whenever *fd* has some of *events*."""
        self._attended[fd] = call
        self._poll.register(fd, events)

    def forget(self, fd: int) -> None:
        """Attend to *fd* no more. To be called before it is closed."""
        if self._attended.pop(fd, None) is not None:
            self._poll.unregister(fd)

    def after(self, seconds: float, call: Call) -> Timer:
        """Call *call* in so many seconds."""
        timer = Timer(call)
        if len(self._timers) > self._many:
            # Those that were taken back would stay until their time, which may be hours.
            self._timers = [entry for entry in self._timers if entry[2].call is not None]
            heapq.heapify(self._timers)
            self._many = 2 * len(self._timers) + _FEW_TIMERS
        heapq.heappush(self._timers, (self.clock() + seconds, next(self._numbers), timer))
        return timer

    def soon(self, call: Call) -> None:
        """Call *call* in this loop's thread. The one method for other threads and for signals."""
        self._soon.append(call)
        with contextlib.suppress(BlockingIOError):
            os.write(self._writer, b"!")

    def heed_signals(self) -> None:
        """Wake for each signal that has a handler. To be called in the main thread.

        A signal that comes just before the loop begins to wait, or that the system gives to another
        thread, interrupts no waiting: its handler would be called after the next thing that
        happens, a minute later perhaps (PEP 475; signal.set_wakeup_fd is what Python has for it).
        """
        signal.set_wakeup_fd(self._writer, warn_on_full_buffer=False)
        self._heeds = True

    def stop(self) -> None:
        """End :meth:`run` after this round."""
        self._stopped = True

    def run(self) -> None:
        """Wait and call until :meth:`stop`."""
        while not self._stopped:
            self.once()

    def once(self) -> None:
        """One round: wait for the next thing, and make the calls that it asks for."""
        for fd, events in self._poll.poll(self._patience_ms()):
            if events & select.POLLNVAL:
                # Closed without a word: it would wake the loop at once for ever.
                _log.error("A descriptor (%d) was closed while it was attended to.", fd)
                self.forget(fd)
            elif (attending := self._attended.get(fd)) is not None:
                self._guarded(lambda call=attending, seen=events: call(seen))  # type: ignore[misc]
        self.rounds += 1
        while self._timers and (
            self._timers[0][2].call is None or self._timers[0][0] <= self.clock()
        ):
            timer = heapq.heappop(self._timers)[2]
            if timer.call is not None:
                call, timer.call = timer.call, None
                self._guarded(call)
        for _ in range(len(self._soon)):
            self._guarded(self._soon.popleft())

    def close(self) -> None:
        """Let go of the loop's own descriptors."""
        if self._heeds:
            signal.set_wakeup_fd(-1)
        for end in (self._reader, self._writer):
            self.forget(end)
            os.close(end)

    def _patience_ms(self) -> int | None:
        if self._soon:
            return 0
        while self._timers and self._timers[0][2].call is None:
            heapq.heappop(self._timers)
        if not self._timers:
            return None
        return max(0, int((self._timers[0][0] - self.clock()) * 1000) + 1)

    def _drain(self, _events: int) -> None:
        with contextlib.suppress(BlockingIOError):
            while os.read(self._reader, 4096):
                pass

    @staticmethod
    def _guarded(call: Call) -> None:
        """One fault must not end a daemon that is to stay up for months."""
        try:
            call()
        except Exception:
            _log.exception("A fault in syncd itself; the daemon goes on. Please report it.")
