"""``syncd run``: the daemon, in the foreground."""

import logging
import signal

import click

from syncd.daemon.keeper import Keeper
from syncd.daemon.lock import only_daemon
from syncd.daemon.notice_command import CommandNotices
from syncd.daemon.polling import PollingWatch
from syncd.daemon.process import can_fork, preload
from syncd.settings import Home


@click.command("run")
@click.pass_obj
def command(home: Home) -> None:
    """Watch the library and update enrolled cards whenever they are plugged in.

    Runs until it is stopped with Ctrl-C or SIGTERM; what is not finished then goes on next time.
    SIGHUP has it read its settings and scan the library at once.
    """
    logging.basicConfig(format="%(message)s", level=logging.INFO)
    with only_daemon(home):
        if can_fork():
            preload()
        keeper = Keeper(
            home,
            notices=lambda settings: CommandNotices(settings.notice_command or ["true"]),
            watch=lambda settings: lambda wake: PollingWatch(settings.rescan_minutes * 60),
        )
        for asking in (signal.SIGTERM, signal.SIGINT):
            signal.signal(asking, lambda number, frame: keeper.stop())
        signal.signal(signal.SIGHUP, lambda number, frame: keeper.refresh())
        keeper.run()
