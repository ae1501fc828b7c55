"""``syncd run``: the daemon, in the foreground."""

import contextlib
import logging
import os
import signal

import click

from syncd.daemon import logs
from syncd.daemon.confine import can_confine
from syncd.daemon.control import Control
from syncd.daemon.keeper import LOOK_ROUND_S, Keeper
from syncd.daemon.lock import only_daemon
from syncd.daemon.loop import Loop
from syncd.daemon.notices import made_notices
from syncd.daemon.process import can_fork, preload
from syncd.daemon.supervisor import Supervisor
from syncd.daemon.watcher import made_watch
from syncd.errors import SetupProblem
from syncd.settings import Home, supervision

_log = logging.getLogger("syncd.daemon")


@click.command("run")
@click.option("--json", "as_json", is_flag=True, help="Write the log as JSON, an object a line.")
@click.pass_obj
def command(home: Home, as_json: bool) -> None:
    """Watch the library and update enrolled cards whenever they are plugged in.

    Runs until it is stopped with Ctrl-C or SIGTERM; what is not finished then goes on next time.
    SIGHUP has it read its settings and scan the library at once. The log is on standard error.
    """
    supervised = supervision()
    logs.begin(supervised, as_json=as_json)
    supervisor = Supervisor(supervised)
    with only_daemon(home):
        if can_fork():
            preload()
        keeper = Keeper(
            home,
            notices=made_notices,
            watch=made_watch,
            ready=supervisor.ready,
            alive=supervisor.alive,
        )
        keeper.on_change(supervisor.show)
        if supervised.watchdog_s is not None:
            _say_alive(keeper.loop, supervisor, supervised.watchdog_s / 2)  # sd_notify(3)
        if not can_confine():
            _log.info(
                "This system cannot make sure by itself that jobs change nothing but the card and "
                "what is syncd's own (Landlock, Linux 5.19); syncd never means to."
            )
        control = None
        try:
            control = Control(keeper.loop, home, keeper)
        except SetupProblem as problem:
            # Cards are kept up to date all the same.
            _log.warning("%s Until then 'syncd status' and the like cannot reach it.", problem)
        for asking in (signal.SIGTERM, signal.SIGINT):
            signal.signal(asking, lambda number, frame: keeper.stop())
        signal.signal(signal.SIGHUP, lambda number, frame: keeper.refresh())
        keeper.loop.heed_signals()
        with contextlib.suppress(OSError):
            os.chdir("/")  # else the disk that it was started on could not be unmounted
        try:
            keeper.run()
        finally:
            supervisor.stopping()
            if control is not None:
                control.close()


def _say_alive(loop: Loop, supervisor: Supervisor, every_s: float) -> None:
    """Where the watchdog is less patient than the keeper's round is long, say it more often."""

    def say() -> None:
        supervisor.alive()
        loop.after(every_s, say)

    if every_s < LOOK_ROUND_S:
        loop.after(every_s, say)
