"""What several commands do alike, with progress shown: open the index, refresh it, update."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from syncd import at_home
from syncd.at_home import Hand, card_in_hand, forgiving, read_corrections
from syncd.cli.output import Bars, notice
from syncd.errors import SetupProblem
from syncd.library.index import LibraryIndex
from syncd.library.roots import missing
from syncd.library.scan import Progress as ScanProgress
from syncd.model import LibrarySnapshot
from syncd.refresh import RefreshResult, refresh
from syncd.settings import Home

# Updating is imported where it is needed: a scan with nothing new does not need it.
if TYPE_CHECKING:
    from syncd.updating.updater import Updater
    from syncd.updating.values import Progress

__all__ = ("Hand", "card_in_hand", "forgiving", "refreshed", "snapshot", "updater")


def refreshed(home: Home, index: LibraryIndex, bar: Bars, *, deep: bool = False) -> RefreshResult:
    """Bring *index* up to date, with progress, and tell what should be told."""
    errata = read_corrections(home)

    def told(progress: ScanProgress) -> None:
        texts = {"look": "Looking", "read": "Reading", "identify": "Identifying"}
        bar.show(
            progress.stage, texts.get(progress.stage, progress.stage), progress.done, progress.total
        )

    result = refresh(index, deep=deep, report=told, errata=errata)
    for text in result.scan.notices:
        notice(text)
    return result


def snapshot(home: Home, bar: Bars, *, scan: bool) -> LibrarySnapshot:
    """The library as it is now (*scan*), or as the index knows it. Raises SetupProblem."""
    with LibraryIndex(home.made().index_file) as index:
        if not index.roots():
            raise SetupProblem(
                "No library is known yet. Say where your music is: syncd library add DIR."
            )
        if scan:
            refreshed(home, index, bar)
            return index.snapshot()
        # What was unmounted since the last scan must not look as if its files were gone.
        library = index.snapshot()
        away = {*library.away, *missing(index.roots())}
        return replace(library, away=tuple(sorted(away)))


@contextmanager
def updater(home: Home, library: LibrarySnapshot, bar: Bars | None = None) -> "Iterator[Updater]":
    """An updater with this home's store and settings."""

    def told(progress: "Progress") -> None:
        if bar is None:
            return
        words = {"press": "Pressing", "check": "Checking", "measure": "Measuring"}
        words["compare"] = "Reading back"
        text = f"{words.get(progress.stage, 'Writing')} {progress.done}/{progress.total}"
        bar.show(progress.stage, text, progress.bytes_done, progress.bytes_total)

    with at_home.updater(home, library, told) as work:
        yield work
