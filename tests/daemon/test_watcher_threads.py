"""The watch with its real threads: that it hears, lets go of all, and sleeps while nothing is."""

import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from watchdog.observers.polling import PollingObserver

from syncd.daemon.observed_tree import ObservedTree
from syncd.daemon.trees import CannotWatch
from syncd.daemon.watcher import LibraryWatcher, Watching

PATIENCE_S = 30


class Waker:
    """Lets a test wait for the next wake."""

    def __init__(self) -> None:
        self.woken = threading.Event()

    def __call__(self) -> None:
        self.woken.set()

    def until(self, holds: Callable[[], bool]) -> None:
        while not holds():
            assert self.woken.wait(PATIENCE_S), "it did not come"
            self.woken.clear()


def descriptors() -> int:
    return len(os.listdir("/proc/self/fd"))


@pytest.mark.skipif(sys.platform != "linux", reason="inotify is Linux's")
def test_it_hears_with_its_own_threads_and_leaves_none_behind(tmp_path: Path) -> None:
    before, threads = descriptors(), set(threading.enumerate())
    for _ in range(5):
        wake = Waker()
        watch = LibraryWatcher(wake, Watching(settle_s=3600))
        watch.watch([tmp_path])
        wake.until(lambda watch=watch: watch.settled() is not None)  # type: ignore[misc]
        (tmp_path / "1.flac").write_bytes(b"x")
        wake.until(lambda watch=watch: bool(watch.restless()))  # type: ignore[misc]
        watch.close()
        for thread in set(threading.enumerate()) - threads:
            thread.join(PATIENCE_S)
            assert not thread.is_alive()
    assert descriptors() == before


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_a_moved_tree_of_a_thousand_folders_is_taken_while_events_go_on(tmp_path: Path) -> None:
    root, elsewhere = tmp_path / "music", tmp_path / "elsewhere"
    root.mkdir()
    for number in range(1000):
        (elsewhere / str(number)).mkdir(parents=True)
    wake = Waker()
    watch = LibraryWatcher(wake, Watching(settle_s=3600))
    watch.watch([root])
    wake.until(lambda: watch.settled() is not None)
    elsewhere.rename(root / "new")
    for number in range(100):
        (root / "new" / str(number) / "1.flac").touch()
    wake.until(lambda: len(watch.restless()) == 1002)
    watch.close()


class Ears:
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.wake = Waker()
        self.heard: set[tuple[bytes, bool]] = set()

    def stirred(self, folder: bytes, *, telling: bool = True) -> None:
        self.heard.add((folder, telling))
        self.wake()

    def lost(self) -> None:
        raise AssertionError("it cannot tell")

    def moved(self) -> None:
        self.heard.add((b"moved", True))

    def work(self) -> None:
        raise AssertionError("it watches by itself")


def test_the_observer_of_other_systems_tells_which_folder_changed(tmp_path: Path) -> None:
    """By watchdog's polling observer, which runs everywhere; FSEvents needs a Mac."""
    root, link = tmp_path / "music", tmp_path / "link"
    (root / "a").mkdir(parents=True)
    link.symlink_to(root)
    ears = Ears()
    tree = ObservedTree(os.fsencode(link), ears, lambda: PollingObserver(timeout=0.05))
    tree.survey()
    (root / "a" / "1.flac").write_bytes(b"x")
    ears.wake.until(lambda: (os.fsencode(link / "a"), True) in ears.heard)
    (root / "a" / "x.log").write_bytes(b"x")
    ears.wake.until(lambda: (os.fsencode(link / "a"), False) in ears.heard)
    tree.work()
    observer = tree._observer
    assert observer is not None
    for emitter in list(observer.emitters):
        emitter.stop()
        emitter.join(PATIENCE_S)
    with pytest.raises(CannotWatch):
        tree.work()
    observer.join(PATIENCE_S)


def test_a_root_that_cannot_be_observed_is_told(tmp_path: Path) -> None:
    def refuses() -> PollingObserver:
        class Refusing(PollingObserver):
            def start(self) -> None:
                raise OSError("no more streams")

        return Refusing()

    tree = ObservedTree(os.fsencode(tmp_path), Ears(), refuses)
    with pytest.raises(CannotWatch, match="no more streams"):
        tree.survey()
