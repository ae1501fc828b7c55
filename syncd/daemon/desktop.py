"""One notice on the desktop: ``python -m syncd.daemon.desktop``, the notice as JSON on stdin.

A process for each: a desktop that hangs holds up nothing, and what desktop-notifier needs is gone
from memory afterwards. Texts are shown as they are, whatever letters of markup are in them.
"""

import asyncio
import html
import json
import logging
import sys

PATIENCE_S = 20.0


async def _show(title: str, text: str, urgent: bool) -> None:
    from desktop_notifier import DesktopNotifier, Urgency

    notifier = DesktopNotifier(app_name="syncd", app_icon=None)
    if sys.platform.startswith("linux"):
        text = html.escape(text, quote=False)  # the body may hold markup; freedesktop.org's rule
    urgency = Urgency.Critical if urgent else Urgency.Normal
    await asyncio.wait_for(notifier.send(title, text, urgency=urgency), PATIENCE_S)


def main() -> int:
    """Show what standard input says."""
    told = json.load(sys.stdin)
    try:
        asyncio.run(_show(str(told["title"]), str(told["text"]), bool(told["urgent"])))
    except Exception as fault:  # whatever the desktop's side may raise: the log has the notice
        logging.getLogger("syncd.daemon").warning("The desktop shows no notice: %s", fault)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
