"""What the listener and the commands change at home while the daemon runs, and how it is noticed.

Sizes and times of files are compared with those of the last look. A broken edit is told, and what
was in force before stays in force, also for the jobs: they get a copy of the settings that are.
"""

import contextlib
import shutil
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from syncd import cards
from syncd.cards import CardRecord
from syncd.errors import SetupProblem, SyncdError
from syncd.profile import sample_profiles
from syncd.settings import Home
from syncd.settings_file import Settings

SETTINGS = "The settings cannot be used"
_OLD_ONES = "The settings from before stay in force."
DAMAGED = "The record of a card is damaged"

JOBS_SCRATCH = "scratch/jobs"
"""Where the daemon's jobs make what they need on the way, below the state's folder."""

_OLD_S = 2 * 86_400.0

Print = tuple[tuple[str, int, int, int], ...]


def print_of(paths: Iterable[Path]) -> Print:
    """How *paths* look from outside now. A file that is not there looks like nothing."""
    seen = []
    for path in paths:
        try:
            facts = path.stat()
        except OSError:
            continue
        seen.append((str(path), facts.st_size, facts.st_mtime_ns, facts.st_ino))
    return tuple(seen)


@dataclass(frozen=True, slots=True)
class Changes:
    """What a look round found: whether settings or library changed, the ids of changed cards."""

    settings: bool = False
    library: bool = False
    cards: frozenset[str] = frozenset()


class Household:
    """The files at home. Raises SetupProblem when made with settings that are wrong.

    ``settings`` are those in force, ``known`` the cards, ``problems`` what is wrong now under its
    title, ``for_jobs`` the home as a job is to see it.
    """

    def __init__(self, home: Home) -> None:
        self.home = home.made()
        self.settings: Settings = home.settings()
        self.known: list[CardRecord] = cards.records(home)
        self.problems: dict[str, str] = {}
        self.for_jobs = replace(home, settings_file=home.state / "settings-in-force.toml")
        self._settings_print = print_of([home.settings_file])
        self._library_print = self._library()
        self._card_prints = {record.id: _card_print(record) for record in self.known}
        try:
            self._keep_settings()
        except SetupProblem as problem:  # a full disk, say: the jobs have those from before
            self.problems[SETTINGS] = f"{problem}\n{_OLD_ONES}"
        self._tell_damaged()

    def look_round(self, *, library: bool) -> Changes:
        """What changed since the last look; *library*: also look at the index and the errata.

        To be left out while a job of the daemon itself changes them.
        """
        changed_library = False
        if library:
            now = self._library()
            changed_library = now != self._library_print
            self._library_print = now
        return Changes(self._read_settings(), changed_library, self._read_cards())

    def sweep(self) -> None:
        """Remove what jobs that were killed have left. To be called while none runs.

        What lies beside may be a command's that is at work just now, unless it is old.
        """
        shutil.rmtree(self.home.state / JOBS_SCRATCH, ignore_errors=True)
        with contextlib.suppress(OSError):
            for path in (self.home.state / JOBS_SCRATCH).parent.iterdir():
                if path.lstat().st_mtime < time.time() - _OLD_S:
                    shutil.rmtree(path, ignore_errors=True)

    def believe_library(self) -> None:
        """Take the index and the errata as they are now for known."""
        self._library_print = self._library()

    def _library(self) -> Print:
        index = self.home.index_file
        return print_of((index, index.with_name(index.name + "-wal"), self.home.errata_file))

    def _read_settings(self) -> bool:
        now = print_of([self.home.settings_file])
        if now == self._settings_print and SETTINGS not in self.problems:
            return False
        self._settings_print = now
        try:
            settings = self.home.settings()
            self._keep_settings()
        except SyncdError as problem:
            self.problems[SETTINGS] = f"{problem}\n{_OLD_ONES}"
            return False
        self.problems.pop(SETTINGS, None)
        changed = settings != self.settings
        self.settings = settings
        return changed

    def _keep_settings(self) -> None:
        copy = self.for_jobs.settings_file
        try:
            text = self.home.settings_file.read_bytes()
        except FileNotFoundError:
            text = b""
        with contextlib.suppress(OSError):
            if copy.read_bytes() == text:
                return
        try:
            aside = copy.with_suffix(".new")
            aside.write_bytes(text)
            aside.replace(copy)
        except OSError as error:
            raise SetupProblem(
                f"{copy} cannot be written: {error.strerror}. Make that folder writable and see "
                "that there is room."
            ) from error

    def _read_cards(self) -> frozenset[str]:
        self.known = cards.records(self.home)
        self._tell_damaged()
        now = {record.id: _card_print(record) for record in self.known}
        changed = {card for card, seen in now.items() if self._card_prints.get(card) != seen}
        self._card_prints = now
        return frozenset(changed)

    def _tell_damaged(self) -> None:
        damaged = cards.damaged_records(self.home)
        self.problems.pop(DAMAGED, None)
        if damaged:
            self.problems[DAMAGED] = "\n".join(damaged)


def _card_print(record: CardRecord) -> tuple[CardRecord, Print]:
    """What a card depends on besides the library. Where it was last seen is no part of that."""
    paths = [] if record.programme is None else [Path(record.programme)]
    if record.profile not in sample_profiles():
        paths.append(Path(record.profile))
    return replace(record, mount=""), print_of(paths)
