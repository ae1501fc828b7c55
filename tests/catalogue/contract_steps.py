"""Every step of the contract, counted: one by one from an empty cache, and as a warm session."""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from syncd.catalogue import contract
from syncd.catalogue.contract import QUEUE_ROWS, ROWS, Step
from syncd.catalogue.cost import Cost, CountingConnection
from syncd.catalogue.reader import Catalogue, EntryRow, HomeList
from syncd.catalogue.rows import LISTS

LIST_NAMES = frozenset(name for name, _ in LISTS)


@dataclass
class Worst:
    """The worst of each measure, over all runs of one step."""

    runs: int = 0
    reads: int = 0
    bytes: int = 0
    vm_steps: int = 0
    over: int = 0
    at: dict[int, int] = field(default_factory=dict)

    def take(self, step: Step, cost: Cost) -> None:
        self.runs += 1
        self.at[cost.reads] = self.at.get(cost.reads, 0) + 1
        self.over += cost.reads > step.reads
        self.reads = max(self.reads, cost.reads)
        self.bytes = max(self.bytes, cost.bytes)
        self.vm_steps = max(self.vm_steps, cost.vm_steps)


class Measured:
    """A catalogue opened through the counting file system with *pages* of cache."""

    def __init__(self, path: Path, pages: int) -> None:
        held: list[CountingConnection] = []

        def counting(file: Path) -> CountingConnection:
            held.append(CountingConnection(file, pages))
            return held[0]

        self.catalogue = Catalogue(path, counting)
        (self.connection,) = held
        self.homes = {row.list: row for row in self.catalogue.remembered_home()}
        self.tracks = self.homes["tracks"].count

    # The steps, each with what a player does in it

    def screen(self, first: int, place: int, count: int) -> list[EntryRow]:
        """The rows of a screen at *place* of a list of entries or tracks."""
        rows = min(ROWS, count - place)
        if first <= self.tracks:  # ids of tracks are the lowest
            self.catalogue.tracks(first + place, rows)
            return []
        return self.catalogue.entries(first + place, rows)

    def letter(self, place: int, home: HomeList) -> None:
        jump = self.catalogue.letters(home)[place]
        self.screen(home.first, jump.first - home.first, home.count)

    def follow(self, ident: int) -> EntryRow:
        entry = self.catalogue.entry(ident)
        self.screen(entry.first, 0, entry.count)
        return entry

    def search(self, ident: int) -> None:
        self.catalogue.found(self.catalogue.prefix(ident))

    # All there are, or every so many of them

    def all_steps(self, every: int) -> Iterator[tuple[Step, Callable[[], object]]]:
        """Each step at each place where it can be taken; of very many places, one in *every*."""
        c = self.catalogue
        yield contract.SHOW_HOME, c.home
        lists = [home for home in self.homes.values() if home.list in LIST_NAMES and home.count]
        opened = set()
        for home in lists:
            for place in range(0, home.count, ROWS if home.count < 4000 else ROWS * every):
                yield contract.SHOW_LIST, lambda h=home, p=place: self.screen(h.first, p, h.count)
            for jump in range(home.jumps):
                yield contract.JUMP, lambda j=jump, h=home: self.letter(j, h)
            opened |= {(entry.first, entry.count) for entry in c.children(home)}
        for name in ("works", "recordings", "artist_albums"):
            if self.homes[name].count:
                opened |= {(entry.first, entry.count) for entry in c.children(self.homes[name])}
        for first, count in sorted(opened)[::every]:
            for place in range(0, count, ROWS * (1 + count // 400)):
                yield contract.OPEN, lambda f=first, p=place, n=count: self.screen(f, p, n)
        here = self.homes["entries"]
        entries = here.first + here.count
        for ident in range(here.first, entries, 1 + entries // 20_000 * every):
            yield contract.FOLLOW, lambda i=ident: self.follow(i)
        for ident in self.prefixes()[::every]:
            yield contract.SEARCH, lambda i=ident: self.search(i)
        for ident in range(1, self.tracks + 1, every):
            yield contract.PLAYING, lambda i=ident: c.playing(i)
            yield contract.RANDOM, lambda i=ident: c.track(i)
        groups = sorted(group for group in opened if 0 < group[0] <= self.tracks)
        for ident, left in [(f + p, n - p) for f, n in groups for p in range(n)][::every]:
            yield contract.QUEUE, lambda i=ident, n=left: c.tracks(i, min(QUEUE_ROWS, n))
        recordings = self.homes["recordings"]
        for ident in range(recordings.first, recordings.first + recordings.count, every):
            yield contract.RANDOM, lambda i=ident: c.entry(i)

    def prefixes(self) -> list[int]:
        """The ids of all prefixes: they are numbered from 1 on, the last ones are leaves."""
        last = 1
        ident = 1
        while ident <= last:
            prefix = self.catalogue.prefix(ident)
            last = max(last, prefix.child + len(prefix.letters) - 1)
            ident += 1
        return list(range(1, last + 1))

    def cold(self, every: int = 1) -> dict[Step, Worst]:
        """The worst cost of each step, each from an empty page cache."""
        found = {step: Worst() for step in contract.STEPS}
        found[contract.BOOT].take(contract.BOOT, self.connection.opened)
        for step, take in self.all_steps(every):
            with self.connection.cold() as cost:
                take()
            found[step].take(step, cost[0])
        return found

    def session(self, steps: int, hears: bool = True, seed: int = 5) -> list[int]:
        """The reads of each step of a listener's wandering, with a warm cache."""
        return list(Session(self, random.Random(seed), hears).reads(steps))


class Session:
    """Wandering: into lists and back, letters, scrolling by screens, search, playing.

    From home a listener searches (one time in five), has a track chosen at random (one in twelve),
    or goes into any list, by a letter where there are any (three in five), on by none to five
    screens, and so down to a track; half the time then back up by the same screens. Who *hears*
    what was chosen asks for the queue, and none to five tracks more are played after the first,
    each with all its details, until the recording or album ends; one in ten then goes to the
    work or artist by the link. Who does not leaves each track the moment it begins.
    """

    def __init__(self, measured: Measured, pick: random.Random, hears: bool) -> None:
        self.m = measured
        self.pick = pick
        self.hears = hears
        self.lists = [
            home for home in measured.homes.values() if home.list in LIST_NAMES and home.count
        ]

    def reads(self, steps: int) -> Iterator[int]:
        done = 0
        before = self.m.connection.total.reads
        while done < steps:
            for _ in self._stroll():
                now = self.m.connection.total.reads
                yield now - before
                before = self.m.connection.total.reads
                done += 1

    def _stroll(self) -> Iterator[None]:
        pick, m = self.pick, self.m
        m.catalogue.home()
        yield
        if pick.random() < 0.2:
            yield from self._search()
            return
        if pick.random() < 0.1:
            track = m.catalogue.track(pick.randint(1, m.tracks))
            yield
            yield from self._play(track.id)
            return
        home = pick.choice(self.lists)
        if home.jumps and pick.random() < 0.6:
            place = pick.choice(m.catalogue.letters(home)).first - home.first
        else:
            place = 0
        yield from self._list(home.first, home.count, place)

    def _list(self, first: int, count: int, place: int = 0) -> Iterator[None]:
        """Down from a list to a track and, as often as not, all the way back up again."""
        pick, m = self.pick, self.m
        trail: list[tuple[int, int, int]] = []
        while count:
            rows = m.screen(first, place, count)
            yield
            for _ in range(pick.choice((0, 0, 1, 1, 2, 5))):
                if place + ROWS < count:
                    place += ROWS
                    rows = m.screen(first, place, count)
                    yield
            trail.append((first, place, count))
            if not rows:
                yield from self._play(first + place)
                break
            entry = pick.choice(rows)
            first, count, place = entry.first, entry.count, 0
        if pick.random() < 0.5:
            for list_ in reversed(trail):
                m.screen(*list_)
                yield

    def _play(self, ident: int) -> Iterator[None]:
        """Play a track; who hears it hears on."""
        pick, m = self.pick, self.m
        group = m.catalogue.playing(ident).group
        yield
        if not self.hears:
            return
        end = group.first_track + group.track_count
        m.catalogue.tracks(ident, min(QUEUE_ROWS, end - ident))
        yield
        for following in range(ident + 1, min(end, ident + 1 + pick.choice((0, 0, 1, 1, 2, 5)))):
            m.catalogue.playing(following)
            yield
        if pick.random() < 0.1:
            m.follow(group.parent)
            yield

    def _search(self) -> Iterator[None]:
        pick, m = self.pick, self.m
        prefix = m.catalogue.prefix()
        found = m.catalogue.found(prefix).best
        yield
        while prefix.letters:
            turned = m.catalogue.turned(prefix, pick.choice(prefix.letters))
            assert turned is not None
            prefix = turned
            found = m.catalogue.found(prefix).best
            yield
        if found:
            yield from self._list((entry := pick.choice(found)).first, entry.count)
