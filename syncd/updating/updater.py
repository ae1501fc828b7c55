"""The flow of an update: the card is read, planned for, prepared for, planned again and written.

In what order, and when a plan must be made anew. What each step does is in the modules beside it.
"""

import threading
import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import replace
from pathlib import Path

from syncd.applier.ample import is_ample
from syncd.applier.applied import Applied, CannotMake
from syncd.applier.apply import sweep
from syncd.applier.card_faults import read_only
from syncd.applier.reading import CardReading
from syncd.applier.verify import Verified
from syncd.errors import CardFull
from syncd.model import AudioHash, CardPath, LibrarySnapshot, Track
from syncd.planner.card_state import CardState
from syncd.planner.plan import Action, Plan, pressing_id
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.store import PressingKey, Store
from syncd.updating.carrying_out import carry_out, catalogue_builder
from syncd.updating.drafting import draft
from syncd.updating.exact import (
    Room,
    measure_sizes,
    no_room_to_work,
    reckoned,
    sizes_known,
    with_room_left,
)
from syncd.updating.preparing import check, listen, press
from syncd.updating.recognising import beyond_repair, lost_files, read, still_lost
from syncd.updating.store_limit import StoreLimit
from syncd.updating.values import Outcome, Report, Target
from syncd.updating.workshop import Workshop

MOST_TRIES = 5
"""Plans that are made before one has to do, where the estimates of a nearly full card were low."""


class Updater:
    """Plans and updates cards from one library snapshot, with one store.

    *scratch* is a folder at home for what is made on the way. Damaged masters are left out but for
    those that it *forgives*; without *checks* nobody looks for damage, and all are used. Raises
    SetupProblem when the store cannot be used.

    *needed_elsewhere* tells which pressings other cards that are plugged in hold; it raises
    CardProblem where that cannot be known, and then nothing goes out of the store.
    """

    def __init__(
        self,
        library: LibrarySnapshot,
        store: Store,
        tool: Ffmpeg,
        scratch: Path,
        *,
        workers: int | None = None,
        stop: threading.Event | None = None,
        report: Report | None = None,
        store_limit_bytes: int | None = None,
        forgives: Callable[[Track], bool] | None = None,
        checks: bool = True,
        needed_elsewhere: Callable[[], Collection[PressingKey]] | None = None,
    ) -> None:
        self.shop = Workshop(
            library,
            store,
            tool,
            scratch,
            workers,
            stop,
            report or (lambda progress: None),
            forgives or (lambda track: False),
            checks,
        )
        self._found: Verified | None = None
        self._beyond: set[CardPath] = set()
        self.store_limit = StoreLimit(store, store_limit_bytes, needed_elsewhere or (lambda: ()))

    def plan(self, target: Target) -> tuple[Plan, CardReading]:
        """What an update of *target* would do, and the card as it is. Writes nothing to it."""
        reading = read(self.shop, target, None)
        plan = draft(self.shop, target, reading)
        if plan.steps and self._nothing_lacks(plan):
            with self.shop.folder() as folder:
                spare = 0
                for left in reversed(range(MOST_TRIES + 1)):
                    room = self._reckoned(target, plan, reading, folder)
                    plan = room.plan
                    spare += room.short
                    if not room.short:
                        break
                    if not left and room.lacking:
                        told = no_room_to_work(target.volume.name, room)
                        plan = replace(plan, cautions=(*plan.cautions, told))
                    if not left:
                        break
                    plan = draft(self.shop, target, reading, spare)
                    if not self._nothing_lacks(plan):
                        break
        cautions = (*plan.cautions, *self.shop.without_picture(target.profile, plan))
        return replace(plan, cautions=cautions), reading

    def _reckoned(self, target: Target, plan: Plan, reading: CardReading, scratch: Path) -> Room:
        return reckoned(
            target.volume, plan, reading, catalogue_builder(target.profile, plan, scratch)
        )

    def _nothing_lacks(self, plan: Plan) -> bool:
        return not plan.presses and not plan.measures and sizes_known(self.shop, plan)

    def update(self, target: Target, found: Verified | None = None) -> Outcome:
        """Bring *target* up to date. May be interrupted at any time; the next update goes on.

        *found* is what a verification found: what it says is damaged is not believed, and made
        anew. What cannot be made now stays as it is. Raises CardProblem when the card fails,
        CardFull before anything is written where it has no room to work in, SetupProblem when the
        store fails.
        """
        started = time.monotonic()
        self._found, self._beyond = found, set()
        reading = self._read(target)
        self.shop.notices.extend(reading.notices)
        if not target.volume.space().read_only and sweep(target.volume, reading):
            reading = self._read(target)
        lost = set() if found is None else lost_files(found, reading)
        plan, reading = self._drafted(target, reading)
        if not plan.steps:
            outcome = self._ended(target, plan, Applied(), set(), started)
        else:
            with self.shop.folder() as folder:
                outcome = self._updated(target, reading, plan, folder, started)
        kept = {placement.path for placement in outcome.plan.end}
        outcome.unmended = tuple(sorted(self._beyond & kept))
        outcome.lost = still_lost(lost, outcome.plan, self.shop.library)
        return outcome

    def _read(self, target: Target) -> CardReading:
        return read(self.shop, target, self._found)

    def _drafted(
        self, target: Target, reading: CardReading, spare: int = 0
    ) -> tuple[Plan, CardReading]:
        """The plan; what is damaged and cannot be made anew is believed from then on, and stays."""
        plan = draft(self.shop, target, reading, spare)
        if self._found is None:
            return plan, reading
        stuck = beyond_repair(self._found, reading, plan)
        if not stuck:
            return plan, reading
        for entry in reading.state.missing:
            if entry.path in stuck:
                self.shop.pardon((AudioHash(entry.source.audio), entry.source.recipe))
        self._beyond |= stuck
        faults = tuple(fault for fault in self._found.faults if fault.path not in stuck)
        self._found = replace(self._found, faults=faults)
        reading = self._read(target)
        return draft(self.shop, target, reading, spare), reading

    def _updated(
        self,
        target: Target,
        reading: CardReading,
        plan: Plan,
        scratch: Path,
        started: float,
    ) -> Outcome:
        """Carry out *plan*, and those that take its place when more is known."""
        shop, profile = self.shop, target.profile
        total: Applied | None = None
        spare = tries = 0
        made: set[PressingKey] = set()
        if target.volume.space().read_only:
            raise read_only(target.volume.name)  # said before anything is encoded for it
        while True:
            if check(shop, plan) or listen(shop, profile, plan):
                plan, reading = self._drafted(target, reading, spare)
                continue
            if plan.presses:
                made |= press(shop, plan, shop.measurements(profile))
                if reading.manifest_absent or reading.manifest_lost:
                    # With its pressing at hand, more of what is on the card may be known again.
                    reading = self._read(target)
                plan, reading = self._drafted(target, reading, spare)
                if plan.presses or plan.measures:
                    continue  # what failed is left out now; something else may have moved up
            if measure_sizes(shop, profile, plan, scratch):
                # Estimates are above: more may fit.
                plan, reading = self._drafted(target, reading, spare)
                continue
            ample = is_ample(plan, reading)
            room = Room(plan) if ample else self._reckoned(target, plan, reading, scratch)
            plan = room.plan
            if room.short and tries < MOST_TRIES:
                tries += 1  # the estimates of folders and catalogue were low: less has to do
                spare += room.short
                plan, reading = self._drafted(target, reading, spare)
                continue
            if room.lacking and plan.free_is_exact:
                raise CardFull(no_room_to_work(target.volume.name, room))
            try:
                applied = carry_out(shop, target, plan, reading, scratch)
            except CannotMake as fault:
                shop.take_note(fault)
                total = fault.done if total is None else total.and_then(fault.done)
                plan, reading = self._drafted(target, self._read(target), spare)
                continue
            if not plan.free_is_exact:
                plan = with_room_left(target, plan, reading)
            total = applied if total is None else total.and_then(applied)
            return self._ended(target, plan, total, made, started)

    def prepare(self, target: Target, state: CardState) -> int:
        """Make what an update of *target* would need, were it as *state* says; how many pressings.

        Nothing of the card itself is asked: it may be away. Stops where the store is full, since
        what is pressed next would push out what was pressed before.
        """
        shop, profile = self.shop, target.profile
        reading = CardReading(state)
        made: set[PressingKey] = set()
        with shop.folder() as folder:
            while True:
                plan = draft(shop, target, reading)
                if check(shop, plan) or listen(shop, profile, plan):
                    continue
                fitting = self.store_limit.fitting(plan)
                if fitting:
                    made |= press(shop, replace(plan, presses=fitting), shop.measurements(profile))
                    if len(fitting) == len(plan.presses):
                        continue  # what failed is left out now; something else may have moved up
                # How large they are once they are dressed: else the card would wait for that.
                measure_sizes(shop, profile, plan, folder)
                return len(made)

    def _ended(
        self, target: Target, plan: Plan, total: Applied, made: set[PressingKey], started: float
    ) -> Outcome:
        told = self.store_limit.keep(plan)
        if told is not None:
            self.shop.notices.append(told)
        self.shop.notices.extend(self.shop.without_picture(target.profile, plan))
        if (measured := self.shop.measurements(target.profile)) is not None:
            measured.trim()
        from_store = sum(key not in made for key in _written(plan))
        seconds = time.monotonic() - started
        return Outcome(plan, total, len(made), from_store, seconds, self.shop.all_notices())


def _written(plan: Plan) -> Iterator[PressingKey]:
    """The pressing of each file that *plan* writes, where it needs one from the store."""
    written = {step.target for step in plan.steps if step.action is Action.WRITE}
    for placement in plan.end:
        recipe = placement.recipe
        if placement.path in written and recipe is not None and recipe.action != "carry":
            yield pressing_id(placement)
