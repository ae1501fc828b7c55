"""Notices for the listener: on the desktop, by a command of his own, or in the log only.

The log has what a notice says in any case. The desktop is asked by a process of its own
(``desktop``): it may be slow, or away, and its library takes memory only for that moment.
"""

import importlib.util
import logging
import sys

from syncd.daemon.notice_command import CommandNotices
from syncd.daemon.ports import Notice, Notices
from syncd.settings_file import Settings

LIBRARY = "desktop_notifier"
_log = logging.getLogger("syncd.daemon")


class LogNotices:
    """No notices beside the log, which the keeper writes."""

    def tell(self, notice: Notice) -> None:
        """The log has it."""

    def tidy(self) -> None:
        """There is nothing left."""

    def close(self) -> None:
        """There is nothing to let go."""


def made_notices(settings: Settings) -> Notices:
    """The notices that *settings* ask for, as far as they can be had here."""
    if settings.notice_command:
        return CommandNotices(settings.notice_command)
    if not settings.desktop_notices:
        return LogNotices()
    if importlib.util.find_spec(LIBRARY) is None:
        _log.info(
            "What happens is told in this log only. To have it on the desktop: "
            "pip install 'syncd[desktop]'; elsewhere: notice_command in the settings."
        )
        return LogNotices()
    desktop = [sys.executable, "-m", "syncd.daemon.desktop"]
    return CommandNotices(desktop, tells_failures=True)
