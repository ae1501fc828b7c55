"""What ``guest.py`` does to a FAT card so that reckoned free bytes can be held against statvfs."""

import os
import random

from card_world import SCENES, library, movement, profile, retagged, song
from reckoned_world import reckoned_update

from syncd.applier.volume import FolderVolume

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
