"""Which folders of one root changed and have not come to rest yet. Pure: told of events and times.

A folder has come to rest when no event came for the settling time and two looks at it, half that
time apart, found the same names, sizes and times: a file that is only growing makes no events on
every system. However many events come, no more than ``MOST`` folders are kept: beyond that the
root is taken as a whole.
"""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass

MOST = 2000
"""Folders kept apart; more at once are taken for the whole root."""

PATIENCE_S = 6 * 3600.0
"""A folder that never comes to rest, since something is always written there, is due all the same
after so long."""

_GRAIN = 20
_GRAIN_S = 0.5
"""What is due within this part of the settling time, or so many seconds, is done at once. A rip
waits for it twice."""


@dataclass(slots=True)
class _Stir:
    """A folder that changed: when first, when last, how it looked after that and when."""

    first: float
    last: float
    seen: int | None = None
    seen_at: float = 0.0


class Stirring:
    """What stirs under *root*. All methods are quick and may be called from any thread."""

    def __init__(
        self, root: bytes, settle_s: float, clock: Callable[[], float], most: int = MOST
    ) -> None:
        self._settle_s = settle_s
        self._grain_s = min(settle_s / _GRAIN, _GRAIN_S)
        self._clock = clock
        self._most = most
        self._root = root
        self._whole = root.rstrip(b"/") + b"/"
        self._stirs: dict[bytes, _Stir] = {}
        self._ready: set[bytes] = set()
        self._urgent = False
        self._handed = clock() - settle_s
        self._told: float | None = None
        self._lock = threading.Lock()

    def stir(self, folder: bytes) -> bool:
        """*folder* changed now. Tells whether somebody must be woken to ask for times anew."""
        with self._lock:
            return self._stir(folder)

    def stir_all(self) -> bool:
        """Anything under the root may have changed now."""
        with self._lock:
            self._stirs = {self._whole: self._stirs.get(self._whole) or self._new()}
            return self._stir(self._whole)

    def keep_stirring(self, folder: bytes) -> None:
        """Something happened in *folder* that is no change of the library, but no rest either."""
        with self._lock:
            if folder in self._stirs:
                self._stir(folder)

    def announce(self) -> None:
        """The whole root is due now, without settling, unless all of it stirs."""
        with self._lock:
            if self._whole in self._stirs:
                return
            self._ready.add(self._root)
            self._urgent = True

    def due(self) -> list[bytes]:
        """The folders that are to be looked at now."""
        now = self._clock()
        with self._lock:
            return [folder for folder, stir in self._stirs.items() if self._due(stir) <= now]

    def looked(self, prints: Mapping[bytes, int]) -> None:
        """Take how folders look now: those that look as before have come to rest."""
        now = self._clock()
        with self._lock:
            for folder, seen in prints.items():
                stir = self._stirs.get(folder)
                if stir is None or self._due(stir) > now:
                    continue  # it changed while it was looked at
                if stir.seen == seen or now - stir.first >= PATIENCE_S:
                    del self._stirs[folder]
                    self._ready.add(self._root if folder == self._whole else folder)
                    if len(self._ready) > self._most:
                        self._ready = {self._root}
                elif stir.seen is not None:  # it grows: that is a change, too
                    stir.last = now
                    stir.seen, stir.seen_at = seen, now
                else:
                    stir.seen, stir.seen_at = seen, now

    def take(self) -> set[bytes]:
        """What has come to rest. While more stirs, not more often than once a settling time."""
        with self._lock:
            now = self._clock()
            hand_at = self._hand_at(now)
            if hand_at is None or hand_at > now:
                return set()
            taken, self._ready = self._ready, set()
            self._urgent = False
            self._handed = now
            return taken

    def restless(self) -> tuple[bytes, ...]:
        """The folders that have not come to rest; the root with a slash stands for all under it."""
        with self._lock:
            return tuple(self._stirs)

    def forget(self) -> None:
        """Nothing stirs, as far as is known."""
        with self._lock:
            self._stirs = {}

    def next_at(self, *, looking: bool) -> float | None:
        """When to ask again, by the clock handed in; None: not before something stirs.

        *looking*: somebody looks just now and will ask then.
        """
        with self._lock:
            times = [] if looking else [self._due(stir) for stir in self._stirs.values()]
            at = min(times) + self._grain_s if times else None
            hand_at = self._hand_at(self._clock())
            if hand_at is not None:
                at = hand_at if at is None else min(at, hand_at)
            self._told = at
            return at

    def _hand_at(self, now: float) -> float | None:
        if not self._ready:
            return None
        waits = self._stirs and not self._urgent
        return self._handed + self._settle_s if waits else now

    def _new(self) -> _Stir:
        now = self._clock()
        return _Stir(now, now)

    def _stir(self, folder: bytes) -> bool:
        if self._whole in self._stirs:
            folder = self._whole
        stir = self._stirs.get(folder)
        if stir is None:
            if len(self._stirs) >= self._most:
                oldest = min(stir.first for stir in self._stirs.values())
                self._stirs = {self._whole: _Stir(oldest, self._clock())}
                return False  # something is due before this
            stir = self._stirs[folder] = self._new()
        else:
            stir.last = self._clock()
            stir.seen = None
        at = self._due(stir) + self._grain_s
        if self._told is not None and self._told <= at:
            return False
        self._told = at  # who is woken asks for times: a burst wakes but once
        return True

    def _due(self, stir: _Stir) -> float:
        if stir.seen is None:
            at = stir.last + self._settle_s / 2
        else:
            at = max(stir.last + self._settle_s, stir.seen_at + self._settle_s / 2)
        return min(at, stir.first + PATIENCE_S)
