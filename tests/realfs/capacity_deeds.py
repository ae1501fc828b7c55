"""What ``guest.py`` does to a FAT card so that reckoned free bytes can be held against statvfs."""

import os
import random
from pathlib import Path

from card_world import SCENES, library, movement, profile, retagged, song, update
from reckoned_world import reckoned_update

from syncd.applier.folder_volume import FolderVolume

Told = list[tuple[bool, int, int]]
"""Of each update: whether the figure is exact, the figure, and what statvfs says then."""

NAMES = ("fresh", "add", "rename", "change places", "playlists", "in the way later", "remove all",
         "all at once", "other root")  # fmt: skip


def scenes(volume: FolderVolume) -> Told:
    """Several updates one after the other on one card, each from what the last one left."""
    volume.write("SYNCD/card.json", [b"{}"])
    told: Told = []
    for name in NAMES:
        scene = SCENES[name]
        for path, data in scene.foreign.items():
            volume.write(path, [data])
        volume.barrier()
        for wanted, player in (
            (scene.before, scene.profile_before),
            (scene.after, scene.profile_after),
        ):
            if wanted is not None:
                found = reckoned_update(volume, wanted, player)
                told.append((found.exact, found.free_after, volume.space().free))
    return told


def large_folders(volume: FolderVolume) -> Told:
    """Folders of several clusters, from which names go and to which names come, at random."""
    draw = random.Random(int(os.environ.get("SEED", "7")))
    flat = profile(work="{composer}/{number} {movement}, which has a rather long name of its own")
    whole = [
        song("Band", f"Album {n // 40}", n, f"Song {n} " + "x" * draw.randint(0, 80), size=3000)
        for n in range(120)
    ] + [movement("Sonata", n, "y\u010d" * draw.randint(1, 40), size=2000) for n in range(1, 60)]
    volume.write("SYNCD/card.json", [b"{}"])
    volume.write("READ.ME", [b"in capitals"])
    volume.barrier()
    told: Told = []
    for _ in range(6):
        some = [entry for entry in whole if draw.random() < 0.6]
        some = [
            retagged(entry, title=entry.track.title + " again") if draw.random() < 0.2 else entry
            for entry in some
        ]
        found = reckoned_update(volume, library(*some), flat)
        told.append((found.exact, found.free_after, volume.space().free))
    return told


ROOM = (1 << 20) + 300_000
"""What ``fill`` leaves free: the reserve, and little more than the update takes."""


def fill(volume: FolderVolume) -> None:
    """Nearly fill the card with a file of the listener's."""
    volume.write("FILLER.BIN", [bytes(volume.space().free - ROOM)])


def wear(volume: FolderVolume) -> dict[str, int]:
    """Bytes that reach the medium in an update, tables and folders included, and of its files."""
    facts = volume.root.stat()
    place = f"/sys/dev/block/{os.major(facts.st_dev)}:{os.minor(facts.st_dev)}/stat"

    def written() -> int:
        volume.barrier()
        return int(Path(place).read_text().split()[6]) * 512  # sectors: kernel, iostats.rst

    volume.write("SYNCD/card.json", [b"{}"])
    whole = [song(f"Band {n // 8}", f"Album {n // 4}", n, f"Song {n}", size=1_500_000)
             for n in range(32)]  # fmt: skip
    at_first = written()
    update(volume, library(*whole), profile())
    sizes = {file.path: file.size for file in volume.listing().files}
    return {
        "medium": written() - at_first,
        "files": sum(size for path, size in sizes.items() if not path.endswith("card.json")),
    }
