"""Files that are two names of the same clusters: what a cut in a rename leaves on FAT and exFAT."""

from collections.abc import Iterable

from syncd.applier.reading import CardReading
from syncd.applier.volume import Volume
from syncd.errors import CardProblem
from syncd.model import CardPath


def refuse_linked(volume: Volume, reading: CardReading, useless: Iterable[str]) -> None:
    """Raises CardProblem where one of *useless* is another name of a file that is kept.

    A cut in the middle of a rename can leave both names, each whole; removing one would take
    the clusters from under the other. Only what was in flight can be in that state.
    """
    of_path = {entry.path: entry for entry in reading.waiting.values()}
    kept: dict[tuple[int, str], list[str]] = {}
    for aside, entry in reading.waiting.items():
        kept.setdefault((entry.size, entry.xxh3_128), []).append(aside)
    for entry in reading.state.entries:
        kept.setdefault((entry.size, entry.xxh3_128), []).append(entry.path)
    for path in useless:
        known = reading.waiting.get(path) or of_path.get(CardPath(path))
        if known is None or volume.size(path) != known.size:
            continue
        for other in kept[known.size, known.xxh3_128]:
            if other != path and volume.linked(path, other):
                raise CardProblem(
                    f"On the card {volume.name}, {path} and {other} share their clusters: "
                    "it was pulled or lost power in the middle of a change. Have its file "
                    "system repaired (Linux: fsck.vfat -a or fsck.exfat -p), then update again."
                )
