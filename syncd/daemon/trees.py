"""Ways to see that something changes under one root: what they share, and the one by polling.

``inotify_tree`` is that of Linux, ``observed_tree`` that of other systems. Which one a root gets,
``watcher`` decides. Folders are bytes, as the file system has them.
"""

import os
from collections.abc import Callable, Iterator
from typing import Protocol

from syncd.library.kinds import AUDIO_SUFFIXES, FOREIGN_SUFFIXES
from syncd.library.walk import is_rubbish

_TELLING = frozenset(
    suffix[1:].encode()
    for suffix in {*AUDIO_SUFFIXES, *FOREIGN_SUFFIXES, ".cue", ".jpg", ".jpeg", ".png"}
)


def tells(name: bytes) -> bool:
    """Whether a file of this name can matter to the library."""
    return name.rpartition(b".")[2].lower() in _TELLING


class Ears(Protocol):
    """Who is told what a tree sees. From any thread; quick."""

    def stirred(self, folder: bytes, *, telling: bool = True) -> None:
        """Something in *folder* changed; not *telling*: only something that is no music."""
        ...

    def lost(self) -> None:
        """Events were lost: anything may have changed, and folders may be unwatched."""
        ...

    def moved(self) -> None:
        """The root itself may be gone or another."""
        ...

    def work(self) -> None:
        """There is something for :meth:`Tree.work` to do."""
        ...


class Tree(Protocol):
    """Watches the folders under a root. All methods but ``close`` may wait for the disk."""

    @property
    def sound(self) -> bool:
        """Whether a survey mends it; else another must be made."""
        ...

    def survey(self) -> None:
        """Watch every folder that is there now. Raises CannotWatch."""
        ...

    def work(self) -> None:
        """Do what could not be done when it was heard of. Raises CannotWatch."""
        ...

    def close(self) -> None:
        """Watch nothing any more."""
        ...


class CannotWatch(Exception):
    """The system does not tell of changes here; the text says why, and what helps."""


def subfolders(folder: bytes, links: list[bytes]) -> Iterator[bytes]:
    """The folders in *folder* that the scan looks into; links to folders go into *links*."""
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.is_dir(follow_symlinks=False):
                    if not is_rubbish(entry.name):
                        yield entry.path
                elif entry.is_symlink() and _leads_to_folder(entry):
                    links.append(entry.path)
    except OSError:
        return  # gone since, or not for us: the scan tells


def _leads_to_folder(entry: os.DirEntry[bytes]) -> bool:
    try:
        return entry.is_dir()
    except OSError:
        return False


def look_of(folder: bytes) -> int:
    """How *folder* looks: a number that is another when a name, size or time in it is."""
    try:
        with os.scandir(folder) as entries:
            seen = []
            for entry in entries:
                facts = entry.stat(follow_symlinks=False)
                folder_like = entry.is_dir(follow_symlinks=False)
                # what goes on in a folder within is that folder's affair
                seen.append((entry.name, *(() if folder_like else _facts(facts))))
    except OSError as error:
        return -(error.errno or 1)
    return hash(frozenset(seen))


def _facts(facts: os.stat_result) -> tuple[int, int, int]:
    return facts.st_size, facts.st_mtime_ns, facts.st_ino


class PolledTree:
    """Sees by the times of the folders what came, went or was renamed in them.

    That costs one stat a folder, and none a file. Files that are written in place do not show: for
    them, and for all that is missed, the library is scanned now and then.
    """

    def __init__(
        self, root: bytes, ears: Ears, listing: Callable[[bytes], os.stat_result] = os.stat
    ) -> None:
        self._root = root
        self._ears = ears
        self._stat = listing
        self._times: dict[bytes, tuple[int, tuple[int, int]]] = {}
        self._real: dict[tuple[int, int], bytes] = {}

    @property
    def sound(self) -> bool:
        return True

    def survey(self) -> None:
        self._times, self._real = {}, {}
        self._enter([self._root], tell=False)

    def work(self) -> None:
        """Look whether a folder's time is another than before."""
        new: list[bytes] = []
        for folder, (before, key) in list(self._times.items()):
            try:
                facts = self._stat(folder)
            except OSError:
                del self._times[folder]
                if self._real.get(key) == folder:
                    del self._real[key]
                self._ears.stirred(folder)
                if folder == self._root:
                    self._ears.moved()
                    return
                continue
            now = (facts.st_mtime_ns, (facts.st_dev, facts.st_ino))
            if now != (before, key):  # another folder of the same time may have come in its place
                self._times[folder] = now
                if now[1] != key:
                    if self._real.get(key) == folder:
                        del self._real[key]
                    self._real[now[1]] = folder
                self._ears.stirred(folder)
                new.append(folder)
        for folder in new:
            self._enter(self._within(folder), tell=True)

    def close(self) -> None:
        self._times, self._real = {}, {}

    def _within(self, folder: bytes) -> list[bytes]:
        links: list[bytes] = []
        return [*subfolders(folder, links), *links]

    def _enter(self, waiting: list[bytes], *, tell: bool) -> None:
        links: list[bytes] = []
        while waiting or links:
            folder = waiting.pop() if waiting else links.pop()
            if folder in self._times:
                continue
            try:
                facts = self._stat(folder)
            except OSError:
                continue
            key = (facts.st_dev, facts.st_ino)
            known = self._real.setdefault(key, folder)
            if known != folder:
                if known in self._times and self._is_there(known, facts):
                    continue  # a link to what is looked at already
                self._real[key] = folder
            self._times[folder] = (facts.st_mtime_ns, key)
            if tell:
                self._ears.stirred(folder)
            waiting += subfolders(folder, links)

    def _is_there(self, folder: bytes, facts: os.stat_result) -> bool:
        try:
            now = self._stat(folder)
        except OSError:
            return False
        return (now.st_dev, now.st_ino) == (facts.st_dev, facts.st_ino)
