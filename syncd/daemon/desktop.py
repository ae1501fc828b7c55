"""One notice on the desktop: ``python -m syncd.daemon.desktop``, the notice as JSON on stdin.

A process for each: a desktop that hangs holds up nothing, and what desktop-notifier needs is gone
from memory afterwards. Texts are shown as they are, whatever letters of markup are in them.
"""

import asyncio
import html
import json
import logging
import sys

from syncd.daemon import logs
from syncd.settings import supervision

PATIENCE_S = 20.0
_log = logging.getLogger("syncd.daemon")


class _Troubles(logging.Handler):
    """Keeps what the library tells of its failures: it logs them, and raises nothing."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.heard: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        fault = record.exc_info[1] if record.exc_info else None
        self.heard.append(str(fault or record.getMessage()))


async def _show(title: str, text: str, urgent: bool) -> None:
    from desktop_notifier import DesktopNotifier, Urgency

    notifier = DesktopNotifier(app_name="syncd", app_icon=None)
    if sys.platform.startswith("linux"):
        text = html.escape(text, quote=False)  # the body may hold markup; freedesktop.org's rule
    urgency = Urgency.Critical if urgent else Urgency.Normal
    await asyncio.wait_for(notifier.send(title, text, urgency=urgency), PATIENCE_S)


def main() -> int:
    """Show what standard input says."""
    logs.begin(supervision())
    troubles = _Troubles()
    library = logging.getLogger("desktop_notifier")
    library.addHandler(troubles)
    library.propagate = False
    told = json.load(sys.stdin)
    try:
        asyncio.run(_show(str(told["title"]), str(told["text"]), bool(told["urgent"])))
    except Exception as fault:  # whatever the desktop's side may raise: the log has the notice
        troubles.heard.append(str(fault) or type(fault).__name__)
    if troubles.heard:
        _log.warning("The desktop shows no notice: %s", troubles.heard[0])
    return 1 if troubles.heard else 0


if __name__ == "__main__":
    sys.exit(main())
