"""A job in a process of its own, as the keeper sees it: begin, hear, stop.

So a library of 100,000 tracks takes memory only while it is worked on, a card that hangs holds up
nobody else, and a fault in the work does not end the daemon. What the process does is in ``work``.
"""

import contextlib
import logging
import os
import select
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from typing import Any

import msgspec

from syncd.daemon.loop import Loop
from syncd.settings import Home

PATIENCE_S = 3.5
"""Seconds in which a job that is asked to stop finds a safe point; then it is killed, which is as
safe as a power cut, and the next one goes on from there."""

_LARGEST_LINE = 1 << 22
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
    return msgspec.json.encode({"kind": kind, "home": places, **more}).decode()


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
        program: Sequence[str] = (sys.executable, "-m", "syncd.daemon.work"),
    ) -> None:
        self._loop = loop
        self._heard = heard
        self._ended = ended
        self._rest = b""
        self._last: dict[str, Any] | None = None
        self.stopping = False
        # Its own session: so that it and its encoders can be killed as one, and a Ctrl-C on the
        # terminal reaches the daemon alone.
        self._process = subprocess.Popen(
            [*program, order],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,
            pass_fds=tuple(keeps),
        )
        assert self._process.stdout is not None
        self._out = self._process.stdout.fileno()
        os.set_blocking(self._out, False)
        loop.attend(self._out, self._read, select.POLLIN | select.POLLHUP)

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
            self._process.send_signal(signal.SIGTERM)
        self._loop.after(PATIENCE_S, self.kill)

    def kill(self) -> None:
        """End it and all that it started, at once."""
        if self._process.poll() is None:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self._process.pid, signal.SIGKILL)

    def _read(self, _events: int) -> None:
        with contextlib.suppress(BlockingIOError):
            while data := os.read(self._out, 1 << 16):
                *lines, self._rest = (self._rest + data).split(b"\n")
                for line in lines:
                    self._take(line)
                if len(self._rest) > _LARGEST_LINE:
                    self._rest = b""
            self._finish()

    def _take(self, line: bytes) -> None:
        try:
            event = msgspec.json.decode(line)
        except msgspec.DecodeError:
            _log.warning("A job said what is no JSON: %r", line[:200])
            return
        if event.get("last"):
            self._last = event
        else:
            self._heard(event)

    def _finish(self) -> None:
        assert self._process.stdout is not None and self._process.stdin is not None
        self._loop.forget(self._out)
        with contextlib.suppress(OSError):
            self._process.stdin.close()
        self._process.stdout.close()
        try:
            status = self._process.wait(1.0)  # it has said its last word: it is about to end
        except subprocess.TimeoutExpired:
            self.kill()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(0.5)
            status = -signal.SIGKILL
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
