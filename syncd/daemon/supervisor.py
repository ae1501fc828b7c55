"""What the daemon tells a service manager: that it is ready, what it does, that it is alive.

The protocol is sd_notify(3)'s: a datagram of VARIABLE=value lines to the socket that NOTIFY_SOCKET
names. Without one nothing is sent. Telling never fails, and never waits but for the first word,
without which the manager would take the start for a failure. A status line that finds the queue
full is said again.
"""

import contextlib
import socket

from syncd.daemon.state import CardStage, State
from syncd.settings import Supervision

FIRST_WORD_S = 5.0

STEP = 10
"""Per cent. The status line changes no more often than that."""


class Supervisor:
    """Tells systemd, or whoever set NOTIFY_SOCKET."""

    def __init__(self, supervision: Supervision) -> None:
        address = supervision.notify_socket
        # "@" stands for the zero byte of Linux's abstract names.
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._said = self._line = ""

    def ready(self) -> None:
        """All is set up."""
        self._send("READY=1", FIRST_WORD_S)

    def alive(self) -> None:
        """The loop turns: the watchdog may wait again."""
        self._send("WATCHDOG=1")
        self._say()

    def stopping(self) -> None:
        """It is about to end."""
        self._send("STOPPING=1")

    def show(self, state: State) -> None:
        """Put what is being done into one line, for ``systemctl status``."""
        if self._address:
            self._line = status_line(state)
            self._say()

    def _say(self) -> None:
        if self._line != self._said and self._send(f"STATUS={self._line}"):
            self._said = self._line

    def _send(self, text: str, patience_s: float = 0.0) -> bool:
        if not self._address:
            return False
        with (
            contextlib.suppress(OSError, ValueError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender,
        ):
            sender.settimeout(patience_s)  # 0 is not to wait at all
            sender.sendto(text.encode("utf-8", "replace"), self._address)
            return True
        return False


def status_line(state: State) -> str:
    """What *state* comes to, in a line."""
    if state.paused:
        return "Paused; 'syncd service resume' goes on."
    parts = []
    for job in state.jobs:
        what = {
            "scan": "Reading the library",
            "ahead": "Pressing ahead",
            "update": f"Updating {job.card}",
        }[job.what]
        share = f" ({job.share // STEP * STEP} %)" if job.share is not None else ""
        parts.append(what + share)
    if not parts:
        here = [card.name for card in state.cards if card.stage is not CardStage.AWAY]
        parts.append("Waiting for cards" if not here else "Waiting; here: " + ", ".join(here))
    if state.problems:
        count = len(state.problems)
        parts.append(f"{count} problem{'s' if count > 1 else ''}, see 'syncd status'")
    line = "; ".join(parts) + "."
    return "".join(letter if letter.isprintable() else "?" for letter in line)
