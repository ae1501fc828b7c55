"""What the library's damaged files are, for the commands that tell of them."""

from dataclasses import dataclass

from syncd.cli.work import forgiving
from syncd.model import LibrarySnapshot
from syncd.settings import Home


@dataclass(frozen=True, slots=True)
class DamagedFile:
    """A damaged file: what is wrong, where (seconds into it, None where unknown), if it is used."""

    path: str
    reason: str
    at_s: float | None
    used: bool


def damaged_files(home: Home, library: LibrarySnapshot) -> list[DamagedFile]:
    """The tracks of *library* that are known to be damaged, in path order. Raises SetupProblem."""
    if not (home.store / "checks.db").exists():
        return []
    from syncd.transcoder.checks import Checks

    notices: list[str] = []
    checks = Checks(home.store, notices)
    try:
        known = checks.damaged()
    finally:
        checks.close()
    if not known:
        return []
    forgives = forgiving(home)
    found = []
    for entry in library.tracks:
        track = entry.track
        damage = known.get(track.audio_hash)
        if damage is not None:
            reason = damage.sentence(track.address)
            found.append(DamagedFile(track.address, reason, damage.at_s, forgives(track)))
    return sorted(found, key=lambda each: each.path)
