"""Bringing the library index up to date: look, compare, read what is new, forget what is gone.

What a file is and says is for ``tags`` and ``audiohash``, looking through folders for ``walk``. No
master file is opened for anything but reading. Work is committed in batches, so that a scan that is
stopped keeps what it did; files that are gone are forgotten last.
"""

import json
import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from syncd.collector import collector_resting
from syncd.errors import ItemProblem
from syncd.library.coverfile import hash_picture
from syncd.library.index import LibraryIndex
from syncd.library.masterfile import OpeningProblem, opening_problem, shown
from syncd.library.records import (
    NOT_BELIEVED,
    Cover,
    FileRecord,
    Listing,
    SheetRecord,
    Stat,
    Unknown,
)
from syncd.library.unsettled import Unsettled
from syncd.library.walk import Looked, Walker
from syncd.model import LibraryPath

READING = "5"
"""Version of what reading a file yields: raise it, and the next scan reads every file."""

_BATCH = 64
_DAY_NS = 86_400 * 10**9
_COARSE_NS = 2_000_000_000  # FAT and some network disks tell times in steps of two seconds
_TICK_NS = 20_000_000  # Linux stamps files with the time of its last tick, up to 10 ms ago


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a scan is. ``stage`` is look, read or identify; ``total`` 0 while unknown."""

    stage: str
    done: int
    total: int
    what: str = ""


Report = Callable[[Progress], None]


@dataclass(frozen=True, slots=True)
class ScanResult:
    """What a scan found. ``changed`` counts files whose bytes differ, ``notices`` are sentences.

    ``pictures`` are folders whose picture is new, another one or gone.
    ``away`` are roots that are missing or unmounted: what is known of them is kept.
    """

    seen: int = 0
    new: int = 0
    changed: int = 0
    moved: int = 0
    gone: int = 0
    unreadable: int = 0
    read: int = 0
    notices: tuple[str, ...] = ()
    away: tuple[LibraryPath, ...] = ()
    pictures: int = 0


def scan(
    index: LibraryIndex,
    *,
    deep: bool = False,
    report: Report | None = None,
    workers: int | None = None,
    now_ns: Callable[[], int] = time.time_ns,
    leave: Unsettled | None = None,
) -> ScanResult:
    """Bring *index* up to date with the files under its roots.

    An unchanged stat (size, mtime, inode) is believed unless *deep*. Folders whose files changed
    are left marked in the index for identifying (``LibraryIndex.stale_folders``). *now_ns* is the
    clock, nanoseconds since the epoch. Folders in *leave* stay as they are known. Raises
    SetupProblem when the index cannot be used, and lets KeyboardInterrupt through after keeping
    what was read.
    """
    return _Scan(index, deep, report, workers or os.cpu_count() or 1, now_ns, leave).run()


class _Scan:
    """One scan under way."""

    def __init__(
        self,
        index: LibraryIndex,
        deep: bool,
        report: Report | None,
        workers: int,
        now_ns: Callable[[], int],
        leave: Unsettled | None,
    ) -> None:
        self._leave = leave or Unsettled()
        self._index = index
        self._deep = deep
        self._report = report
        self._workers = workers
        self._now_ns = now_ns
        self._notices: list[str] = list(index.notices)
        self._renamed = 0
        self._lost: dict[str, int | None] = {}
        """Hashes of files that are gone, with the days on which they came."""
        self._unknown_roots: set[LibraryPath] = set()
        self._first: tuple[bytes, ...] = ()
        """Roots that were never looked through to the end before."""

    def run(self) -> ScanResult:
        if self._index.meta("reading") != READING:
            self._index.disbelieve_all()
            self._index.set_meta("reading", READING)
        away: dict[LibraryPath, bool] = {}
        looked: list[Looked] = []
        for root in self._index.roots():
            under = self._look(root)
            away[root] = under is None
            if under is not None:
                looked.append(under)
                self._notices += under.notices
        self._index.set_away(away)
        unknown = [each for under in looked for each in under.unknown]
        gone = {path: stat for under in looked for path, stat in under.gone.items()}
        unknown, moved = self._take_moves(unknown, gone)
        self._lost = lost = self._index.file_hashes(gone) if gone and unknown else {}
        dated = json.loads(self._index.meta("dated") or "[]")
        there = [root for root, is_away in away.items() if not is_away]
        self._first = tuple(
            os.fsencode(root).rstrip(b"/") + b"/"
            for root in there
            if shown(root) not in dated or root in self._unknown_roots
        )
        was_known = {each.path: each.known for each in unknown}
        new = changed = 0
        for batch, differing in self._read(unknown):
            for record in batch:
                if was_known[record.path]:
                    changed += record.path in differing
                elif record.hashes is not None and record.hashes.file in lost:
                    moved += 1
                else:
                    new += 1
        if gone:
            self._index.forget(gone)
        if self._first:
            dated = sorted({*dated, *map(shown, there)})
            self._index.set_meta("dated", json.dumps(dated))
        self._take_covers(looked)
        self._take_sheets(looked)
        self._notices += self._index.divide()
        return ScanResult(
            seen=sum(under.seen for under in looked),
            new=new,
            changed=changed,
            moved=moved,
            gone=max(0, len(gone) - (moved - self._renamed)),
            unreadable=self._index.count_unreadable(),
            read=len(unknown),
            notices=tuple(self._notices),
            away=tuple(root for root, is_away in away.items() if is_away),
            pictures=sum(len(under.covers) for under in looked),
        )

    def _look(self, root: LibraryPath) -> Looked | None:
        """What is under *root*, None when it is away."""
        raw = os.fsencode(root)
        try:
            os.scandir(raw).close()
        except OSError as error:
            cause = error.strerror or type(error).__name__
        else:
            with collector_resting():
                known = self._index.folders(root)
                if not known:
                    self._unknown_roots.add(root)
                looked = Walker(known, self._deep, self._tell_looking).walk(raw)
            if looked.seen or not looked.gone:
                return self._leave.taken_out(looked)
            cause = "no audio file is left under it"
        self._notices.append(
            f"The library's root {shown(root)} is away ({cause}); nothing under it is forgotten. "
            "Mount its disk and scan again, or take it out with 'syncd library remove'."
        )
        return None

    def _tell_looking(self, seen: int) -> None:
        if self._report is not None:
            self._report(Progress("look", seen, 0))

    def _take_moves(
        self, unknown: list[Unknown], gone: dict[bytes, Stat]
    ) -> tuple[list[Unknown], int]:
        """Let rows follow files that were renamed: same inode, size and time, so the same bytes.

        Returns what must be read still; what was followed is taken out of *gone*.
        """
        by_stat = {stat: path for path, stat in gone.items() if stat.size > 0}
        moves: list[tuple[bytes, bytes, Stat]] = []
        rest: list[Unknown] = []
        for each in unknown:
            old = None if each.known else by_stat.pop(each.stat, None)
            if old is not None and _suffix(old) == _suffix(each.path):
                moves.append((old, each.path, each.stat))
                del gone[old]
            if old is None or _suffix(old) != _suffix(each.path) or self._deep:
                rest.append(each)
        for start in range(0, len(moves), 1000):
            self._index.move(moves[start : start + 1000])
        self._renamed = len(moves)
        return rest, len(moves)

    def _read(
        self, unknown: Sequence[Unknown]
    ) -> Iterator[tuple[list[FileRecord], frozenset[bytes]]]:
        """Read and hash files on all cores; yields batches once they are stored."""
        if not unknown:
            return
        # loaded here, since a scan with nothing new needs no threads and starts sooner without
        from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait

        batch: list[FileRecord] = []

        def take(future: Future[FileRecord | str]) -> None:
            result = future.result()
            running.discard(future)
            if isinstance(result, str):
                self._notices.append(result)
            else:
                batch.append(result)

        total, done = len(unknown), 0
        waiting = iter(unknown)
        running: set[Future[FileRecord | str]] = set()
        with ThreadPoolExecutor(self._workers, thread_name_prefix="syncd-read") as pool:
            try:
                while True:
                    for each in islice(waiting, self._workers * 4 - len(running)):
                        running.add(pool.submit(_examine, each.path, self._now_ns))
                    if not running:
                        break
                    for future in wait(running, return_when=FIRST_COMPLETED).done:
                        take(future)
                        done += 1
                    if self._report is not None:
                        self._report(Progress("read", done, total))
                    if len(batch) >= _BATCH:
                        yield self._store(batch)
                        batch = []
            except BaseException:
                # stopped: what is being read is finished and kept, what waits is given up
                pool.shutdown(wait=True, cancel_futures=True)
                for future in tuple(running):
                    if not future.cancelled() and future.exception() is None:
                        take(future)
                self._store(batch)
                raise
        if batch:
            yield self._store(batch)

    def _store(self, batch: list[FileRecord]) -> tuple[list[FileRecord], frozenset[bytes]]:
        dated = [replace(record, added=self._day_of(record)) for record in batch]
        return batch, self._index.upsert(dated)

    def _day_of(self, record: FileRecord) -> int:
        """The day on which a file came to the library, if it is new, from 1970-01-01 on.

        That of the scan that sees it first; but where the whole root is new, the day on which it
        was last changed, since else all would have come at once. A moved file keeps its day.
        """
        digest = record.hashes.file if record.hashes is not None else ""
        known = self._lost.get(digest)
        today = self._now_ns() // _DAY_NS
        if known is not None:
            return known
        if record.stat is not None and record.path.startswith(self._first):
            return min(today, record.stat.mtime_ns // _DAY_NS)
        return today

    def _take_covers(self, looked: Sequence[Looked]) -> None:
        covers: dict[bytes, Cover | None] = {}
        for under in looked:
            for folder, cover in under.covers.items():
                covers[folder] = None if cover is None else self._read_cover(folder, cover)
        if covers:
            self._index.set_covers(covers)

    def _take_sheets(self, looked: Sequence[Looked]) -> None:
        """Read the cue sheets of folders where one is new, different or gone: all of them anew."""
        for under in looked:
            for folder, listing in under.sheets.items():
                believed: Listing = {}
                read: dict[bytes, SheetRecord] = {}
                for name, stat in listing.items():
                    read[name] = _read_sheet(folder + b"/" + name)
                    known = Stat(*stat)
                    coarse = _is_coarse(known, self._now_ns)
                    believed[name] = NOT_BELIEVED if read[name].again or coarse else stat
                self._index.set_sheets(folder, believed, read)

    def _read_cover(self, folder: bytes, cover: Cover) -> Cover:
        path = os.fsdecode(folder + b"/" + cover.name)
        try:
            digest = hash_picture(LibraryPath(path), self._notices)
        except ItemProblem as problem:
            self._notices.append(problem.reason)
            digest = ""
        return cover._replace(hash=digest)


def _read_sheet(path: bytes) -> SheetRecord:
    from syncd.library.sheetfiles import read_sheet

    try:
        return SheetRecord(read_sheet(os.fsdecode(path)))
    except ItemProblem as problem:
        return SheetRecord(None, problem.reason, isinstance(problem, OpeningProblem))


def _suffix(path: bytes) -> bytes:
    return path.rpartition(b".")[2].lower()


def _stat(path: bytes) -> Stat:
    status = os.stat(path)  # noqa: PTH116
    return Stat(status.st_size, status.st_mtime_ns, status.st_ino)


def _is_coarse(stat: Stat, now_ns: Callable[[], int]) -> bool:
    """Whether a second change within one step of a coarse clock would not show in *stat*."""
    return stat.mtime_ns % 1_000_000_000 == 0 and now_ns() - stat.mtime_ns < _COARSE_NS


def _examine(path: bytes, now_ns: Callable[[], int]) -> FileRecord | str:
    """Read and hash one file; a sentence instead when it changed or went away meanwhile."""
    from syncd.library.audiohash import hash_file
    from syncd.library.tags import read_file

    text = LibraryPath(os.fsdecode(path))
    reading = hashes = None
    reason = ""
    believed = True
    try:
        before = _stat(path)
        if 0 <= now_ns() - before.mtime_ns < _TICK_NS:
            # What is written after us, but within the same tick, would not show in the time.
            time.sleep(_TICK_NS / 1e9)
            before = _stat(path)
        try:
            reading = read_file(text)
            hashes = hash_file(text, reading.audio.container)
        except ItemProblem as problem:
            reading, reason = None, problem.reason
            believed = not isinstance(problem, OpeningProblem)
        after = _stat(path)
    except FileNotFoundError:
        return f"{shown(path)} went away during the scan; the next scan sees what became of it."
    except OSError as error:
        return opening_problem(text, error).reason
    if before != after:
        return f"{shown(path)} changed while it was read; it is left for the next scan."
    if _is_coarse(before, now_ns):
        believed = False
    return FileRecord(path, before.size, before if believed else None, reading, hashes, reason)
