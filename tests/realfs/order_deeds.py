"""What ``guest.py`` does to a FAT card whose folders shall be in playing order."""

import random

from card_world import movement, profile, song
from ordered_world import Library, ordered_update, shuffled

from syncd.applier.folder_volume import FolderVolume
from syncd.planner.plan import Action


def updates(volume: FolderVolume) -> list[dict[str, object]]:
    """Files come, go and get other names, at random; of each update what it did and said."""
    draw = random.Random(11)
    whole: Library = [
        song(f"Band {n % 3}", f"Album {n // 12}", n, "Song " + "x" * draw.randint(1, 60), size=900)
        for n in range(60)
    ] + [movement(f"Sonata {n // 4}", n % 4 + 1, "y" * draw.randint(1, 60)) for n in range(24)]
    volume.write("SYNCD/card.json", [b"{}"])
    volume.barrier()
    player = profile(playlists=True)
    told: list[dict[str, object]] = []
    for _ in range(5):
        some = shuffled(whole, draw)
        for again in (False, True):
            plan, done = ordered_update(volume, some, player)
            told.append(
                {
                    "again": again,
                    "steps": len(plan.steps),
                    "written": done.written,
                    "writes": plan.count(Action.WRITE),
                    "order": [placement.path for placement in plan.end],
                }
            )
    return told
