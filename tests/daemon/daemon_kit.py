"""What the daemon's tests share: doubles of its ports, a loop that runs until something holds."""

import json
import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from syncd import cards
from syncd.applier.identity import CardIdentity
from syncd.cards import CardRecord
from syncd.daemon.arrivals import Sighting
from syncd.daemon.keeper import Keeper
from syncd.daemon.loop import Loop
from syncd.daemon.mounts import Mount
from syncd.daemon.ports import Hints, Notice
from syncd.daemon.state import CardNow, CardStage
from syncd.settings import Home, find_home

SECONDS = 60.0
"""What takes longer is stuck."""


def run_until(loop: Loop, holds: Callable[[], bool], seconds: float = SECONDS) -> None:
    """Let *loop* go on until *holds*. Raises AssertionError when that does not come."""
    late = loop.after(seconds, lambda: None)
    deadline = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < deadline, "it did not come"
        loop.once()
    late.cancel()


class Clock:
    """A clock that is put forward by hand."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class Table:
    """A mount table that a test writes."""

    def __init__(self) -> None:
        self.mounted: dict[str, Mount] = {}
        self.changed: Callable[[], None] = lambda: None
        self.ids = 0

    def __call__(self, loop: Loop, changed: Callable[[], None]) -> "Table":
        self.changed = changed
        return self

    def mounts(self) -> list[Mount]:
        return list(self.mounted.values())

    def close(self) -> None:
        self.changed = lambda: None

    def mount(self, place: str, device: str = "", kind: str = "vfat") -> Mount:
        self.ids += 1
        made = Mount(place, kind, device or f"8:{self.ids}", str(self.ids))
        self.mounted[place] = made
        self.changed()
        return made

    def unmount(self, place: str) -> None:
        del self.mounted[place]
        self.changed()


class Told:
    """Notices that are only kept."""

    def __init__(self) -> None:
        self.all: list[Notice] = []

    def tell(self, notice: Notice) -> None:
        self.all.append(notice)

    def tidy(self) -> None:
        pass

    def close(self) -> None:
        pass


class Watch:
    """A watch of the library that a test sets off."""

    def __init__(self) -> None:
        self.hints: Hints | None = None
        self.roots: list[str] = []
        self.stirring: tuple[bytes, ...] = ()
        self.rounds = 0
        self.wake: Callable[[], None] = lambda: None

    def watch(self, roots: Any) -> None:
        self.roots = [str(root) for root in roots]

    def settled(self) -> Hints | None:
        hints, self.hints = self.hints, None
        return hints

    def next_s(self) -> float | None:
        return None

    def restless(self) -> tuple[bytes, ...]:
        return self.stirring

    def look_round(self) -> None:
        self.rounds += 1

    def problems(self) -> tuple[str, ...]:
        return ()

    def close(self) -> None:
        pass

    def set_off(self) -> None:
        self.hints = Hints()
        self.wake()


@dataclass(eq=False)
class FakeJob:
    """A job that does what a test says."""

    order: dict[str, Any]
    heard: Callable[[dict[str, Any]], None]
    ended: Callable[[dict[str, Any]], None]
    stopping: bool = False
    killed: bool = False

    def stop(self) -> None:
        self.stopping = True

    def kill(self) -> None:
        self.killed = True

    @property
    def kind(self) -> str:
        return str(self.order["kind"])


DONE = {
    "event": "done", "steps": 3, "written": 3, "renamed": 0, "removed": 0, "bytes_written": 1000,
    "left_out": 0, "not_fitting": [], "unmounted": False, "unmount_problem": "", "notices": [],
}  # fmt: skip
SCANNED = {
    "event": "done", "roots": ["/music"], "away": [], "notices": [], "changed": True, "new": 1,
    "altered": 0, "moved": 0, "gone": 0,
}  # fmt: skip
PRESSED = {"event": "done", "pressed": 0, "problems": {}}


@dataclass
class World:
    """A keeper all of whose ports are doubles."""

    base: Path
    table: Table = field(default_factory=Table)
    told: Told = field(default_factory=Told)
    watch: Watch = field(default_factory=Watch)
    clock: Clock = field(default_factory=Clock)
    jobs: list[FakeJob] = field(default_factory=list)
    ids: dict[str, CardIdentity | str] = field(default_factory=dict)
    settings: str = ""

    def __post_init__(self) -> None:
        self.home: Home = find_home(str(self.base / "home"), environment={})
        self.home.made()
        if self.settings:
            self.home.settings_file.write_text(self.settings)
        self.loop = Loop(self.clock)

    def enrolled(self, name: str, **more: Any) -> CardRecord:
        record = CardRecord(f"id-{name}", name, "mcu-mp3", **more)
        cards.save(self.home, record)
        return record

    def begin(self) -> Keeper:
        def maker(wake: Callable[[], None]) -> Watch:
            self.watch.wake = wake
            return self.watch

        self.keeper = Keeper(
            self.home,
            notices=lambda settings: self.told,
            watch=lambda settings: maker,
            loop=self.loop,
            table=self.table,
            look=self.look,
            job=self.job,
            now=lambda: self.clock.now,
        )
        self.keeper.loop.soon(lambda: None)
        self.keeper.arrivals.refresh()
        self.keeper._step()
        return self.keeper

    def look(self, mount: Mount) -> Sighting:
        found = self.ids.get(mount.device)
        if isinstance(found, str):
            return Sighting(mount, problem=found)
        return Sighting(mount, found)

    def job(self, order: str, heard: Any, ended: Any, keep: int) -> FakeJob:
        os.fstat(keep)  # the lock is held
        made = FakeJob(json.loads(order), heard, ended)
        self.jobs.append(made)
        return made

    def plug(self, record: CardRecord, place: str = "", device: str = "") -> Mount:
        place = place or f"/media/me/{record.name}"
        device = device or f"dev {record.id}"
        self.ids[device] = CardIdentity(record.id, record.name)
        mount = self.table.mount(place, device)
        self.settle()
        return mount

    def unplug(self, place: str) -> None:
        self.table.unmount(place)
        self.settle()

    def settle(self) -> None:
        """Let all looks at volumes come to their end, and what was called for later."""
        run_until(self.loop, lambda: not self.keeper.arrivals.waiting())
        self.loop.soon(lambda: None)
        self.loop.once()

    def pass_s(self, seconds: float) -> None:
        """Let so much time pass."""
        self.clock.now += seconds
        self.loop.soon(lambda: None)
        self.loop.once()
        self.settle()

    def running(self, kind: str) -> FakeJob:
        """The one job of this kind that is under way."""
        (job,) = [job for job in self.jobs if job.kind == kind]
        return job

    def end(self, kind: str, event: dict[str, Any], **more: Any) -> None:
        job = self.running(kind)
        self.jobs.remove(job)
        job.ended({**event, **more})
        self.settle()

    def kinds(self) -> list[str]:
        return sorted(job.kind for job in self.jobs)

    def card(self, name: str) -> CardNow:
        (found,) = [card for card in self.keeper.state.cards if card.name == name]
        return found

    def stage(self, name: str) -> CardStage:
        return self.card(name).stage
