"""A job in a process of its own, as the keeper sees it: begin, hear, stop.

So a library of 100,000 tracks takes memory only while it is worked on, a card that hangs holds up
nobody else, and a fault in the work does not end the daemon. What the process does is in ``work``.
"""

import contextlib
import json
import logging
import os
import select
import signal
from collections.abc import Callable, Sequence
from typing import Any

from syncd.daemon.loop import Loop
from syncd.daemon.pauses import Pauses
from syncd.daemon.process import Forked, Process, Spawned, can_fork
from syncd.settings import Home

PATIENCE_S = 3.5
"""Seconds in which a job that is asked to stop finds a safe point; then it is killed, which is as
safe as a power cut, and the next one goes on from there."""

MUTE_S = 10.0
"""A process says its first word at once; a new Python on a busy computer takes a while."""

_LARGEST_LINE = 1 << 22
_LINGERS = 7
"""Looks, with growing pauses: after a second or so."""

_log = logging.getLogger(__name__)

Heard = Callable[[dict[str, Any]], None]
Ended = Callable[[dict[str, Any]], None]


def order_of(kind: str, home: Home, **more: Any) -> str:
    """The one argument of a working process."""
    places = {
        "settings_file": str(home.settings_file),
        "state": str(home.state),
        "store": str(home.store),
    }
    # ASCII throughout, with lone surrogates for odd bytes in names: so it comes back as it was.
    return json.dumps({"kind": kind, "home": places, **more})


class Child:
    """A job under way. *heard* gets each event, *ended* the last one, once."""

    def __init__(
        self,
        loop: Loop,
        order: str,
        heard: Heard,
        ended: Ended,
        *,
        keeps: Sequence[int] = (),
        make: Callable[[str, Sequence[int]], Process] | None = None,
    ) -> None:
        self._loop = loop
        self._order, self._keeps = order, tuple(keeps)
        self._heard = heard
        self._ended = ended
        self.stopping = False
        self._over = False
        self._begin((make or (Forked if can_fork() else Spawned))(order, self._keeps))
        self._mute = loop.after(MUTE_S, self._begin_anew)

    def _begin(self, process: Process) -> None:
        self._process = process
        self._rest = b""
        self._last: dict[str, Any] | None = None
        os.set_blocking(process.out, False)
        self._loop.attend(process.out, self._read, select.POLLIN | select.POLLHUP)

    def _begin_anew(self) -> None:
        """It has not said a word: a fork that hangs in what another thread had locked."""
        if self.stopping:
            return
        _log.warning("A working process did not begin; another one is made.")
        self.kill()
        self._let_go()
        hung = self._process
        self._wait_for(hung, Pauses(0.01, 1.0), lambda status: None)
        self._begin(Spawned(self._order, self._keeps))

    @property
    def pid(self) -> int:
        """The process."""
        return self._process.pid

    def stop(self) -> None:
        """Ask it to stop at the next safe point; kill it if it finds none in time."""
        if self.stopping:
            return
        self.stopping = True
        with contextlib.suppress(ProcessLookupError):
            # It is not waited for before its pipe is closed: this number is still its own.
            os.kill(self._process.pid, signal.SIGTERM)
        self._loop.after(PATIENCE_S, self.kill)

    def kill(self) -> None:
        """End it and all that it started, at once."""
        if not self._over and self._process.wait(0) is None:
            _kill(self._process)

    def _read(self, _events: int) -> None:
        with contextlib.suppress(BlockingIOError):
            while data := os.read(self._process.out, 1 << 16):
                self._mute.cancel()
                *lines, self._rest = (self._rest + data).split(b"\n")
                for line in lines:
                    self._take(line)
                if len(self._rest) > _LARGEST_LINE:
                    self._rest = b""
            self._finish()

    def _take(self, line: bytes) -> None:
        try:
            event = json.loads(line)
        except ValueError:
            _log.warning("A job said what is no JSON: %r", line[:200])
            return
        if event.get("last"):
            self._last = event
        else:
            self._heard(event)

    def _finish(self) -> None:
        """It has closed its pipe, which it does by ending: that may take a moment still."""
        self._let_go()
        self._mute.cancel()
        self._wait_for(self._process, Pauses(0.01, 1.0), self._gone)

    def _wait_for(self, process: Process, pauses: Pauses, gone: Callable[[int], None]) -> None:
        """Call *gone* with its status once it has ended; a process that lingers is killed.

        Nobody else is held up by it meanwhile, and none is left as a zombie.
        """
        status = process.wait(0.01 if not pauses.tried else 0)
        if status is not None:
            gone(status)
            return
        if pauses.tried == _LINGERS:
            _kill(process)
        self._loop.after(pauses.next_s(), lambda: self._wait_for(process, pauses, gone))

    def _gone(self, status: int) -> None:
        self._over = True
        last = self._last
        if last is None:
            cause = f"signal {-status}" if status < 0 else f"status {status}"
            last = (
                {"event": "stopped"}
                if self.stopping
                else {
                    "event": "failed",
                    "kind": "fault",
                    "message": f"A job of syncd ended without a word ({cause}). It is tried again; "
                    "if that does not help, look at the log above and report it.",
                }
            )
        self._ended(last)

    def _let_go(self) -> None:
        self._loop.forget(self._process.out)
        os.close(self._process.out)
        os.close(self._process.to)


def _kill(process: Process) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        try:
            os.killpg(process.pid, signal.SIGKILL)
        except ProcessLookupError:  # it hangs before it has a group of its own
            os.kill(process.pid, signal.SIGKILL)
