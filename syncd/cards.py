"""The cards that this home knows, and finding one by mount point, name or id.

What a card is for (its profile and programme) is kept at home, a small file a card; on the card is
only who it is.
"""

import contextlib
import json
import os
import shlex
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec
import psutil

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import (
    CARD_FILE,
    LONGEST_NAME,
    CardIdentity,
    IdentityDamaged,
    new_identity,
    read_identity,
    write_identity,
)
from syncd.applier.reading import read_card
from syncd.errors import CardBusy, CardProblem, SetupProblem
from syncd.model import AudioHash
from syncd.settings import Home

# Profiles and programmes are imported where they are read: listing the cards needs neither.
if TYPE_CHECKING:
    from syncd.planner.programme import Programme
    from syncd.profile import Profile

FAT = frozenset({"vfat", "msdos", "fat", "fat32"})
FAT_LARGEST_FILE = (1 << 32) - 1
"""Bytes, FAT specification 1.03."""

_SLOW = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afpfs", "9p", "autofs", "proc", "sysfs"}
)


Auto = Literal["update", "ask first"]


@dataclass(frozen=True, slots=True)
class CardRecord:
    """What this home knows of a card.

    ``profile`` is a name of ours or a path; ``programme`` a path, or None for everything.
    ``mount`` is where it was last seen; ``read_back`` whether what is written to it is read again
    and compared.

    ``auto`` says what the daemon does when the card arrives, ``unmount`` whether it is unmounted
    when that is done.
    """

    id: str
    name: str
    profile: str
    programme: str | None = None
    mount: str = ""
    read_back: bool = True
    auto: Auto = "update"
    unmount: bool = False

    def read_profile(self) -> "Profile":
        """The card's player profile. Raises SetupProblem."""
        from syncd.profile import find_profile, read_profile

        return read_profile(find_profile(self.profile))

    def read_programme(self) -> "Programme":
        """The card's programme. Raises SetupProblem."""
        from syncd.planner.programme import EVERYTHING, read_programme

        return EVERYTHING if self.programme is None else read_programme(Path(self.programme))


def records(home: Home) -> list[CardRecord]:
    """All cards that are known, in order of their names. One damaged record hides no other card."""
    found = [record for _, record in _read_records(home) if isinstance(record, CardRecord)]
    return sorted(found, key=lambda record: (record.name.casefold(), record.id))


def damaged_records(home: Home) -> list[str]:
    """A sentence for each record that cannot be read, with the remedy."""
    return [
        f"The card record {path} {fault}. Enrol that card again with 'syncd enrol'; what is on the "
        "card stays."
        for path, fault in _read_records(home)
        if isinstance(fault, str)
    ]


def _read_records(home: Home) -> Iterator[tuple[Path, CardRecord | str]]:
    for path in sorted(home.cards.glob("*.json")):
        try:
            yield path, msgspec.json.decode(path.read_bytes(), type=CardRecord)
        except OSError as error:
            yield path, f"cannot be read ({error.strerror})"
        except (msgspec.MsgspecError, UnicodeDecodeError):
            yield path, "is damaged"


def save(home: Home, record: CardRecord) -> None:
    """Keep *record*, replacing an older one of the same card."""
    path = home.made().cards / f"{record.id}.json"
    aside = path.with_suffix(".new")
    aside.write_text(json.dumps(asdict(record), indent=1, ensure_ascii=False) + "\n", "utf-8")
    aside.replace(path)


def enrol(
    home: Home,
    mount: Path,
    profile: str,
    name: str | None = None,
    programme: str | None = None,
    *,
    everything: bool = False,
    read_back: bool | None = None,
    auto: Auto | None = None,
    unmount: bool | None = None,
    new_id: bool = False,
) -> CardRecord:
    """Make the volume at *mount* a card for *profile*. Nothing that is on it is touched.

    A card that was enrolled before, here or elsewhere, keeps its id, and its files stay ours. With
    *new_id* it becomes a card of its own, as a copy of another one must, and its files stay ours.
    *programme*, *read_back*, *auto* and *unmount* are as in :class:`CardRecord`; None keeps what
    was said before. With *everything* the card has no programme any more. Raises SetupProblem for
    arguments that do not fit, CardProblem when it cannot be written.
    """
    from syncd.planner.programme import read_programme
    from syncd.profile import find_profile, read_profile, sample_profiles

    if not mount.is_dir():
        raise SetupProblem(f"{mount} is not a folder. Give the folder where the card is mounted.")
    kept_profile = profile if profile in sample_profiles() else str(find_profile(profile))
    read_profile(find_profile(kept_profile))
    kept_programme = None
    if programme is not None:
        kept_programme = str(Path(programme).expanduser().absolute())
        read_programme(Path(kept_programme))
    with FolderVolume(mount) as volume:
        known: CardIdentity | None = None
        damaged = False
        try:
            known = read_identity(volume)
        except IdentityDamaged:
            damaged = True
        if (known is not None or damaged) and not volume.lock(CARD_FILE):
            raise CardBusy(
                f"Another syncd is at work on the card at {mount}. Wait until it has finished."
            )
        if known is not None and not new_id:
            before = next((other.mount for other in records(home) if other.id == known.id), "")
            refuse_copies(known.id, known.name, [mount, *([Path(before)] if before else [])])
        wanted = (name or (known.name if known else mount.absolute().name) or "CARD").strip()
        if not wanted or not wanted.isprintable() or len(wanted) > LONGEST_NAME:
            raise SetupProblem(
                f"A card's name must have letters, at most {LONGEST_NAME}, and no control "
                "characters. Give another one with --name."
            )
        others = [other for other in records(home) if other.name.casefold() == wanted.casefold()]
        if known is None and damaged:
            # It was a card once; if one of that name was last seen right here, it is that one.
            known = next(
                (
                    CardIdentity(other.id, wanted)
                    for other in others
                    if other.mount == str(mount.absolute())
                ),
                None,
            )
        identity = new_identity(wanted)
        if known is not None and not new_id:
            identity = CardIdentity(known.id, wanted)
        for other in others:
            if other.id != identity.id:
                raise SetupProblem(
                    f"Another card is called {other.name} already. Give this one another name "
                    "with --name. If it is that one and its folder SYNCD was lost, or that one is "
                    f"no more: syncd cards --forget {other.id}, then enrol it again."
                )
        if damaged or identity != known:
            write_identity(volume, identity)
    earlier = next((other for other in records(home) if other.id == identity.id), None)
    if kept_programme is None and not everything and earlier is not None:
        kept_programme = earlier.programme
    record = CardRecord(
        identity.id,
        identity.name,
        kept_profile,
        kept_programme,
        str(mount.absolute()),
        read_back if read_back is not None else earlier is None or earlier.read_back,
        auto=auto or (earlier.auto if earlier else "update"),
        unmount=unmount if unmount is not None else bool(earlier and earlier.unmount),
    )
    save(home, record)
    return record


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


def places_of(
    card_id: str, hints: Iterable[Path], mounted: Iterable[tuple[Path, CardIdentity]] | None = None
) -> list[Path]:
    """Where volumes with this id are now, among *hints* and *mounted* ones.

    More than one are a card and its copies; one volume counts once, wherever it is mounted.
    """
    found: dict[tuple[int, int], Path] = {}
    mounted = mounted_cards() if mounted is None else mounted
    for place in (*hints, *(mount for mount, identity in mounted if identity.id == card_id)):
        with contextlib.suppress(OSError):
            facts = place.stat()
            key = (facts.st_dev, facts.st_ino)
            if key not in found:
                identity = identity_at(place)
                if identity is not None and identity.id == card_id:
                    found[key] = place.absolute()
    return list(found.values())


def refuse_copies(card_id: str, name: str, hints: Iterable[Path]) -> None:
    """Raises CardProblem where two volumes with one id are plugged in: a card and its copy."""
    places = places_of(card_id, hints)
    if len(places) < 2:
        return
    raise CardProblem(
        f"{name} is plugged in twice, at {places[0]} and at {places[1]}: one is a copy of the "
        "other, with the same id. Nothing was written to either. Take one out, or make the copy a "
        f"card of its own: syncd enrol {places[1]} --new-id --profile NAME --name TEXT. What is on "
        "it stays."
    )


def where(record: CardRecord, mounted: dict[str, Path] | None = None) -> Path | None:
    """Where *record*'s card is now; None if it is not plugged in."""
    if record.mount:
        identity = identity_at(Path(record.mount))
        if identity is not None and identity.id == record.id:
            return Path(record.mount)
    if mounted is None:
        mounted = {identity.id: mount for mount, identity in mounted_cards()}
    return mounted.get(record.id)


def record_at(home: Home, place: Path) -> CardRecord | None:
    """The record of the card that is at *place*; None where no card is.

    Raises SetupProblem when that card is not known here, CardProblem when it cannot be read.
    """
    with FolderVolume(place) as volume:
        identity = read_identity(volume)
    if identity is None:
        return None
    for record in records(home):
        if record.id == identity.id:
            return record
    _tell_damaged(home, identity.id)
    raise SetupProblem(
        f"The card {identity.name} at {place} was enrolled at another home. Enrol it "
        f"here as well: syncd enrol {place} --profile NAME. What is on it stays."
    )


def seen_at(home: Home, record: CardRecord, place: Path) -> CardRecord:
    """*record*, kept with *place* as where its card was seen last."""
    here = str(place.absolute())
    if record.mount != here:
        record = replace(record, mount=here)
        save(home, record)
    return record


def find(home: Home, card: str) -> tuple[CardRecord, Path]:
    """The card that *card* means (mount point, name or id), and where it is.

    Raises SetupProblem when it is not known here, CardProblem when it is not plugged in.
    """
    known = records(home)
    place = Path(card).expanduser()
    if place.is_dir():
        record = record_at(home, place)
        if record is not None:
            refuse_copies(record.id, record.name, [*_last(record), place])
            return seen_at(home, record, place), place.absolute()
        if not any(card in (record.name, record.id) for record in known):
            raise SetupProblem(
                f"{place} is a folder, but no card: it was never enrolled. To make it one: "
                f"syncd enrol {place} --profile NAME."
            )
    named = [
        record for record in known if record.id == card or record.name.casefold() == card.casefold()
    ]
    if len(named) > 1 and card not in {record.id for record in named}:
        ids = ", ".join(record.id for record in named)
        raise SetupProblem(
            f"More than one card is called '{card}' ({ids}). Give its mount point or its id."
        )
    if not named:
        _tell_damaged(home, card)
        names = ", ".join(record.name for record in known) or "none yet"
        raise SetupProblem(f"No card is called '{card}'. Cards known here: {names}.")
    mount = where(named[0])
    if mount is None:
        raise _away(named[0])
    refuse_copies(named[0].id, named[0].name, [*_last(named[0]), mount])
    return named[0], mount


def forget(home: Home, card: str) -> CardRecord:
    """Forget the card that *card* means (name or id); what is on it stays. Raises SetupProblem."""
    known = records(home)
    named = [record for record in known if record.id == card] or [
        record for record in known if record.name.casefold() == card.casefold()
    ]
    if len(named) != 1:
        names = ", ".join(f"{record.name} ({record.id})" for record in known) or "none"
        what = f"More than one card is called '{card}'" if named else f"No card is called '{card}'"
        raise SetupProblem(f"{what}. Give a name or an id of these: {names}.")
    for suffix in (".json", ".held"):
        (home.cards / f"{named[0].id}{suffix}").unlink(missing_ok=True)
    return named[0]


def _away(record: CardRecord) -> CardProblem:
    """That *record*'s card is not plugged in, and what is where it was last seen."""
    there = Path(record.mount or "/nowhere")
    seen = f"last seen at {record.mount}"
    if there.is_dir():
        try:
            with FolderVolume(there, record.name) as volume:
                other = read_identity(volume)
        except CardProblem as problem:  # damaged, or of a newer form: it may be this very card
            return problem
        if other is not None:
            seen += f", where {other.name} is now"
        elif _holds_something(there):
            seen += (
                f", where there is no folder SYNCD now; if that is {record.name}, and the folder "
                f"was lost: syncd cards --forget {shlex.quote(record.name)}, then enrol it again"
            )
    return CardProblem(
        f"The card {record.name} is not plugged in ({seen}). Plug it in and mount it, or give its "
        "mount point."
    )


def _holds_something(folder: Path) -> bool:
    with contextlib.suppress(OSError):
        return any(folder.iterdir())
    return False


def _last(record: CardRecord) -> list[Path]:
    return [Path(record.mount)] if record.mount else []


def _tell_damaged(home: Home, card: str) -> None:
    """Raises SetupProblem where a damaged record may be the one of *card*, which nobody knows."""
    damaged = damaged_records(home)
    same = [text for text in damaged if f"{card}.json" in text] or damaged
    if same:
        raise SetupProblem(same[0])


def needed_pressings(home: Home) -> frozenset[tuple[AudioHash, str]]:
    """The pressings of which the cards that are plugged in hold files.

    They are not needed to play a card, but to repair it and to dress its files anew. Raises
    CardProblem where it cannot be known.
    """
    needed: set[tuple[AudioHash, str]] = set()
    mounted = {identity.id: mount for mount, identity in mounted_cards()}
    for record in records(home):
        mount = where(record, mounted)
        if mount is None:
            continue
        with FolderVolume(mount, record.name) as volume:
            reading = read_card(volume)
        if reading.manifest_lost:
            raise CardProblem(
                f"What the card {record.name} holds is not known: its manifest is damaged. Update "
                "it first, or take it out."
            )
        entries = (*reading.state.entries, *reading.state.missing)
        needed |= {(AudioHash(entry.source.audio), entry.source.recipe) for entry in entries}
    return frozenset(needed)


def largest_file(mount: Path) -> int | None:
    """The largest file that the file system at *mount* holds, in bytes; None without such limit."""
    best = ""
    kind = ""
    for part in psutil.disk_partitions(all=True):
        if mount.is_relative_to(part.mountpoint) and len(part.mountpoint) >= len(best):
            best, kind = part.mountpoint, part.fstype
    return FAT_LARGEST_FILE if kind.lower() in FAT else None
