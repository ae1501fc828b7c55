"""A card's own identity: the small file that makes a volume a card that syncd knows."""

import json
import uuid
from dataclasses import dataclass

from syncd.applier.free_clusters import look_at
from syncd.applier.manifest import FOLDER
from syncd.applier.volume import Volume
from syncd.errors import CardProblem

CARD_FILE = f"{FOLDER}/card.json"
CARD_FILE_NEW = f"{FOLDER}/card.json.new"
CARD_FORMAT = 1
LONGEST_NAME = 100
"""Letters of a card's name."""


class IdentityDamaged(CardProblem):
    """The card's own file cannot be understood: who it is must be told anew."""


@dataclass(frozen=True, slots=True)
class CardIdentity:
    """``id`` is a random UUID made at enrolment; ``name`` is what the listener calls the card."""

    id: str
    name: str


def read_identity(volume: Volume) -> CardIdentity | None:
    """Who this card is; None if it was never enrolled.

    Raises IdentityDamaged if that cannot be understood, other CardProblems for a card of a newer
    form or one that cannot be read.
    """
    raw = volume.read(CARD_FILE)
    if raw is None:
        return None
    try:
        return _decode(raw, volume.name)
    except IdentityDamaged:
        # A cut while it was written anew: the new one lies whole beside it.
        aside = volume.read(CARD_FILE_NEW)
        if aside is None:
            raise
        return _decode(aside, volume.name)


def _decode(raw: bytes, card: str) -> CardIdentity:
    try:
        data = json.loads(raw)
        form = int(data["format"])
        if form > CARD_FORMAT:  # before anything else: what more a newer one holds is not known
            raise CardProblem(
                f"The card at {card} was enrolled by a newer syncd (format {form}). Update syncd "
                "on this computer; the card was left as it is."
            )
        name = "".join(letter for letter in str(data["name"]) if letter.isprintable())
        return CardIdentity(str(uuid.UUID(data["id"])), name[:LONGEST_NAME])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise IdentityDamaged(
            f"The file {CARD_FILE} on {card} is damaged. Enrol the card again with 'syncd enrol', "
            "under the same name; what is on it stays."
        ) from error


def write_identity(volume: Volume, identity: CardIdentity) -> None:
    """Make the volume a card: the only thing that enrolling writes.

    Twice, a barrier between: at each instant one of the two is whole. Raises CardProblem.
    """
    data = {"syncd": "card", "format": CARD_FORMAT, "id": identity.id, "name": identity.name}
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    look_at(volume, (CARD_FILE_NEW, CARD_FILE))
    for path in (CARD_FILE_NEW, CARD_FILE):
        volume.write(path, [text.encode("utf-8", "replace")])
        volume.barrier()
    volume.remove(CARD_FILE_NEW)
    volume.barrier()


def new_identity(name: str) -> CardIdentity:
    """A new card called *name*."""
    return CardIdentity(str(uuid.uuid4()), name)
