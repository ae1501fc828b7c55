"""Notices by a program of the listener's own: for a computer without a desktop, and for tests."""

import logging
import subprocess
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

import msgspec

from syncd.daemon.ports import Notice

PATIENCE_S = 60.0
"""A program that takes longer is ended."""

_log = logging.getLogger("syncd.daemon")


class CommandNotices:
    """Calls *command* with two more arguments, the title and the text. Waits for nothing.

    Standard input has the same as an object: ``title``, ``text`` and ``urgent`` (is something to
    be done about it).
    """

    def __init__(self, command: Sequence[str], clock: Callable[[], float] = time.monotonic) -> None:
        self._command = tuple(command)
        self._clock = clock
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
            _log.warning("The notice command %s cannot be called: %s.", self._command[0], error)
            return
        self._running.append((process, self._clock()))

    def close(self) -> None:
        self.tidy()

    def tidy(self) -> None:
        still = []
        for process, begun in self._running:
            if process.poll() is not None:
                continue
            if self._clock() - begun > PATIENCE_S:
                process.kill()
            still.append((process, begun))
        self._running = still


def _clean(notice: Notice) -> Notice:
    """*notice* as a program can take it: names from outside may have odd bytes in them."""
    title, text = (
        "".join(letter if letter.isprintable() or letter == "\n" else "�" for letter in part)
        for part in (notice.title, notice.text)
    )
    return replace(notice, title=title, text=text)
