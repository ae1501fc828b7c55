"""A card's own identity: the small file that makes a volume a card that syncd knows."""

import json
import uuid
from dataclasses import dataclass

from syncd.applier.manifest import FOLDER
from syncd.applier.volume import FolderVolume, Volume
from syncd.errors import CardProblem

CARD_FILE = f"{FOLDER}/card.json"
CARD_FORMAT = 1


@dataclass(frozen=True, slots=True)
class CardIdentity:
    """``id`` is a random UUID made at enrolment; ``name`` is what the listener calls the card."""

    id: str
    name: str


def read_identity(volume: Volume) -> CardIdentity | None:
    """Who this card is; None if it was never enrolled. Raises CardProblem if that is unreadable."""
    raw = volume.read(CARD_FILE)
    if raw is None:
        return None
    try:
        data = json.loads(raw)
        identity = CardIdentity(str(uuid.UUID(data["id"])), str(data["name"]))
        form = int(data["format"])
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise CardProblem(
            f"The file {CARD_FILE} on {volume.name} is damaged ({error}). Enrol the card again "
            "with 'syncd enrol'; what is on it stays."
        ) from error
    if form > CARD_FORMAT:
        raise CardProblem(
            f"The card {identity.name} was enrolled by a newer syncd (format {form}). Update "
            "syncd on this computer; the card was left as it is."
        )
    return identity


def write_identity(volume: FolderVolume, identity: CardIdentity) -> None:
    """Make the volume a card: the only thing that enrolling writes."""
    data = {"syncd": "card", "format": CARD_FORMAT, "id": identity.id, "name": identity.name}
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    aside = CARD_FILE + ".new"
    volume.write(aside, [text.encode("utf-8")])
    volume.barrier()
    volume.remove(CARD_FILE)
    volume.rename(aside, CARD_FILE)
    volume.barrier()


def new_identity(name: str) -> CardIdentity:
    """A new card called *name*."""
    return CardIdentity(str(uuid.uuid4()), name)
