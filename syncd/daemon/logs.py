"""How the daemon's log looks: a line for each thing done, in a person's words, on standard error.

Under systemd the journal has time and program already: there a line begins with its priority only
(sd-daemon(3), "<6>"). Elsewhere it begins with the time. As JSON it is an object a line. Names from
outside cannot begin a line of their own: control characters are shown as a mark.
"""

import logging
import os
import sys
import time
from typing import IO

import msgspec

from syncd.settings import Supervision
from syncd.utf8 import printable

# syslog(3): 3 an error, 4 a warning, 6 for information, 7 for debugging.
_PRIORITIES = ((logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))


def _priority(level: int) -> int:
    return next((number for least, number in _PRIORITIES if level >= least), 7)


def _harmless(line: str) -> str:
    clean = printable(line)
    return "".join(letter if letter.isprintable() or letter == "\t" else "�" for letter in clean)


def _moment(seconds: float) -> str:
    return time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(seconds))


class Plain(logging.Formatter):
    """A line with the time before it."""

    def format(self, record: logging.LogRecord) -> str:
        return "\n".join(self._before(record) + line for line in self._lines(record))

    def _before(self, record: logging.LogRecord) -> str:
        grave = f"{record.levelname.lower()}: " if record.levelno >= logging.WARNING else ""
        return f"{_moment(record.created)} {grave}"

    def _lines(self, record: logging.LogRecord) -> list[str]:
        """The message, one line; a fault's traceback has further ones."""
        lines = [_harmless(" ".join(record.getMessage().splitlines()))]
        if record.exc_info:
            lines += map(_harmless, self.formatException(record.exc_info).split("\n"))
        return lines


class Journal(Plain):
    """A line with its priority before it."""

    def _before(self, record: logging.LogRecord) -> str:
        return f"<{_priority(record.levelno)}>"


class Json(Plain):
    """An object a line: ``time`` since 1970, ``priority``, ``from``, ``message``, ``fault``."""

    def format(self, record: logging.LogRecord) -> str:
        message, *fault = self._lines(record)
        told = {
            "time": round(record.created, 3),
            "priority": _priority(record.levelno),
            "from": record.name,
            "message": message,
        }
        if fault:
            told["fault"] = fault
        return msgspec.json.encode(told).decode()


def goes_to_the_journal(supervision: Supervision, stream: IO[str]) -> bool:
    """Whether *stream* is the one that systemd connected to its journal (systemd.exec(5))."""
    try:
        facts = os.fstat(stream.fileno())
    except (OSError, ValueError):
        return False
    return supervision.journal_stream == f"{facts.st_dev}:{facts.st_ino}"


def begin(
    supervision: Supervision, *, as_json: bool = False, stream: IO[str] | None = None
) -> None:
    """Send the log of this process, and of the jobs forked from it, to *stream* (stderr)."""
    out = sys.stderr if stream is None else stream
    handler = logging.StreamHandler(out)
    formatter: logging.Formatter = Plain()
    if as_json:
        formatter = Json()
    elif goes_to_the_journal(supervision, out):
        formatter = Journal()
    handler.setFormatter(formatter)
    logging.basicConfig(handlers=[handler], level=logging.INFO, force=True)


def as_json() -> bool:
    """Whether the log of this process is written as JSON."""
    return any(isinstance(handler.formatter, Json) for handler in logging.getLogger().handlers)
