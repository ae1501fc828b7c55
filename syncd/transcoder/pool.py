"""Many pressings at once: one thread a core, each driving ffmpeg.

Results come as they are done. One track that fails does not stop the others; a full store does. A
stop (Ctrl-C, or the listener's word) ends what runs within a moment and leaves no process behind.
"""

import os
import queue
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial

from syncd.errors import ItemProblem
from syncd.library.asknown import Holds, anything, sure
from syncd.model import Track
from syncd.planner.gain import level_key
from syncd.planner.recipe import Recipe
from syncd.transcoder.checking import checked
from syncd.transcoder.checks import Checks
from syncd.transcoder.ffmpeg_port import Ffmpeg, Stopped
from syncd.transcoder.listening import listen
from syncd.transcoder.measuring import Sink
from syncd.transcoder.press import press
from syncd.transcoder.store import Pressing, Store

Item = tuple[Track, Recipe]


@dataclass(frozen=True, slots=True)
class Pressed:
    """What became of one item: a pressing, or the problem that kept it from being one.

    ``made`` is False for what was in the store already and for what is carried over.
    """

    track: Track
    recipe: Recipe
    pressing: Pressing | None
    problem: ItemProblem | None = None
    made: bool = False


def press_all(
    items: Iterable[Item],
    store: Store,
    tool: Ffmpeg,
    *,
    workers: int | None = None,
    stop: threading.Event | None = None,
    report: Callable[[Pressed], None] | None = None,
    sink: Sink | None = None,
    forgiven: Callable[[Track], bool] | None = None,
    holds: Holds = anything,
) -> Iterator[Pressed]:
    """Yield the outcome of every item of *items*, in the order in which they are done.

    Equal work is done once: of two items with the same audio and recipe the second finds the
    first's pressing. What is encoded is measured for *sink*, where one is given. Damaged masters
    are used only if *forgiven*; of one that does not hold its audio any more (*holds*) nothing is
    kept. *report* is called for each outcome before it is yielded. When
    *stop* is set, or the caller breaks off or is interrupted, running encoders are ended and
    nothing more is yielded.
    Raises SetupProblem when the store cannot take more.
    """
    pressing = partial(_press, store=store, sink=sink, forgiven=forgiven, holds=holds)
    yield from _all(items, pressing, tool, workers, stop, report)


def measure_all(
    items: Iterable[Item],
    sink: Sink,
    tool: Ffmpeg,
    *,
    workers: int | None = None,
    stop: threading.Event | None = None,
    holds: Holds = anything,
) -> Iterator[Pressed]:
    """Measure every item of *items* for *sink* by decoding it; yields and stops as press_all."""
    yield from _all(items, partial(_measure, sink=sink, holds=holds), tool, workers, stop, None)


def check_all(
    items: Iterable[Item],
    checks: Checks,
    tool: Ffmpeg,
    *,
    workers: int | None = None,
    stop: threading.Event | None = None,
    holds: Holds = anything,
) -> Iterator[Pressed]:
    """See for every item of *items* whether its master is sound; yields and stops as press_all.

    What is damaged is in *checks* afterwards; a problem is what could not be decoded at all.
    """
    yield from _all(items, partial(_check, checks=checks, holds=holds), tool, workers, stop, None)


def _check(track: Track, recipe: Recipe, tool: Ffmpeg, *, checks: Checks, holds: Holds) -> Pressed:
    checked(track, tool, checks, holds)
    return Pressed(track, recipe, None)


def _press(
    track: Track,
    recipe: Recipe,
    tool: Ffmpeg,
    *,
    store: Store,
    sink: Sink | None,
    forgiven: Callable[[Track], bool] | None,
    holds: Holds,
) -> Pressed:
    encodes = recipe.action != "carry"
    kept = encodes and store.get(track.audio_hash, recipe.key) is not None
    forgives = forgiven is not None and forgiven(track)
    pressing = press(track, recipe, store, tool, sink, forgiven=forgives, holds=holds)
    return Pressed(track, recipe, pressing, made=encodes and not kept)


def _measure(track: Track, recipe: Recipe, tool: Ffmpeg, *, sink: Sink, holds: Holds) -> Pressed:
    key = level_key(track.audio_hash, recipe)
    if not sink.known(key):
        measured = listen(track, recipe, tool)
        sure(track, holds)
        sink.keep(key, measured)
    return Pressed(track, recipe, None)


def _all(
    items: Iterable[Item],
    do: Callable[[Track, Recipe, Ffmpeg], Pressed],
    tool: Ffmpeg,
    workers: int | None,
    stop: threading.Event | None,
    report: Callable[[Pressed], None] | None,
) -> Iterator[Pressed]:
    work = _Work(items, do, tool, stop or threading.Event())
    count = max(1, workers or os.cpu_count() or 1)
    threads = [threading.Thread(target=work.run, daemon=True) for _ in range(count)]
    for thread in threads:
        thread.start()
    try:
        yield from _outcomes(work, count, report)
    finally:
        work.halt()
        for thread in threads:
            thread.join()
    if work.failure is not None:
        raise work.failure


def _outcomes(
    work: "_Work", count: int, report: Callable[[Pressed], None] | None
) -> Iterator[Pressed]:
    running = count
    while running:
        try:
            # A wait with an end lets Ctrl-C and the stop flag through.
            outcome = work.done.get(timeout=0.25)
        except queue.Empty:
            if work.stop.is_set():
                return
            continue
        if outcome is None:
            running -= 1
        elif not work.stop.is_set():
            if report is not None:
                report(outcome)
            yield outcome


class _Work:
    """What the threads share: the items still to do, and the outcomes."""

    def __init__(
        self,
        items: Iterable[Item],
        do: Callable[[Track, Recipe, Ffmpeg], Pressed],
        tool: Ffmpeg,
        stop: threading.Event,
    ) -> None:
        self._items = iter(items)
        self._do = do
        self._tool = tool.another()
        self._lock = threading.Lock()
        self._doing: dict[tuple[str, str], threading.Event] = {}
        self._halted = threading.Event()
        self.stop = stop
        self.done: queue.SimpleQueue[Pressed | None] = queue.SimpleQueue()
        self.failure: BaseException | None = None

    def run(self) -> None:
        """Do items until there are none, then say so with None."""
        try:
            while not self.stop.is_set() and not self._halted.is_set():
                with self._lock:
                    item = next(self._items, None)
                if item is None:
                    return
                self.done.put(self._one(*item))
        except Stopped:
            return
        except BaseException as error:
            self.failure = self.failure or error
            self.halt()
        finally:
            self.done.put(None)

    def halt(self) -> None:
        """Start nothing more and end what runs."""
        self._halted.set()
        self._tool.stop()

    def _one(self, track: Track, recipe: Recipe) -> Pressed:
        key = (track.audio_hash, recipe.key)
        while True:
            with self._lock:
                other = self._doing.get(key)
                if other is None:
                    mine = self._doing[key] = threading.Event()
                    break
            other.wait()
        try:
            return self._do(track, recipe, self._tool)
        except ItemProblem as problem:
            return Pressed(track, recipe, None, problem)
        finally:
            with self._lock:
                del self._doing[key]
            mine.set()
