"""Notices by a program of the listener's own: for a computer without a desktop, and for tests."""

import contextlib
import logging
import math
import os
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

import msgspec

from syncd.daemon.ports import Notice

PATIENCE_S = 60.0
"""A program that takes longer is ended."""

_TOLD = math.inf
"""Stands for the time at which one was begun that was ended, and told of."""

_log = logging.getLogger("syncd.daemon")


class CommandNotices:
    """Calls *command* with two more arguments, the title and the text. Waits for nothing.

    Standard input has the same as an object: ``title``, ``text`` and ``urgent`` (is something to
    be done about it). That it failed is told in the log, unless it *tells_failures* there itself.
    """

    def __init__(
        self,
        command: Sequence[str],
        clock: Callable[[], float] = time.monotonic,
        *,
        tells_failures: bool = False,
    ) -> None:
        self._command = tuple(command)
        self._clock = clock
        self._tells_failures = tells_failures
        self._running: list[tuple[subprocess.Popen[bytes], float]] = []

    def tell(self, notice: Notice) -> None:
        self.tidy()
        notice = _clean(notice)
        try:
            # A file, no pipe: a program that does not read holds up nobody.
            with tempfile.TemporaryFile() as told:
                told.write(msgspec.json.encode(asdict(notice)) + b"\n")
                told.seek(0)
                process = subprocess.Popen(
                    [*self._command, notice.title, notice.text],
                    stdin=told,
                    stdout=subprocess.DEVNULL,
                    start_new_session=True,
                )
        except (OSError, ValueError) as error:
            cause = error.strerror if isinstance(error, OSError) else error
            self._warn(f"cannot be called: {cause}")
            return
        self._running.append((process, self._clock()))

    def close(self) -> None:
        self.tidy()

    def tidy(self) -> None:
        still = []
        for process, begun in self._running:
            status = process.poll()
            if status is not None:
                if status and begun != _TOLD and not self._tells_failures:
                    how = f"status {status}" if status > 0 else f"signal {-status}"
                    self._warn(f"failed ({how})")
                continue
            if self._clock() - begun > PATIENCE_S:
                self._warn(f"did not end within {PATIENCE_S:.0f} s, and was ended")
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(process.pid, signal.SIGKILL)  # what it started as well
                begun = _TOLD
            still.append((process, begun))
        self._running = still

    def _warn(self, what: str) -> None:
        _log.warning(
            "The notice command %s %s. See 'notice_command' in the settings; what it was to tell "
            "is in this log.",
            self._command[0],
            what,
        )


def _clean(notice: Notice) -> Notice:
    """*notice* as a program can take it: names from outside may have odd bytes in them."""
    title, text = (
        "".join(letter if letter.isprintable() or letter == "\n" else "�" for letter in part)
        for part in (notice.title, notice.text)
    )
    return replace(notice, title=title, text=text)
