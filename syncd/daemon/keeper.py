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
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Protocol

from syncd.cards import CardRecord
from syncd.daemon import telling
from syncd.daemon.arrivals import Arrivals, Look, look_at
from syncd.daemon.child import Child, order_of
from syncd.daemon.duties import Due, Duties, duties
from syncd.daemon.household import Household
from syncd.daemon.lock import HomeLock
from syncd.daemon.loop import Loop, Timer
from syncd.daemon.mounts import Mount, MountTable, mount_table
from syncd.daemon.pauses import Pauses
from syncd.daemon.ports import LibraryWatch, Notice, Notices, WatchMaker
from syncd.daemon.presence import Presence, presence
from syncd.daemon.state import CardNow, CardStage, Doing, LibraryNow, State
from syncd.errors import CardProblem, SetupProblem, SyncdError
from syncd.settings import Home
from syncd.settings_file import Settings

LOOK_ROUND_S = 60.0
"""How often the keeper looks whether settings, cards, errata or the index were changed."""

STOP_WITHIN_S = 4.5
"""After so long the daemon ends even if a job hangs in the system."""

GIVEN_S = 2.0
"""How long a command that was given way to has for taking the lock."""

_log = logging.getLogger("syncd.daemon")
Event = dict[str, Any]


class Job(Protocol):
    """A job under way."""

    def stop(self) -> None:
        """Stop at the next safe point."""
        ...

    def kill(self) -> None:
        """End at once."""
        ...


class JobMaker(Protocol):
    """Begins a job that keeps the descriptor *keep* open as long as it lives."""

    def __call__(
        self,
        order: str,
        heard: Callable[[Event], None],
        ended: Callable[[Event], None],
        keep: int,
    ) -> Job: ...


class Held:
    """Something that is due, or not; after a failure it is held back for a pause."""

    def __init__(self, loop: Loop, again: Callable[[], None], pauses: Pauses, due: bool) -> None:
        self.due = due
        self._loop, self._again, self._pauses = loop, again, pauses
        self._timer: Timer | None = None

    @property
    def now(self) -> bool:
        """Whether it is due, and not held back."""
        return self.due and self._timer is None

    def failed(self) -> float:
        """It is due again after a pause, which is returned, in seconds."""
        self.due = True
        self.cancel()
        pause = self._pauses.next_s()
        self._timer = self._loop.after(pause, self._retry)
        return pause

    def reset(self) -> None:
        """It worked, or something changed that it failed by: no pause."""
        self._pauses.reset()
        self.cancel()

    def cancel(self) -> None:
        """Wait for no time any more."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _retry(self) -> None:
        self._timer = None
        self._again()


@dataclass(slots=True, eq=False)
class _Card:
    """A card that is plugged in. ``told`` is what the listener was last told of it."""

    record: CardRecord
    mount: Mount
    held: Held
    stage: CardStage = CardStage.WAITING
    message: str = ""
    told: str = ""


@dataclass(slots=True, eq=False)
class _Running:
    """A job under way; ``library`` is the number of the library's state that it works from."""

    job: Job
    doing: Doing
    library: int
    card: _Card | None = None
    begun: bool = False
    unmounting: bool = False


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
        self._scan = Held(self.loop, self._step, Pauses(30.0, 3600.0), due=True)
        self._ahead = Held(self.loop, self._step, Pauses(60.0, 3600.0), due=True)
        self._cards: dict[str, _Card] = {}
        self._running: dict[str, _Running] = {}
        self._presence = Presence({}, {}, {})
        self._library = LibraryNow(scan_due=True)
        self._library_number = 0
        self._updated: dict[str, float] = {}
        self._parting: dict[str, str] = {}
        self._problems: dict[str, str] = {}
        self._told: set[str] = set()
        self._way: list[Callable[[], None]] = []
        self._given: Timer | None = None
        self._stopping = False
        self._paused = False
        self._watch_timer: Timer | None = None
        self._listeners: list[Callable[[State], None]] = []
        self.state = State(os.getpid(), now())
        self._watch = self._made_watch()
        self._notices = notices(self.house.settings)
        self.arrivals = Arrivals(
            self.loop,
            partial(table, self.loop),
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
        self._watch.close()
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
        wanted = name.casefold()
        for record in self.house.known:
            card = self._cards.get(record.id)
            place = None if card is None else card.mount.place
            if wanted != record.name.casefold() and name not in (record.id, place):
                continue
            if card is None:
                twice = self._presence.twice.get(record.id)
                raise CardProblem(twice or f"The card {record.name} is not plugged in.")
            card.held.reset()
            card.held.due, card.told = True, ""
            self.loop.soon(self._step)
            return record.name
        raise SetupProblem(f"No card is called '{name}'. 'syncd cards' lists those that are known.")

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
        self._look_round()

    def _look_round(self) -> None:
        changes = self.house.look_round(library=not self._lock.held)
        for title, text in self.house.problems.items():
            self._tell_once(text, Notice(title, text, urgent=True))
        if changes.settings:
            self._settings_changed()
        if changes.library:
            self._library_number += 1  # a command scanned, or the errata were edited
            self._scan.reset()
            self._scan.due = True
        if changes.cards:
            self._ahead.due = True
        for card_id in changes.cards & set(self._cards):
            card = self._cards[card_id]
            card.record = next(r for r in self.house.known if r.id == card_id)
            self._card_due(card)
        self.arrivals.look_again()
        self._volumes_changed()

    def _refresh(self) -> None:
        self._scan.reset()
        self._scan.due = True
        self._look_round()

    def _settings_changed(self) -> None:
        _log.info("The settings changed and were read again.")
        settings = self.house.settings
        self._watch.close()
        self._watch = self._made_watch()
        self._watch.watch([Path(root) for root in self._library.roots])
        self._notices.close()
        self._notices = self._make_notices(settings)
        self.arrivals.watch_folders(settings.card_folders)
        self._everything_due()  # what is done with damaged files may be other now

    def _everything_due(self) -> None:
        self._library_number += 1
        self._ahead.due = True
        for card in self._cards.values():
            self._card_due(card)

    def _card_due(self, card: _Card) -> None:
        card.held.reset()
        if card.record.auto == "update":
            card.held.due = True

    def _volumes_changed(self) -> None:
        if self._library.away:
            self._scan.due = True  # perhaps the disk is back that a root of the library is on
        at = {card_id: card.mount for card_id, card in self._cards.items()}
        self._presence = presence(self.arrivals.sightings(), self.house.known, at)
        for card_id, card in list(self._cards.items()):
            if self._presence.at.get(card_id) != card.mount:
                self._left(card)
        for record in self.house.known:
            if record.id in self._presence.at and record.id not in self._cards:
                self._arrived(record, self._presence.at[record.id])
        doubles = (*self._presence.twice.values(), *self._presence.copies.values())
        self._told &= set(doubles) | set(self.house.problems.values())
        for text in doubles:
            self._tell_once(text, Notice("A card is here twice", text, urgent=True))
        self._step()

    def _tell_once(self, key: str, notice: Notice) -> None:
        """Tell what every look finds only when it is new."""
        if key not in self._told:
            self._told.add(key)
            _log.warning("%s", notice.text)
            self._notices.tell(notice)

    def _arrived(self, record: CardRecord, mount: Mount) -> None:
        held = Held(self.loop, self._step, Pauses(2.0, 3600.0), due=record.auto == "update")
        card = self._cards[record.id] = _Card(record, mount, held)
        self._parting.pop(record.id, None)
        _log.info("The card %s is at %s.", record.name, mount.place)
        if not held.due:
            card.stage = CardStage.ASKING
            notice = telling.asking_notice(record.name, mount.place)
            card.message = notice.text
            _log.info("%s: %s", record.name, notice.text)
            self._notices.tell(notice)

    def _left(self, card: _Card) -> None:
        _log.info("The card %s is no longer at %s.", card.record.name, card.mount.place)
        del self._cards[card.record.id]
        card.held.cancel()
        self._ahead.due = True
        running = self._running.get(card.record.id)
        if running is not None and not running.unmounting:
            # What it writes may still arrive on a volume that is only unmounted lazily.
            running.job.stop()

    # -- deciding and beginning ---------------------------------------------------------------

    def _step(self) -> None:
        """See what is due, begin and give up accordingly, and show the state."""
        waits = bool(self._way) or self._given is not None
        halted = self._stopping or self._paused or waits
        self._ask_watch()
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
        by_name = sorted(self._cards.items(), key=lambda one: (one[1].record.name, one[0]))
        updating = {key: each for key, each in self._running.items() if each.card is not None}
        return Due(
            scan=self._scan.now,
            ahead=self._ahead.now,
            cards=tuple(card_id for card_id, card in by_name if card.held.now),
            scanning="scan" in self._running,
            pressing="ahead" in self._running,
            updating=frozenset(updating),
            unbegun=any(not each.begun for each in updating.values()),
            halted=halted,
        )

    def _ask_watch(self) -> None:
        if self._watch.settled() is not None:
            self._scan.due = True
        if self._watch_timer is not None:
            self._watch_timer.cancel()
        next_s = self._watch.next_s()
        self._watch_timer = None if next_s is None else self.loop.after(next_s, self._step)

    def _locked(self) -> bool:
        """Have the lock at home; where a command has it, ask again after a while."""
        try:
            taken = self._lock.take()
        except SyncdError as problem:
            self._problems["lock"], taken = str(problem), False
        if taken:
            self._problems.pop("lock", None)
            self._lock_pauses.reset()
        elif self._lock_timer is None:
            self._lock_timer = self.loop.after(self._lock_pauses.next_s(), self._ask_lock)
        return taken

    def _ask_lock(self) -> None:
        self._lock_timer = None
        self._look_round()  # it may have changed something

    def _begin_all(self, todo: Duties) -> None:
        if todo.scan:
            self._scan.due = False
            self._begin("scan", Doing("scan"))
        if todo.ahead:
            self._ahead.due = False
            self._begin("ahead", Doing("ahead"), plugged=sorted(self._cards))
        for card_id in todo.cards:
            card = self._cards[card_id]
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
        self, key: str, doing: Doing, card: _Card | None = None, kind: str = "", **more: Any
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
            running = _Running(_NoJob(), doing, self._library_number, card)
            self._ended(running, {"event": "failed", "kind": "fault", "message": text})
            return
        running = _Running(job, doing, self._library_number, card)
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

    def _heard(self, running: _Running, event: Event) -> None:
        if event["event"] == "begun":
            running.begun = True
            if "roots" in event:
                self._roots_are(event["roots"])
            self._step()
        elif event["event"] == "unmounting":
            running.unmounting = True  # that it leaves now is its update's own doing
        elif event["event"] == "progress":
            known = {name: value for name, value in event.items() if name in Doing.__slots__}
            running.doing = running.doing.at(self._now(), **known)
            self._show()

    def _roots_are(self, roots: list[str]) -> None:
        if tuple(roots) != self._library.roots:
            self._library = replace(self._library, roots=tuple(roots))
            self._watch.watch([Path(root) for root in roots])

    def _ended(self, running: _Running, event: Event) -> None:
        if running.card is not None:
            self._update_ended(running, running.card, event)
        elif running.doing.what == "scan":
            self._scan_ended(event)
        else:
            self._ahead_ended(event)
        self._step()

    def _scan_ended(self, event: Event) -> None:
        if event["event"] == "stopped":
            self._scan.due = True
            return
        if event["event"] == "failed":
            pause = self._scan.failed()
            self._problems["library"] = event["message"]
            self._library = replace(self._library, message=event["message"])
            _log.warning("%s The scan is tried again in %d s.", event["message"], pause)
            return
        self._scan.reset()
        self._problems.pop("library", None)
        self._roots_are(event["roots"])
        text = "" if event["roots"] else "No library is known yet: syncd library add DIR."
        self._library = replace(
            self._library, away=tuple(event["away"]), scanned=self._now(), message=text
        )
        for notice in event["notices"]:
            _log.info("%s", notice)
        if event["changed"]:
            _log.info(
                "The library changed: %d new, %d changed, %d moved, %d gone.",
                *(event[name] for name in ("new", "altered", "moved", "gone")),
            )
            self._everything_due()

    def _ahead_ended(self, event: Event) -> None:
        if event["event"] == "stopped":
            self._ahead.due = True
        elif event["event"] == "failed":
            self._problems["ahead"] = event["message"]
            _log.warning("%s It is tried again in %d s.", event["message"], self._ahead.failed())
        else:
            self._ahead.reset()
            self._problems.pop("ahead", None)
            for text in event["problems"].values():
                _log.warning("%s", text)
            if event["pressed"]:
                _log.info("%d pressings were made ahead of time.", event["pressed"])

    def _update_ended(self, running: _Running, card: _Card, event: Event) -> None:
        card_id, name = card.record.id, card.record.name
        here = self._cards.get(card_id) is card
        if event["event"] == "done":
            self._updated[card_id] = self._now()
            notice = telling.done_notice(name, event)
            card.stage, card.message = CardStage.DONE, notice.text
            self._parting[card_id] = notice.text
            card.held.reset()
            _log.info("%s: %s", name, notice.text)
            if event["steps"] or event["unmounted"] or not card.told:
                card.told = notice.text
                self._notices.tell(notice)
            if running.library != self._library_number and here:
                self._card_due(card)
            return
        if event["event"] == "stopped":
            card.stage, card.held.due = CardStage.WAITING, True
            if not here:
                self._parting[card_id] = telling.gone_text(name)
                self._tell_failed(card, telling.gone_text(name))
            return
        if not here and event["kind"] != "gone":
            event["message"] = telling.gone_text(name)
        busy = event["kind"] == "busy"
        card.stage = CardStage.BUSY if busy else CardStage.FAILED
        card.message = event["message"]
        if not here:
            self._parting[card_id] = event["message"]
        if not busy:
            self._tell_failed(card, event["message"])
        if here:
            card.held.failed()
            self.arrivals.look_again([card.mount.place])

    def _tell_failed(self, card: _Card, message: str) -> None:
        if card.told != message:
            card.told = message
            _log.warning("%s: %s", card.record.name, message)
            self._notices.tell(telling.failed_notice(card.record.name, message))

    # -- showing ------------------------------------------------------------------------------

    def _made_watch(self) -> LibraryWatch:
        return self._make_watch(self.house.settings)(lambda: self.loop.soon(self._step))

    def _show(self) -> None:
        """Make the state anew and hand it to who wants it."""
        slow = [
            f"The volume at {mount.place} has not answered yet."
            for mount in self.arrivals.waiting()
        ]
        problems = (
            *self.house.problems.values(),
            *self._problems.values(),
            *self._presence.twice.values(),
            *self._presence.copies.values(),
            *self._watch.problems(),
            *slow,
        )
        self.state = replace(
            self.state,
            cards=tuple(self._card_now(record) for record in self.house.known),
            jobs=tuple(running.doing for running in self._running.values()),
            library=replace(self._library, scan_due=self._scan.due),
            unknown=self._presence.unknown,
            problems=problems,
            paused=self._paused,
            giving_way=bool(self._way) or self._given is not None,
        )
        for listener in self._listeners:
            listener(self.state)

    def _card_now(self, record: CardRecord) -> CardNow:
        card = self._cards.get(record.id)
        running = self._running.get(record.id)
        updated = self._updated.get(record.id)
        if card is None:
            twice = self._presence.twice.get(record.id, "")
            stage = CardStage.TWICE if twice else CardStage.AWAY
            said = twice or self._parting.get(record.id, "")
            return CardNow(record.id, record.name, stage, message=said, updated=updated)
        return CardNow(
            record.id,
            record.name,
            card.stage,
            card.mount.place,
            card.message,
            None if running is None else running.doing,
            updated,
        )


class _NoJob:
    """Stands for a job that could not be begun."""

    def stop(self) -> None:
        """There is nothing to stop."""

    def kill(self) -> None:
        """There is nothing to end."""
