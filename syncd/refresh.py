"""The library brought up to date: scan, then file anew what changed.

What the commands and the daemon call before they plan. Scanning is the library's, identifying the
works engine's; this only feeds the one to the other, album unit by album unit, and remembers which
engine and which errata the stored identities came from.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import xxhash

from syncd.library.index import LibraryIndex
from syncd.library.scan import Progress, Report, ScanResult, scan
from syncd.library.unsettled import Unsettled
from syncd.model import Identity

if TYPE_CHECKING:
    from syncd.works.errata import Errata

_UNITS_AT_ONCE = 200
_ENGINE = Path(__file__).parent / "works"


@dataclass(frozen=True, slots=True)
class RefreshResult:
    """What a refresh did: the scan's findings, and how many tracks were identified anew."""

    scan: ScanResult
    identified: int


def refresh(
    index: LibraryIndex,
    *,
    deep: bool = False,
    report: Report | None = None,
    errata: "Errata | None" = None,
    leave: Unsettled | None = None,
) -> RefreshResult:
    """Scan the library and identify what the scan, a new engine or new errata touched.

    Folders in *leave* stay as they are known.

    Raises SetupProblem when the index cannot be used; KeyboardInterrupt keeps what was done.
    """
    found = scan(index, deep=deep, report=report, leave=leave)
    return RefreshResult(found, identify_stale(index, report=report, errata=errata))


def identify_stale(
    index: LibraryIndex, *, report: Report | None = None, errata: "Errata | None" = None
) -> int:
    """Identify the album units in which something changed; returns how many tracks that were."""
    made_by = _made_by(errata)
    if index.meta("identities") != made_by:
        index.mark_all_stale()
        index.set_meta("identities", made_by)
    if not index.stale_folders():
        return 0
    from syncd.works.identify import identify, unit_of  # loads the tables, so only when needed

    done = 0
    batch: list[tuple[str, Identity]] = []
    for number, unit in enumerate(index.tagged_units(unit_of), 1):
        batch += zip((file.path for file in unit), identify(unit, errata), strict=True)
        if number % _UNITS_AT_ONCE == 0:
            done += index.set_identities(batch)
            batch = []
        if report is not None:
            report(Progress("identify", done + len(batch), 0))
    done += index.set_identities(batch)
    index.settle()
    return done


def _made_by(errata: "Errata | None") -> str:
    """A digest of what identities depend on besides the files: the engine and the errata.

    The engine is known by its files' names, sizes and times: that costs a few stats where loading
    it would cost more than a whole scan with nothing new, and no version number can be forgotten.
    """
    digest = xxhash.xxh3_128(repr(errata).encode())
    for folder in (_ENGINE, _ENGINE / "data"):
        for path in sorted(folder.iterdir()):
            if path.is_file():
                status = path.stat()
                digest.update(f"{path.name} {status.st_size} {status.st_mtime_ns}\n".encode())
    return digest.hexdigest()
