"""The keeper: knows what is due, begins jobs and hears from them. It decides nothing that they do.

One thread that waits: for the mount table, the library's watch, its jobs, signals, and for times.
What may take long or wait for a disk is a process (``child``) or a thread (``arrivals``) of its
own. So whatever breaks, a library root, a card, the store, is told and tried again with growing
pauses, and the daemon stays up.
"""

import logging
import os
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from syncd.cards import CardRecord
from syncd.daemon.arrivals import Arrivals, Look, look_at
from syncd.daemon.child import Child, order_of
from syncd.daemon.collection import Collection
from syncd.daemon.duties import Due, Duties, duties
from syncd.daemon.held import Held
from syncd.daemon.household import Household
from syncd.daemon.jobs import Event, Job, JobMaker, NoJob, Running
from syncd.daemon.lock import HomeLock
from syncd.daemon.loop import Loop, Timer
from syncd.daemon.mounts import MountTable, mount_table
from syncd.daemon.pauses import Pauses
from syncd.daemon.plugged import Card, PluggedIn
from syncd.daemon.ports import Notice, Notices, WatchMaker
from syncd.daemon.state import CardNow, CardStage, Doing, State
from syncd.errors import SyncdError
from syncd.settings import Home
from syncd.settings_file import Settings

LOOK_ROUND_S = 60.0
"""How often the keeper looks whether settings, cards, errata or the index were changed."""

STOP_WITHIN_S = 4.5
"""After so long the daemon ends even if a job hangs in the system."""

GIVEN_S = 2.0
"""How long a command that was given way to has for taking the lock."""

_log = logging.getLogger("syncd.daemon")


class Keeper:
    """The daemon's loop. Made, then :meth:`run`; it ends after :meth:`stop`.

    The ports are handed in; *now* is the clock on the wall, seconds since the epoch; *ready* is
    called once all is set up, *alive* once a minute. Raises SetupProblem when the settings are
    wrong at the start.
    """

    def __init__(
        self,
        home: Home,
        *,
        notices: Callable[[Settings], Notices],
        watch: Callable[[Settings], WatchMaker],
        loop: Loop | None = None,
        table: Callable[[Loop, Callable[[], None]], MountTable] = mount_table,
        look: Look = look_at,
        job: JobMaker | None = None,
        now: Callable[[], float] = time.time,
        ready: Callable[[], None] = lambda: None,
        alive: Callable[[], None] = lambda: None,
    ) -> None:
        self.house = Household(home)
        self.loop = loop or Loop()
        self._now, self._ready, self._alive = now, ready, alive
        self._make_notices, self._make_watch = notices, watch
        self._make_job: JobMaker = job or self._child
        self._lock = HomeLock(home)
        self._lock_pauses = Pauses(0.25, 5.0)
        self._lock_timer: Timer | None = None
        self._ahead = Held(self.loop, self._step, Pauses(60.0, 3600.0), due=True)
        self._running: dict[str, Running] = {}
        self._library_number = 0
        self._problems: dict[str, str] = {}
        self._unpressed: dict[str, str] = {}  # why nothing is made for a card that is away
        self._way: list[Callable[[], None]] = []
        self._given: Timer | None = None
        self._stopping = False
        self._paused = False
        self._listeners: list[Callable[[State], None]] = []
        self.state = State(os.getpid(), now())
        self._collection = Collection(self.loop, self._step, now, watch(self.house.settings))
        self._notices = notices(self.house.settings)
        self._plugged = PluggedIn(self.loop, self.house, self._step, self._tell, now)
        self.arrivals = Arrivals(
            self.loop,
            lambda changed: table(self.loop, lambda: self._mounts_changed(changed)),
            self._volumes_changed,
            folders=self.house.settings.card_folders,
            look=look,
        )

    # -- from outside -------------------------------------------------------------------------

    def run(self) -> None:
        """Keep the cards up to date until :meth:`stop`."""
        self.arrivals.refresh()
        self.loop.after(LOOK_ROUND_S, self._round)
        self._ready()
        self._step()
        self.loop.run()
        for running in self._running.values():
            running.job.kill()
        self.arrivals.close()
        self._collection.close()
        self._notices.close()
        self._lock.release()
        self.loop.close()

    def stop(self) -> None:
        """Stop at a safe point, within seconds. May be called at any moment, from anywhere."""
        self.loop.soon(self._stop)

    def look_round(self) -> None:
        """See now whether settings, cards, errata or index changed. From anywhere."""
        self.loop.soon(self._look_round)

    def refresh(self) -> None:
        """The same, and scan the library, whatever its watch says. From anywhere."""
        self.loop.soon(self._refresh)

    def give_way(self, given: Callable[[], None]) -> None:
        """Stop what is under way, so that a command can have the lock, and call *given* then.

        From anywhere. The work goes on when the lock is free again.
        """
        self.loop.soon(lambda: self._give_way(given))

    def update_card(self, name: str) -> str:
        """Update now the card with this name, id or mount point; its name. In the loop's thread.

        Raises SetupProblem when it is not known here, CardProblem when it is not plugged in.
        """
        called = self._plugged.asked_for(name)
        self.loop.soon(self._step)
        return called

    def pause(self, wanted: bool) -> None:
        """Stop what is under way and begin nothing, or go on. From anywhere."""
        self.loop.soon(lambda: self._pause(wanted))

    def on_change(self, call: Callable[[State], None]) -> None:
        """Call *call*, in the keeper's thread, with each new state."""
        self._listeners.append(call)

    # -- what happens -------------------------------------------------------------------------

    def _stop(self) -> None:
        if not self._stopping:
            self._stopping = True
            _log.info("Stopping; what is not finished goes on next time.")
            self.loop.after(STOP_WITHIN_S, self.loop.stop)
            self._step()

    def _give_way(self, given: Callable[[], None]) -> None:
        self._way.append(given)
        self._step()

    def _pause(self, wanted: bool) -> None:
        self._paused = wanted
        self._step()

    def _round(self) -> None:
        self.loop.after(LOOK_ROUND_S, self._round)
        self._alive()
        self._notices.tidy()
        self._look_round()

    def _look_round(self) -> None:
        changes = self.house.look_round(library=not self._lock.held)
        for title, text in self.house.problems.items():
            self._plugged.tell_once(Notice(title, text, urgent=True))
        if changes.settings:
            self._settings_changed()
        if changes.library:
            self._collection.changed_by_others()
        if changes.cards:
            self._ahead.due = True
            # One that is plugged in may have been enrolled, or have got another id.
            self.arrivals.look_again([seen.mount.place for seen in self.arrivals.sightings()])
            self._look_for(changes.cards)
        self._plugged.changed(changes.cards)
        self._collection.look_round()
        self.arrivals.look_again()
        self._volumes_changed()

    def _look_for(self, ids: frozenset[str]) -> None:
        """A volume that was no card when it was looked at may have been enrolled meanwhile."""
        places = {record.mount for record in self.house.known if record.id in ids}
        self.arrivals.look_again(
            seen.mount.place
            for seen in self.arrivals.sightings()
            if seen.identity is None or seen.mount.place in places
        )

    def _refresh(self) -> None:
        self._collection.asked_for()
        self._look_round()

    def _settings_changed(self) -> None:
        _log.info("The settings changed and were read again.")
        settings = self.house.settings
        self._collection.watch_by(self._make_watch(settings))
        self._notices.close()
        self._notices = self._make_notices(settings)
        self.arrivals.watch_folders(settings.card_folders)
        self._everything_due()  # what is done with damaged files may be other now

    def _tell(self, notice: Notice) -> None:
        self._notices.tell(notice)

    def _everything_due(self) -> None:
        self._library_number += 1
        self._ahead.due = True
        self._plugged.all_due()

    def _mounts_changed(self, changed: Callable[[], None]) -> None:
        self._collection.mounts_changed()
        changed()
        self._step()

    def _volumes_changed(self) -> None:
        for card in self._plugged.volumes_are(self.arrivals.sightings()):
            self._ahead.due = True
            running = self._running.get(card.record.id)
            if running is not None and not running.unmounting:
                # What it writes may still arrive on a volume that is only unmounted lazily.
                running.job.stop()
        self._step()

    # -- deciding and beginning ---------------------------------------------------------------

    def _step(self) -> None:
        """See what is due, begin and give up accordingly, and show the state."""
        waits = bool(self._way) or self._given is not None
        halted = self._stopping or self._paused or waits
        self._collection.ask_watch()
        todo = duties(self._due(halted))
        if todo.stop_all:
            for running in self._running.values():
                running.job.stop()
        if todo.stop_ahead:
            self._running["ahead"].job.stop()
        if (todo.scan or todo.ahead or todo.cards) and self._locked():
            self._begin_all(todo)
        if not self._running:
            self._at_rest()
        self._show()

    def _due(self, halted: bool) -> Due:
        updating = {key: each for key, each in self._running.items() if each.card is not None}
        return Due(
            scan=self._collection.scan.now,
            ahead=self._ahead.now,
            cards=self._plugged.due(),
            scanning="scan" in self._running,
            pressing="ahead" in self._running,
            updating=frozenset(updating),
            unbegun=any(not each.begun for each in updating.values()),
            halted=halted,
        )

    def _locked(self) -> bool:
        """Have the lock at home; where a command has it, ask again after a while."""
        held = self._lock.held
        try:
            taken = self._lock.take()
        except SyncdError as problem:
            self._problems["lock"], taken = str(problem), False
        if taken:
            self._problems.pop("lock", None)
            self._lock_pauses.reset()
            if not held:
                self.house.sweep()
        elif self._lock_timer is None:
            self._lock_timer = self.loop.after(self._lock_pauses.next_s(), self._ask_lock)
        return taken

    def _ask_lock(self) -> None:
        self._lock_timer = None
        self._look_round()  # it may have changed something

    def _begin_all(self, todo: Duties) -> None:
        if todo.scan:
            self._collection.scan.due = False
            order = self._collection.order(self.house.settings.settle_seconds)
            self._begin("scan", Doing("scan"), **order)
        if todo.ahead:
            self._ahead.due = False
            self._begin("ahead", Doing("ahead"), plugged=sorted(self._plugged.cards))
        for card_id in todo.cards:
            card = self._plugged.cards[card_id]
            card.held.due = False
            card.stage = CardStage.UPDATING
            self._begin(
                card_id,
                Doing("update", card.record.name),
                card,
                kind="update",
                card_id=card_id,
                name=card.record.name,
                mount=card.mount.place,
            )

    def _begin(
        self, key: str, doing: Doing, card: Card | None = None, kind: str = "", **more: Any
    ) -> None:
        order = order_of(kind or key, self.house.for_jobs, **more)
        now = self._now()
        doing = replace(doing, started=now, stage_started=now)

        def heard(event: Event) -> None:
            self._heard(running, event)

        def ended(event: Event) -> None:
            del self._running[key]
            self._ended(running, event)

        try:
            job = self._make_job(order, heard, ended, self._lock.fd)
        except OSError as error:
            text = f"A job cannot be begun: {error.strerror}. It is tried again."
            job = NoJob()
            self.loop.soon(lambda: ended({"event": "failed", "kind": "fault", "message": text}))
        running = Running(job, doing, self._library_number, card)
        self._running[key] = running

    def _child(
        self, order: str, heard: Callable[[Event], None], ended: Callable[[Event], None], keep: int
    ) -> Job:
        return Child(self.loop, order, heard, ended, keeps=(keep,))

    def _at_rest(self) -> None:
        """No job runs: let commands have the lock, and end if that is wanted."""
        if self._lock.held:
            self.house.believe_library()
            self._lock.release()
        if self._stopping:
            self.loop.stop()
        if self._way:
            way, self._way = self._way, []
            self._given = self.loop.after(GIVEN_S, self._way_given)
            for given in way:
                given()

    def _way_given(self) -> None:
        self._given = None
        self._look_round()

    # -- hearing from jobs --------------------------------------------------------------------

    def _heard(self, running: Running, event: Event) -> None:
        if event["event"] == "begun":
            running.begun = True
            if "roots" in event:
                self._collection.roots_are(event["roots"])
            self._step()
        elif event["event"] == "unmounting":
            running.unmounting = True  # that it leaves now is its update's own doing
        elif event["event"] == "progress":
            known = {name: value for name, value in event.items() if name in Doing.__slots__}
            running.doing = running.doing.at(self._now(), **known)
            self._show()

    def _ended(self, running: Running, event: Event) -> None:
        if running.card is not None:
            current = running.library == self._library_number
            if self._plugged.update_ended(running.card, event, current=current):
                self.arrivals.look_again([running.card.mount.place])
            if event.get("outdated"):
                self._collection.scan.due = True
        elif running.doing.what == "scan":
            if self._collection.scan_ended(event):
                self._everything_due()
        else:
            self._ahead_ended(event)
        self._step()

    def _ahead_ended(self, event: Event) -> None:
        if event["event"] == "stopped":
            self._ahead.due = True
        elif event["event"] == "failed":
            self._problems["ahead"] = event["message"]
            _log.warning("%s It is tried again in %d s.", event["message"], self._ahead.failed())
        else:
            self._ahead.reset()
            self._problems.pop("ahead", None)
            for name, text in event["problems"].items():
                if self._unpressed.get(name) != text:
                    _log.warning("%s: %s", name, text)
            self._unpressed = dict(event["problems"])
            if event["pressed"]:
                _log.info("%d pressings were made ahead of time.", event["pressed"])

    # -- showing ------------------------------------------------------------------------------

    def _show(self) -> None:
        """Make the state anew and hand it to who wants it."""
        slow = [
            f"The volume at {mount.place} has not answered yet." for mount in self.arrivals.slow()
        ]
        unpressed = [
            f"{record.name}: {self._unpressed[record.name]}"
            for record in self.house.known
            if record.name in self._unpressed and record.id not in self._plugged.cards
        ]
        problems = (
            *self.house.problems.values(),
            *unpressed,
            *self._problems.values(),
            *self._plugged.problems(),
            *self._collection.problems(),
            *slow,
        )
        self.state = replace(
            self.state,
            cards=tuple(self._card_now(record) for record in self.house.known),
            jobs=tuple(running.doing for running in self._running.values()),
            library=self._collection.shown(),
            unknown=self._plugged.presence.unknown,
            problems=problems,
            paused=self._paused,
            giving_way=bool(self._way) or self._given is not None,
        )
        for listener in self._listeners:
            listener(self.state)

    def _card_now(self, record: CardRecord) -> CardNow:
        running = self._running.get(record.id)
        return self._plugged.shown(record, None if running is None else running.doing)
