"""The cards that this home knows, and finding one by mount point, name or id.

What a card is for (its profile and programme) is kept at home, a small file a card; on the card is
only who it is.
"""

import contextlib
import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import psutil

from syncd.applier.identity import (
    CARD_FILE,
    CardIdentity,
    new_identity,
    read_identity,
    write_identity,
)
from syncd.applier.volume import FolderVolume
from syncd.errors import CardProblem, SetupProblem
from syncd.planner.programme import EVERYTHING, Programme, read_programme
from syncd.profile import Profile, find_profile, read_profile, sample_profiles
from syncd.settings import Home

FAT = frozenset({"vfat", "msdos", "fat", "fat32"})
FAT_LARGEST_FILE = (1 << 32) - 1
"""Bytes, FAT specification 1.03."""

_SLOW = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afpfs", "9p", "autofs", "proc", "sysfs"}
)


@dataclass(frozen=True, slots=True)
class CardRecord:
    """What this home knows of a card.

    ``profile`` is a name of ours or a path; ``programme`` a path, or None for everything.
    ``mount`` is where it was last seen.
    """

    id: str
    name: str
    profile: str
    programme: str | None = None
    mount: str = ""

    def read_profile(self) -> Profile:
        """The card's player profile. Raises SetupProblem."""
        return read_profile(find_profile(self.profile))

    def read_programme(self) -> Programme:
        """The card's programme. Raises SetupProblem."""
        return EVERYTHING if self.programme is None else read_programme(Path(self.programme))


def records(home: Home) -> list[CardRecord]:
    """All cards that are known, in order of their names. Raises SetupProblem for a damaged one."""
    found = []
    for path in sorted(home.cards.glob("*.json")):
        try:
            found.append(CardRecord(**json.loads(path.read_text("utf-8"))))
        except (OSError, ValueError, TypeError) as error:
            raise SetupProblem(
                f"The card record {path} is damaged ({error}). Remove that file and enrol the "
                "card again; what is on the card stays."
            ) from error
    return sorted(found, key=lambda record: (record.name.casefold(), record.id))


def save(home: Home, record: CardRecord) -> None:
    """Keep *record*, replacing an older one of the same card."""
    path = home.made().cards / f"{record.id}.json"
    aside = path.with_suffix(".new")
    aside.write_text(json.dumps(asdict(record), indent=1, ensure_ascii=False) + "\n", "utf-8")
    aside.replace(path)


def enrol(
    home: Home, mount: Path, profile: str, name: str | None = None, programme: str | None = None
) -> CardRecord:
    """Make the volume at *mount* a card for *profile*. Nothing that is on it is touched.

    A card that was enrolled before, here or elsewhere, keeps its id, and its files stay ours.
    Raises SetupProblem for arguments that do not fit, CardProblem when it cannot be written.
    """
    if not mount.is_dir():
        raise SetupProblem(f"{mount} is not a folder. Give the folder where the card is mounted.")
    kept_profile = profile if profile in sample_profiles() else str(find_profile(profile))
    read_profile(find_profile(kept_profile))
    kept_programme = None
    if programme is not None:
        kept_programme = str(Path(programme).expanduser().absolute())
        read_programme(Path(kept_programme))
    with FolderVolume(mount) as volume:
        with contextlib.suppress(CardProblem):
            known = read_identity(volume)
            if known is not None and name in (None, known.name):
                record = CardRecord(
                    known.id, known.name, kept_profile, kept_programme, str(mount.absolute())
                )
                save(home, record)
                return record
        known_id = _known_id(volume)
        wanted = (name or mount.absolute().name or "CARD").strip()
        if not wanted or any(ord(letter) < 32 for letter in wanted):
            raise SetupProblem("A card's name must have letters, and no control characters.")
        identity = CardIdentity(known_id, wanted) if known_id else new_identity(wanted)
        for other in records(home):
            if other.name.casefold() == wanted.casefold() and other.id != identity.id:
                raise SetupProblem(
                    f"Another card is called {other.name} already. Give this one another name "
                    "with --name."
                )
        write_identity(volume, identity)
    record = CardRecord(
        identity.id, identity.name, kept_profile, kept_programme, str(mount.absolute())
    )
    save(home, record)
    return record


def _known_id(volume: FolderVolume) -> str | None:
    with contextlib.suppress(CardProblem):
        known = read_identity(volume)
        return known.id if known is not None else None
    return None


def mounted_cards() -> Iterator[tuple[Path, CardIdentity]]:
    """Mounted volumes that bear a card's identity. Network file systems are not asked."""
    for part in psutil.disk_partitions(all=True):
        if part.fstype in _SLOW or not os.path.isfile(os.path.join(part.mountpoint, CARD_FILE)):  # noqa: PTH113, PTH118
            continue
        identity = identity_at(Path(part.mountpoint))
        if identity is not None:
            yield Path(part.mountpoint), identity


def identity_at(mount: Path) -> CardIdentity | None:
    """Who the card at *mount* is; None if there is none, or it cannot be read."""
    with contextlib.suppress(CardProblem), FolderVolume(mount) as volume:
        return read_identity(volume)
    return None


def where(record: CardRecord, mounted: dict[str, Path] | None = None) -> Path | None:
    """Where *record*'s card is now; None if it is not plugged in."""
    if record.mount:
        identity = identity_at(Path(record.mount))
        if identity is not None and identity.id == record.id:
            return Path(record.mount)
    if mounted is None:
        mounted = {identity.id: mount for mount, identity in mounted_cards()}
    return mounted.get(record.id)


def find(home: Home, card: str) -> tuple[CardRecord, Path]:
    """The card that *card* means (mount point, name or id), and where it is.

    Raises SetupProblem when it is not known here, CardProblem when it is not plugged in.
    """
    known = records(home)
    place = Path(card).expanduser()
    if place.is_dir():
        identity = None
        with FolderVolume(place) as volume:
            identity = read_identity(volume)
        if identity is not None:
            record = next((record for record in known if record.id == identity.id), None)
            if record is None:
                raise SetupProblem(
                    f"The card {identity.name} at {place} was enrolled at another home. Enrol it "
                    f"here as well: syncd enrol {place} --profile NAME. What is on it stays."
                )
            here = str(place.absolute())
            if record.mount != here:
                record = replace(record, mount=here)
                save(home, record)
            return record, place.absolute()
        if not any(card in (record.name, record.id) for record in known):
            raise SetupProblem(
                f"{place} is a folder, but no card: it was never enrolled. To make it one: "
                f"syncd enrol {place} --profile NAME."
            )
    named = [
        record for record in known if record.id == card or record.name.casefold() == card.casefold()
    ]
    if not named:
        names = ", ".join(record.name for record in known) or "none yet"
        raise SetupProblem(f"No card is called '{card}'. Cards known here: {names}.")
    mount = where(named[0])
    if mount is None:
        raise CardProblem(
            f"The card {named[0].name} is not plugged in (last seen at {named[0].mount}). "
            "Plug it in and mount it, or give its mount point."
        )
    return named[0], mount


def largest_file(mount: Path) -> int | None:
    """The largest file that the file system at *mount* holds, in bytes; None without such limit."""
    best = ""
    kind = ""
    for part in psutil.disk_partitions(all=True):
        if mount.is_relative_to(part.mountpoint) and len(part.mountpoint) >= len(best):
            best, kind = part.mountpoint, part.fstype
    return FAT_LARGEST_FILE if kind.lower() in FAT else None
