"""Cards that come and go: whose id is on the volumes that are mounted.

Each new mount is looked into once, by a thread of its own: a volume that does not answer holds up
neither the daemon nor the other cards. Nothing is ever written here.
"""

import contextlib
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import CardIdentity, IdentityDamaged, read_identity
from syncd.daemon.loop import Loop, Timer
from syncd.daemon.mounts import Mount, MountTable
from syncd.daemon.pauses import Pauses
from syncd.errors import CardProblem

FOLDER_KIND = "folder"
SLOW_S = 20.0
"""A volume that has not answered for so long is told of."""

LOOK_AGAIN_EVERY_S = 60.0
"""Folders that are no mounts give no notice of what comes into them."""

_TRIES = 6


@dataclass(frozen=True, slots=True)
class Sighting:
    """What a look at a volume found: who it is, or None if it is no card; or why that is unknown.

    ``damaged`` tells that it was a card once, and must be enrolled again. ``bytes_total`` is the
    volume's size, 0 while unknown.
    """

    mount: Mount
    identity: CardIdentity | None = None
    problem: str = ""
    damaged: bool = False
    bytes_total: int = 0


Look = Callable[[Mount], Sighting]


def look_at(mount: Mount) -> Sighting:
    """Look at *mount*: read the id on it. Takes as long as the volume does; writes nothing."""
    try:
        with FolderVolume(Path(mount.place)) as volume:
            return Sighting(mount, read_identity(volume), bytes_total=volume.space().total)
    except IdentityDamaged as problem:
        return Sighting(mount, problem=str(problem), damaged=True)
    except CardProblem as problem:
        return Sighting(mount, problem=str(problem))


class Arrivals:
    """Keeps the sightings of all that is mounted; calls *changed* when they are others."""

    def __init__(
        self,
        loop: Loop,
        table: Callable[[Callable[[], None]], MountTable],
        changed: Callable[[], None],
        *,
        folders: Sequence[str] = (),
        look: Look = look_at,
    ) -> None:
        self._loop = loop
        self._changed = changed
        self._look = look
        self._folders = tuple(folders)
        self._seen: dict[str, Sighting] = {}
        self._looking: dict[str, Mount] = {}
        self._late: dict[str, Timer] = {}
        self._slow: set[Mount] = set()
        self._tries: dict[str, Pauses] = {}
        self._timers: dict[str, Timer] = {}
        self._again: Timer | None = None
        self._closed = False
        self._table = table(self.refresh)

    def sightings(self) -> tuple[Sighting, ...]:
        """What is mounted and was looked at, in order of the places."""
        return tuple(self._seen[place] for place in sorted(self._seen))

    def waiting(self) -> tuple[Mount, ...]:
        """What is being looked at and has not answered yet."""
        return tuple(self._looking[place] for place in sorted(self._looking))

    def slow(self) -> tuple[Mount, ...]:
        """Those of them that should have answered by now."""
        return tuple(mount for mount in self.waiting() if mount in self._slow)

    def watch_folders(self, folders: Sequence[str]) -> None:
        """Look at these folders, too, as if they were volumes."""
        self._folders = tuple(folders)
        self.refresh()

    def refresh(self) -> None:
        """Look at what is new in the mount table, and forget what has left it."""
        now = {mount.place: mount for mount in self._table.mounts() if mount.may_be_a_card}
        loose = False
        for folder in self._folders:
            if folder not in now:
                loose = True
                with contextlib.suppress(OSError):
                    # The folder may be a link or go through one: its device tells when that is
                    # another volume now.
                    facts = Path(folder).stat()
                    device = f"{facts.st_dev} {facts.st_ino}"
                    now[folder] = Mount(folder, FOLDER_KIND, device, device)
        if self._again is not None:
            self._again.cancel()
        self._again = self._loop.after(LOOK_AGAIN_EVERY_S, self.look_again) if loose else None
        gone = [place for place, seen in self._seen.items() if now.get(place) != seen.mount]
        for place in gone:
            del self._seen[place]
        for place in [place for place in self._tries if place not in now]:
            del self._tries[place]
            if place in self._timers:
                self._timers.pop(place).cancel()
        for place in [place for place, mount in self._looking.items() if now.get(place) != mount]:
            self._answered(place)  # its answer will find nobody waiting
        for place, mount in now.items():
            if place not in self._seen and place not in self._looking:
                self._begin(mount)
        if gone:
            self._changed()

    def look_again(self, places: Iterable[str] | None = None) -> None:
        """Look anew at *places*; None: at the folders, which give no notice of their own."""
        if places is None:
            places = [place for place, seen in self._seen.items() if seen.mount.kind == FOLDER_KIND]
        for place in list(places):
            seen = self._seen.get(place)
            if seen is not None and place not in self._looking:
                self._begin(seen.mount)
        self.refresh()

    def close(self) -> None:
        """Look at nothing any more. A look that hangs is left behind."""
        self._closed = True
        self._table.close()
        for timer in (self._again, *self._timers.values(), *self._late.values()):
            if timer is not None:
                timer.cancel()

    def _begin(self, mount: Mount) -> None:
        self._looking[mount.place] = mount
        self._late[mount.place] = self._loop.after(SLOW_S, lambda: self._is_slow(mount))
        look = threading.Thread(
            target=self._answer, args=(mount,), name=f"look at {mount.place}", daemon=True
        )
        try:
            look.start()
        except RuntimeError as fault:  # no more threads are to be had; perhaps soon
            seen = Sighting(mount, problem=f"{mount.place} cannot be looked at now: {fault}.")
            self._loop.soon(lambda: self._take(seen))

    def _answer(self, mount: Mount) -> None:
        try:
            seen = self._look(mount)
        except Exception as fault:
            seen = Sighting(mount, problem=f"{mount.place} cannot be looked at: {fault}.")
        with contextlib.suppress(OSError):  # the loop has been closed meanwhile
            self._loop.soon(lambda: self._take(seen))

    def _take(self, seen: Sighting) -> None:
        place = seen.mount.place
        if self._closed or self._looking.get(place) != seen.mount:
            return
        was_slow = self._answered(place)
        if seen.problem and not seen.damaged:
            # A card that appears slowly does not answer the first time.
            pauses = self._tries.setdefault(place, Pauses(0.5, 60.0))
            if pauses.tried < _TRIES:
                self._timers[place] = self._loop.after(
                    pauses.next_s(), lambda: self.look_again([place])
                )
        else:
            self._tries.pop(place, None)
        if self._seen.get(place) != seen or was_slow:
            self._seen[place] = seen
            self._changed()

    def _answered(self, place: str) -> bool:
        """It is waited for no more; whether it was told of as slow."""
        mount = self._looking.pop(place)
        self._late.pop(place).cancel()
        was_slow = mount in self._slow
        self._slow.discard(mount)
        return was_slow

    def _is_slow(self, mount: Mount) -> None:
        if self._looking.get(mount.place) == mount:
            self._slow.add(mount)
            self._changed()
