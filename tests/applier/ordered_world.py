"""Updates of cards whose folders shall be in playing order, for the applier's tests."""

import random

from card_world import built, dressed, library, make, retagged

from syncd.applier.applied import Applied
from syncd.applier.apply import apply, sweep
from syncd.applier.reading import read_card
from syncd.applier.volume import Volume
from syncd.model import CataloguedTrack
from syncd.planner.names import fold
from syncd.planner.ordering import folders_played, in_directory_order
from syncd.planner.plan import Plan
from syncd.profile import Profile

Library = list[CataloguedTrack]


def shuffled(whole: Library, draw: random.Random) -> Library:
    """Some of *whole*, a few of them under another title."""
    some = [entry for entry in whole if draw.random() < 0.7]
    return [
        retagged(entry, title=entry.track.title + "z" * draw.randint(1, 30))
        if draw.random() < 0.2
        else entry
        for entry in some
    ]


def ordered_plan(volume: Volume, wanted: Library, player: Profile) -> tuple[Plan, object]:
    plan, reading = make(volume, library(*wanted), player)
    geometry = volume.geometry(folders_played(plan, reading.state))
    return in_directory_order(plan, reading.state, geometry, reading.debris), reading


def ordered_update(volume: Volume, wanted: Library, player: Profile) -> tuple[Plan, Applied]:
    sweep(volume, read_card(volume))  # as an update does before it plans
    plan, reading = ordered_plan(volume, wanted, player)
    with built() as build:
        return plan, apply(plan, volume, reading, dressed, build)  # type: ignore[arg-type]


def entries_in_order(paths: list[str]) -> dict[str, list[str]]:
    """For each folder its names, in the order in which *paths* come to them."""
    found: dict[str, list[str]] = {}
    for path in paths:
        parts = path.split("/")
        for depth in range(len(parts)):
            names = found.setdefault(fold("/".join(parts[:depth])), [])
            if parts[depth] not in names:
                names.append(parts[depth])
    return found
