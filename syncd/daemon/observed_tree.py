"""Other systems than Linux: a root watched by watchdog's own observer for that system.

It watches whole trees by itself; what it tells is taken as which folder changed. That its threads
are still alive is looked at once a minute, since it does not tell when one of them fails.
"""

import os
from collections.abc import Callable

from watchdog.events import (
    EVENT_TYPE_CLOSED_NO_WRITE,
    EVENT_TYPE_OPENED,
    FileSystemEvent,
    FileSystemEventHandler,
)
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver

from syncd.daemon.trees import CannotWatch, Ears, tells


class ObservedTree(FileSystemEventHandler):
    """Everything under *root*. Links within it that lead elsewhere are not followed."""

    def __init__(
        self, root: bytes, ears: Ears, observer: Callable[[], BaseObserver] = Observer
    ) -> None:
        self._root = root
        self._real = root
        self._ears = ears
        self._make = observer
        self._observer: BaseObserver | None = None

    @property
    def sound(self) -> bool:
        """A survey begins anew in any case."""
        return True

    def survey(self) -> None:
        """Watch the root from now on. Raises CannotWatch."""
        self.close()
        self._real = os.path.realpath(self._root)
        made = self._make()
        try:
            made.schedule(self, os.fsdecode(self._real), recursive=True)
            made.start()
        except (OSError, RuntimeError) as error:
            raise CannotWatch(f"the system refuses to watch it ({error})") from error
        self._observer = made

    def work(self) -> None:
        """See that it is still watched. Raises CannotWatch."""
        made = self._observer
        if made is not None and not (
            made.is_alive() and all(each.is_alive() for each in made.emitters)
        ):
            self.close()
            raise CannotWatch("watching it ended by itself")

    def close(self) -> None:
        """Watch nothing any more."""
        made, self._observer = self._observer, None
        if made is not None and made.is_alive():
            made.stop()

    def on_any_event(self, event: FileSystemEvent) -> None:
        """Take what watchdog tells, in its thread."""
        if event.event_type in (EVENT_TYPE_OPENED, EVENT_TYPE_CLOSED_NO_WRITE):
            return
        for path in (event.src_path, event.dest_path):
            if path:
                self._changed(os.fsencode(path), is_folder=event.is_directory)

    def _changed(self, path: bytes, *, is_folder: bool) -> None:
        if path == self._real:
            self._ears.moved()
        elif path.startswith(self._real.rstrip(b"/") + b"/"):
            within = self._root + path[len(self._real) :]
            folder, _, name = within.rpartition(b"/")
            if is_folder:
                self._ears.stirred(within)
            self._ears.stirred(folder, telling=is_folder or tells(name))
