"""The library as the daemon knows it: its watch, whether a scan is due, what the last one found.

Beginning and stopping scans is the keeper's; what follows from a change of the library as well.
"""

import logging
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from syncd.daemon.held import Held
from syncd.daemon.loop import Loop, Timer
from syncd.daemon.pauses import Pauses
from syncd.daemon.ports import LibraryWatch, WatchMaker
from syncd.daemon.state import LibraryNow
from syncd.daemon.telling import library_text

MOST_NOTICES = 10
"""So many are shown by ``syncd status``; the log and ``syncd scan`` have the others."""

_log = logging.getLogger("syncd.daemon")


class Collection:
    """The library and its watch. *step* is called when something may be due.

    *now* is the clock on the wall; *watch* makes the watch. ``scan`` says whether a scan is due.
    """

    def __init__(
        self, loop: Loop, step: Callable[[], None], now: Callable[[], float], watch: WatchMaker
    ) -> None:
        self._loop, self._step, self._now = loop, step, now
        self.scan = Held(loop, step, Pauses(30.0, 3600.0), due=True)
        self._library = LibraryNow(scan_due=True)
        self._cut_short = False
        self._failed = ""
        self._young_timer: Timer | None = None
        self._young = True  # what changed before the watch began shows in the files' times only
        self._told: frozenset[str] = frozenset()
        self._watch_timer: Timer | None = None
        self._watch: LibraryWatch = watch(lambda: loop.soon(step))

    def watch_by(self, watch: WatchMaker) -> None:
        """Watch by another watch: the settings for it changed."""
        self._watch.close()
        self._watch = watch(lambda: self._loop.soon(self._step))
        self._watch.watch([Path(root) for root in self._library.roots])

    def close(self) -> None:
        """Watch no more."""
        self._watch.close()

    # -- what may make a scan due -------------------------------------------------------------

    def ask_watch(self) -> None:
        """See whether something has come to rest, and when to ask again."""
        if self._watch.settled() is not None:
            self.scan.due = True
        if self._watch_timer is not None:
            self._watch_timer.cancel()
        next_s = self._watch.next_s()
        self._watch_timer = None if next_s is None else self._loop.after(next_s, self._step)

    def look_round(self) -> None:
        """See whether roots came or went."""
        self._watch.look_round()

    def mounts_changed(self) -> None:
        """Perhaps a disk is back that a root of the library is on."""
        self._watch.look_round()
        if self._library.away:
            self.scan.due = True

    def asked_for(self) -> None:
        """Scan now, whatever the watch says."""
        self.scan.reset()
        self.scan.due = True

    def changed_by_others(self) -> None:
        """A command scanned, or the errata were edited: no news to the next scan, perhaps."""
        self.asked_for()
        self._cut_short = True

    # -- scans --------------------------------------------------------------------------------

    def order(self, settle_seconds: float) -> dict[str, Any]:
        """What a scan is to leave alone."""
        leave = [os.fsdecode(folder) for folder in self._watch.restless()]
        return {"leave": leave, "young_s": settle_seconds if self._young else 0.0}

    def roots_are(self, roots: list[str]) -> None:
        """Take in what a job found to be the library's roots."""
        if tuple(roots) != self._library.roots:
            self._library = replace(self._library, roots=tuple(roots))
            self._watch.watch([Path(root) for root in roots])

    def scan_ended(self, event: dict[str, Any]) -> bool:
        """Take in how a scan ended; whether the library is another one now."""
        if event["event"] == "stopped":
            self.scan.due = self._cut_short = True
            return False
        if event["event"] == "failed":
            self._cut_short = True
            pause = self.scan.failed()
            self._library = replace(self._library, message=event["message"])
            self._failed = event["message"]
            _log.warning("%s The scan is tried again in %d s.", event["message"], pause)
            return False
        self.scan.reset()
        self._failed = ""
        self._young_wait(event.get("waits_s", 0.0))
        self.roots_are(event["roots"])
        came_or_went = set(event["away"]) != set(self._library.away)
        self._library = replace(
            self._library,
            away=tuple(event["away"]),
            scanned=self._now(),
            message="" if event["roots"] else "No library is known yet: syncd library add DIR.",
        )
        self._notices_are(event["notices"])
        if event["changed"]:
            _log.info("%s", library_text(event))
        # What a scan that was cut short had taken in already is not new to the next one.
        another = event["changed"] or came_or_went or self._cut_short
        self._cut_short = False
        return bool(another)

    def _young_wait(self, waits_s: float) -> None:
        if self._young_timer is not None:
            self._young_timer.cancel()
            self._young_timer = None
        waited, self._young = self._young, bool(waits_s)
        if self._young and not waited:
            _log.info("Files that were written just now are left until they have come to rest.")
        if self._young:
            self._young_timer = self._loop.after(waits_s + 1.0, self._scan_again)

    def _scan_again(self) -> None:
        self._young_timer = None
        self.scan.due = True
        self._step()

    def _notices_are(self, notices: list[str]) -> None:
        """Log those that the last scan had not; every scan finds what lasts."""
        for notice in dict.fromkeys(notices):
            if notice not in self._told:
                _log.info("%s", notice)
        self._told = frozenset(notices)
        away = tuple(f"The library's root {root} is away" for root in self._library.away)
        shown = [notice for notice in notices if not notice.startswith(away)]
        more = len(shown) - MOST_NOTICES
        if more > 0:
            shown[MOST_NOTICES:] = [f"There are {more:,} more; 'syncd scan' lists them."]
        self._library = replace(self._library, notices=tuple(shown))

    # -- showing ------------------------------------------------------------------------------

    def problems(self) -> tuple[str, ...]:
        """Why the last scan failed, and why its watch sees less than it should."""
        return (*([self._failed] if self._failed else []), *self._watch.problems())

    def shown(self) -> LibraryNow:
        """The library as it is now."""
        return replace(self._library, scan_due=self.scan.due or self._young_timer is not None)
