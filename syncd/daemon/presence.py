"""Which volume is which card: pure, from what was seen on the volumes and which cards are known.

Says for each known card where it is, and for every other volume what the listener should know.
"""

import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from syncd.cards import CardRecord
from syncd.daemon.arrivals import FOLDER_KIND, Sighting
from syncd.daemon.mounts import Mount
from syncd.daemon.state import UnknownVolume


@dataclass(frozen=True, slots=True)
class Presence:
    """Where the known cards are, what else is there.

    ``at`` maps card ids to where they are; ``twice`` those that cannot be told from a copy to a
    sentence; ``copies`` has a sentence for each volume that is left alone because a card with the
    same id came before it.
    """

    at: Mapping[str, Mount]
    twice: Mapping[str, str]
    copies: Mapping[str, str]
    unknown: tuple[UnknownVolume, ...] = ()


def presence(
    sightings: Sequence[Sighting], known: Iterable[CardRecord], before: Mapping[str, Mount]
) -> Presence:
    """Make sense of *sightings*. *before* is where the cards were up to now."""
    records = {record.id: record for record in known}
    by_id: dict[str, list[Mount]] = {}
    unknown = []
    for seen in sightings:
        if seen.identity is not None and seen.identity.id in records:
            by_id.setdefault(seen.identity.id, []).append(seen.mount)
        elif (told := _told_of(seen)) is not None:
            unknown.append(UnknownVolume(seen.mount.place, told))
    at: dict[str, Mount] = {}
    twice: dict[str, str] = {}
    copies: dict[str, str] = {}
    for card, mounts in by_id.items():
        record = records[card]
        taken = _the_one(mounts, record, before.get(card))
        # One volume at two places is one card; two volumes with one id are a card and its copy.
        others = [m for m in mounts if taken is None or m.device != taken.device]
        if taken is not None:
            at[card] = taken
            for other in others:
                copies[other.place] = _copy(record, other, taken)
        else:
            twice[card] = _both(record, mounts)
    return Presence(at, twice, copies, tuple(unknown))


def _the_one(mounts: list[Mount], record: CardRecord, before: Mount | None) -> Mount | None:
    """Which of *mounts* is the card; None if that cannot be told."""
    if before is not None and before in mounts:
        return before
    at_last = [mount for mount in mounts if mount.place == record.mount]
    if len({mount.device for mount in mounts}) == 1:
        return (at_last or mounts)[0]
    return None


_REMEDY = (
    "To make a copy a card of its own: syncd enrol {place} --new-id --profile NAME --name TEXT. "
    "What is on it stays."
)


def _copy(record: CardRecord, copy: Mount, taken: Mount) -> str:
    return (
        f"The volume at {copy.place} bears the id of the card {record.name}, which is at "
        f"{taken.place}: it is a copy, and is left as it is. "
        + _REMEDY.format(place=shlex.quote(copy.place))
    )


def _both(record: CardRecord, mounts: list[Mount]) -> str:
    places = " and ".join(sorted(mount.place for mount in mounts))
    return (
        f"More than one volume bears the id of the card {record.name}: {places}. Which is the card "
        "cannot be told, so none is updated. Take out the copy, or: "
        + _REMEDY.format(place="MOUNT")
    )


def _told_of(seen: Sighting) -> str | None:
    """What to say of a volume that is no card of this home; None for what nobody takes for one."""
    place = shlex.quote(seen.mount.place)
    enrol = f"syncd enrol {place} --profile NAME"
    if seen.identity is not None:
        return (
            f"The card {seen.identity.name} at {seen.mount.place} was enrolled at another home and "
            f"is left as it is. To keep it from here as well: {enrol}."
        )
    if seen.damaged:
        return seen.problem
    if not seen.mount.looks_removable and seen.mount.kind != FOLDER_KIND:
        return None
    if seen.problem:
        return seen.problem
    return (
        f"The volume at {seen.mount.place} is no card and is left as it is. To make it one: "
        f"{enrol}."
    )
