"""What can be told while no daemon runs: from the files at home, and from what is plugged in."""

import contextlib
import fcntl
import os
from pathlib import Path

from syncd import cards
from syncd.daemon.state import CardNow, CardStage, LibraryNow, State
from syncd.errors import SyncdError
from syncd.library.index import LibraryIndex
from syncd.settings import Home


def state_without_daemon(home: Home) -> State:
    """Cards, library and problems as the files of *home* have them; pid and start are 0.

    What cannot be read is one of the problems.
    """
    problems = list(cards.damaged_records(home))
    if os.path.lexists(home.settings_file):  # to check it costs as much as all the rest
        try:
            home.settings()
        except SyncdError as problem:
            problems.append(str(problem))
    known = cards.records(home)
    mounted = list(cards.mounted_cards()) if known else []
    listed = []
    for record in known:
        hints = [Path(record.mount)] if record.mount else []
        places = cards.places_of(record.id, hints, mounted)
        stage, message = CardStage.AWAY, ""
        if len(places) > 1:
            both = " and ".join(map(str, places))
            stage, message = CardStage.TWICE, f"It is at {both}: one is a copy. Take one out."
        elif places:
            stage = CardStage.WAITING
        place = str(places[0]) if places else ""
        listed.append(CardNow(record.id, record.name, stage, place, message))
    return State(0, 0.0, tuple(listed), library=_library(home, problems), problems=tuple(problems))


def _library(home: Home, problems: list[str]) -> LibraryNow:
    if not home.index_file.exists():
        return LibraryNow(message="No library is known yet: syncd library add DIR.")
    roots: tuple[str, ...] = ()
    lock = home.try_lock()
    if lock is None:
        return LibraryNow(message="A command is at work on it.")
    try:
        with LibraryIndex(home.index_file) as index:
            roots = tuple(map(str, index.roots()))
    except SyncdError as problem:
        problems.append(str(problem))
    finally:
        os.close(lock)
    away = tuple(root for root in roots if not os.path.isdir(root))  # noqa: PTH112
    message = "" if roots else "No library is known yet: syncd library add DIR."
    return LibraryNow(roots, away, message=message)


def seems_to_run(home: Home) -> bool:
    """Whether a daemon holds its lock, though it may not answer."""
    with contextlib.suppress(OSError):
        fd = os.open(home.state / "daemon.lock", os.O_RDONLY | os.O_CLOEXEC)
        try:
            fcntl.flock(fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
        finally:
            os.close(fd)
    return False
