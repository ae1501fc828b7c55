"""Reading a new file back from the card and comparing it with what was written."""

from collections.abc import Sequence
from dataclasses import dataclass

from syncd.applier.volume import Volume, content_hash
from syncd.errors import CardFailing, CardGone, CardProblem
from syncd.planner.card_state import ManifestEntry


@dataclass(frozen=True, slots=True)
class Answer:
    """What a card gave back: whether it differs, and whether it may have come from memory."""

    differs: bool
    from_memory: bool


def unlike(volume: Volume, path: str, entry: ManifestEntry) -> Answer:
    """Read *path*, after a barrier, and compare it with *entry*.

    What cannot be read differs. Raises CardGone when the card went away.
    """
    try:
        from_memory = not volume.forget(path)
        same = volume.size(path) == entry.size
        differs = not same or content_hash(volume.chunks(path)) != entry.xxh3_128
    except CardGone:
        raise
    except CardProblem:
        return Answer(True, False)
    return Answer(differs, from_memory)


def failing(card: str, paths: Sequence[str]) -> CardFailing:
    """The problem of a card that twice did not give back what was written to *paths*."""
    others = f" and {len(paths) - 1} more" if len(paths) > 1 else ""
    return CardFailing(
        f"The card {card} does not keep what is written to it: {paths[0]}{others} came back "
        "otherwise, twice. Replace the card: it is worn out, or smaller than it says. What is new "
        "is in no catalogue of it. 'syncd verify' tells what else on it is damaged."
    )
