"""Names of ours whose clusters the FAT calls free: what a cut leaves where writes changed places.

A medium with a cache of its own may have written a name and not yet the table. The driver reads
such a file, gives its cluster to the next one that is written, and takes it from under that when
the first name goes. So nothing is written to a card before the driver has looked at all that may
be such a name: what the last update was writing when it was interrupted.
"""

from collections.abc import Iterable

from syncd.applier.manifest import JOURNAL, MANIFEST, MANIFEST_NEW
from syncd.applier.reading import CardReading
from syncd.applier.volume import Volume
from syncd.catalogue import slots
from syncd.catalogue.slots import Slot
from syncd.errors import CardProblem


def refuse_free(volume: Volume, reading: CardReading) -> None:
    """Raises CardProblem where a file of an interrupted update has lost its clusters.

    What such a file has of clusters beyond its size is given back.
    """
    own = [JOURNAL, MANIFEST, MANIFEST_NEW]
    both: tuple[Slot, Slot] = ("a", "b")
    for slot in both:
        own += [slots.catalogue_path(slot), slots.record_path(slot)]
    look_at(volume, [path for path in (*own, *reading.doubtful) if path in reading.sizes])


def look_at(volume: Volume, paths: Iterable[str]) -> None:
    """Raises CardProblem where one of *paths* has lost its clusters."""
    for path in paths:
        volume.trim(path)
        if volume.space().read_only:
            raise CardProblem(
                f"On the card {volume.name}, clusters of {path} are told to be free: it was pulled "
                "or lost power in the middle of a change, and is read-only now. Have its file "
                "system repaired (Linux: fsck.vfat -a), then update again."
            )
