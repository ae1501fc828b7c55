"""The working process of the daemon: one job, told on its standard output as JSON lines.

It calls what the commands call, stops at a safe point on SIGTERM as they do on Ctrl-C, and when the
daemon is gone. The last line is the outcome: ``done``, ``failed`` with its kind, or ``stopped``.
The lock at home is held by the descriptor that it inherits.
"""

import contextlib
import json
import logging
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from syncd.daemon import logs
from syncd.daemon.confine import Outside, confine
from syncd.errors import CardBusy, CardFull, CardGone, CardProblem, SetupProblem, SyncdError
from syncd.settings import Home, put_temporary_files, supervision

_EVERY_S = 0.25
_GRACE_S = 10.0

_log = logging.getLogger("syncd.daemon.work")
Say = Callable[..., None]


class _Speaker:
    """Writes events to what was standard output; everything else that is printed goes to stderr."""

    def __init__(self) -> None:
        self._fd = os.dup(1)
        os.dup2(2, 1)
        self._lock = threading.Lock()
        self._said = 0.0

    def __call__(self, event: str, **more: Any) -> None:
        # Python's own JSON keeps the lone surrogates that stand for odd bytes in names (PEP 383).
        line = json.dumps({"event": event, **more}).encode() + b"\n"
        with self._lock, contextlib.suppress(BrokenPipeError):
            view = memoryview(line)
            while view:
                view = view[os.write(self._fd, view) :]

    def progress(self, **more: Any) -> None:
        """Tell how far it is, not more often than anybody can read."""
        now = time.monotonic()
        if now - self._said >= _EVERY_S or more.get("done") == more.get("total"):
            self._said = now
            self("progress", **more)


def _scan(home: Home, order: dict[str, Any], say: _Speaker) -> dict[str, Any]:
    from syncd.at_home import read_corrections
    from syncd.library.index import LibraryIndex
    from syncd.library.unsettled import Unsettled
    from syncd.refresh import refresh

    _step_back(10)
    _confine(home)
    leave = Unsettled(map(os.fsencode, order.get("leave", ())), order.get("young_s", 0.0))
    with LibraryIndex(home.made().index_file) as index:
        roots = list(index.roots())
        say("begun", roots=roots)
        if not roots:
            return {"roots": [], "seen": 0, "changed": False, "away": [], "notices": []}
        result = refresh(
            index,
            report=lambda told: say.progress(stage=told.stage, done=told.done, total=told.total),
            errata=read_corrections(home),
            leave=leave,
        )
    found = result.scan
    counts = {
        "new": found.new,
        "altered": found.changed,
        "moved": found.moved,
        "gone": found.gone,
        "pictures": found.pictures,
        "identified": result.identified,
    }
    return {
        "roots": roots,
        "seen": found.seen,
        "unreadable": found.unreadable,
        "changed": any(counts.values()),
        "away": list(found.away),
        "notices": list(found.notices),
        "waits_s": leave.waits_s,
        **counts,
    }


def _ahead(home: Home, order: dict[str, Any], say: _Speaker) -> dict[str, Any]:
    from syncd.daemon.ahead import press_ahead

    _step_back(19)
    _confine(home)
    return press_ahead(home, frozenset(order["plugged"]), say.progress, lambda: say("begun"))


def _update(home: Home, order: dict[str, Any], say: _Speaker) -> dict[str, Any]:
    from syncd import at_home
    from syncd.daemon import eject
    from syncd.daemon.household import JOBS_SCRATCH
    from syncd.library.index import LibraryIndex
    from syncd.updating.values import Progress

    mount = Path(order["mount"])

    def told(progress: Progress) -> None:
        say.progress(
            stage=progress.stage,
            done=progress.done,
            total=progress.total,
            bytes_done=progress.bytes_done,
            bytes_total=progress.bytes_total,
            item=progress.item,
        )

    outside = Outside()
    _confine(home, mount)
    with LibraryIndex(home.made().index_file) as index:
        if not index.roots():
            raise SetupProblem(
                "No library is known yet. Say where your music is: syncd library add DIR."
            )
        library = index.snapshot()
    say("begun")
    with at_home.card_at(home, order["card_id"], order["name"], mount) as hand:
        with at_home.updater(home, library, told, JOBS_SCRATCH) as work:
            outcome = work.update(hand.target)
        at_home.remember(home, hand)
    applied, plan = outcome.applied, outcome.plan
    eject.flush(mount, hand.record.name)
    unmounted, problem = False, ""
    if hand.record.unmount:
        say("unmounting")
        try:
            outside.call(lambda: eject.unmount(mount, hand.record.name))
            unmounted = not os.path.ismount(mount)
        except CardProblem as fault:
            problem = str(fault)
    return {
        "steps": applied.written + applied.renamed + applied.removed,
        "pressed": outcome.pressed,
        "from_store": outcome.from_store,
        "written": applied.written,
        "renamed": applied.renamed,
        "removed": applied.removed,
        "bytes_written": applied.bytes_written,
        "seconds": outcome.seconds,
        "left_out": len(plan.left_out),
        "other_forms": len(plan.other_forms),
        "outdated": work.shop.outdated,
        "not_fitting": [item.title for item in plan.not_fitting],
        "notices": list(outcome.notices),
        "unmounted": unmounted,
        "unmount_problem": problem,
    }


JOBS: dict[str, Callable[[Home, dict[str, Any], _Speaker], dict[str, Any]]] = {
    "scan": _scan,
    "ahead": _ahead,
    "update": _update,
}

KINDS: tuple[tuple[type[SyncdError], str], ...] = (
    (CardBusy, "busy"),
    (CardGone, "gone"),
    (CardFull, "card"),
    (CardProblem, "card"),
    (SetupProblem, "setup"),
)


def kind_of(error: SyncdError) -> str:
    """What the keeper is to make of *error*."""
    return next((kind for cls, kind in KINDS if isinstance(error, cls)), "item")


def _step_back(niceness: int) -> None:
    """Give way to whatever the listener does on this computer, encoders included."""
    with contextlib.suppress(OSError):
        os.nice(niceness)
    if sys.platform.startswith("linux"):
        import psutil

        with contextlib.suppress(psutil.Error, OSError, ValueError):
            psutil.Process().ionice(psutil.IOPRIO_CLASS_IDLE)


def _confine(home: Home, *cards: Path) -> None:
    """From here on the job changes files at home and on its card, and nowhere else."""
    from syncd.daemon.household import JOBS_SCRATCH

    with contextlib.suppress(OSError):  # told by who comes to need it
        home.made().store.mkdir(parents=True, exist_ok=True)
        (home.state / JOBS_SCRATCH).mkdir(parents=True, exist_ok=True)
    put_temporary_files(home.state / JOBS_SCRATCH)  # the system's own folders are not open to it
    # The index may be a link to another disk.
    confine([home.state, home.store, home.index_file.resolve().parent, *cards])


def _end_with_the_daemon() -> None:
    """Its end of our standard input is closed when the daemon is gone, however that came."""
    with contextlib.suppress(OSError):
        while os.read(0, 1024):
            pass
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(_GRACE_S)
    os._exit(1)


def _asked_to_stop(number: int, frame: object) -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # once is enough: cleaning up is not cut short
    raise KeyboardInterrupt


def _end_what_was_started() -> None:
    """A program that unmounts, say, and takes its time: nothing of a job stays behind it."""
    if os.getsid(0) == os.getpid():  # jobs have a session of their own; we do not heed SIGTERM now
        os.killpg(0, signal.SIGTERM)


def main(arguments: list[str]) -> None:
    """Do the job that the first argument orders; ``--json`` may follow it, for the log."""
    say = _Speaker()
    signal.signal(signal.SIGTERM, _asked_to_stop)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_daemon, daemon=True).start()
    if not logging.getLogger().handlers:  # a fork has the daemon's own
        logs.begin(supervision(), as_json="--json" in arguments[1:])
    try:
        say("up")
        order = json.loads(arguments[0])
        home = Home(**{name: Path(place) for name, place in order["home"].items()})
        told = JOBS[order["kind"]](home, order, say)
        say("done", last=True, **told)
    except KeyboardInterrupt:
        _end_what_was_started()
        say("stopped", last=True)
    except SyncdError as error:
        say("failed", last=True, kind=kind_of(error), message=str(error))
    except Exception as fault:
        _log.exception("A fault in syncd itself. Please report it.")
        message = f"A fault in syncd itself ({type(fault).__name__}: {fault}); the log has it."
        say("failed", last=True, kind="fault", message=message)


if __name__ == "__main__":
    main(sys.argv[1:])
