"""Reading a new file back from the card and comparing it with what was written."""

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

from syncd.applier.volume import Volume, content_hash
from syncd.errors import CardFailing, CardGone, CardProblem
from syncd.planner.card_state import ManifestEntry

T = TypeVar("T")

TOGETHER_BYTES = 64 << 20
"""Bytes of files that the system is made to forget at once, before they are read one by one."""


def in_groups(items: Iterable[tuple[T, int]]) -> Iterator[list[T]]:
    """What comes with its size, in groups of about so many bytes."""
    group: list[T] = []
    together = 0
    for item, size in items:
        group.append(item)
        together += size
        if together >= TOGETHER_BYTES:
            yield group
            group, together = [], 0
    if group:
        yield group


def unlike(volume: Volume, path: str, entry: ManifestEntry) -> bool:
    """Whether *path*, which the system was made to forget after a barrier, differs from *entry*.

    What cannot be read differs. Raises CardGone when the card went away.
    """
    try:
        same = volume.size(path) == entry.size
        return not same or content_hash(volume.chunks(path)) != entry.xxh3_128
    except CardGone:
        raise
    except CardProblem:
        return True


def failing(card: str, paths: Sequence[str]) -> CardFailing:
    """The problem of a card that twice did not give back what was written to *paths*."""
    others = f" and {len(paths) - 1} more" if len(paths) > 1 else ""
    return CardFailing(
        f"The card {card} does not keep what is written to it: {paths[0]}{others} came back "
        "otherwise, twice. Replace the card: it is worn out, or smaller than it says. What is new "
        "is in no catalogue of it. 'syncd verify' tells what else on it is damaged."
    )
