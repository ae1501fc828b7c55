"""Where room is called ample, an update takes no more than the bound at any time.

The other side is the card in memory, which counts clusters as they are taken, and the reckoning to
the cluster, which runs the applier on a model.
"""

from dataclasses import replace

import pytest
from card_world import SCENES, Bytes, built, dressed, library, make, movement, profile, song
from counting_volume import CountingVolume

from syncd.applier.ample import is_ample, most_taken
from syncd.applier.apply import apply
from syncd.applier.reading import CardReading
from syncd.applier.reckoning import folders_met, reckon
from syncd.model import LibrarySnapshot
from syncd.planner.capacity import EXFAT, EXFAT_FUSE, FAT32, Geometry
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.plan import Plan


def exact(plan: Plan) -> Plan:
    written = {step.target for step in plan.steps}
    end = tuple(
        replace(place, size=Bytes(place).size) if place.path in written else place
        for place in plan.end
    )
    return replace(plan, end=end)


@pytest.mark.parametrize("scene", SCENES.values(), ids=lambda scene: scene.name)
def test_no_scene_takes_more_than_the_bound(scene) -> None:  # type: ignore[no-untyped-def]
    volume = scene.volume()
    plan, reading = make(volume, scene.after, scene.profile_after)
    plan = exact(plan)
    if not plan.steps:
        return
    used = fullest = volume.used()

    def looked(*_: object) -> None:
        nonlocal fullest
        fullest = max(fullest, volume.used())

    with built() as build:
        apply(plan, volume, reading, dressed, build, looked)
    looked()
    assert fullest - used <= most_taken(plan, reading)


LONG = "Ein überaus langer Name für einen kleinen Satz, und noch einer dazu "
HARD: dict[str, LibrarySnapshot] = {
    "one": library(song("B", "A", 1, "S", size=10)),
    "many short": library(*(song("B", f"A {n // 10}", n % 10, f"S {n}") for n in range(400))),
    "each in its own folder": library(*(song(f"B{n}", f"A{n}", 1, "S") for n in range(200))),
    "long names": library(
        *(song(LONG + str(n), LONG * 2 + str(n), n, LONG * 3 + str(n)) for n in range(150))
    ),
    "works with long names": library(
        *(movement(LONG * 2 + str(n // 3), n % 3 + 1, LONG * 3 + str(n)) for n in range(150))
    ),
}


@pytest.mark.parametrize("system", [FAT32, EXFAT, EXFAT_FUSE], ids=lambda system: system.name)
@pytest.mark.parametrize("cluster", [512, 4096, 131072])
@pytest.mark.parametrize("name", HARD)
def test_the_reckoning_takes_less_than_the_bound_on_a_new_card(name, cluster, system) -> None:  # type: ignore[no-untyped-def]
    volume = CountingVolume(cluster=cluster, system=system)
    volume.put("SYNCD/card.json", b"{}")
    plan, reading = make(volume, HARD[name], profile())
    plan = exact(plan)
    geometry: Geometry = volume.geometry(folders_met(plan, reading))
    with built() as build:
        told = reckon(plan, geometry, reading, build)
    free = reading.state.bytes_free
    files = sum(reading.state.allocated(place.size) for place in plan.end)
    beside = most_taken(plan, reading) - files
    # Not even half of what is allowed beside the files themselves.
    assert free - told.free_least <= files + beside / 2


def test_room_is_ample_when_the_bound_and_the_reserve_fit_and_not_a_byte_before() -> None:
    volume = CountingVolume()
    plan, reading = make(volume, HARD["many short"], profile())
    plan = exact(plan)

    def with_free(free: int) -> CardReading:
        return replace(reading, state=replace(reading.state, bytes_free=free))

    needed = most_taken(plan, reading) + RESERVE_BYTES
    assert is_ample(plan, with_free(needed))
    assert not is_ample(plan, with_free(needed - 1))
    files = sum(reading.state.allocated(place.size) for place in plan.end)
    assert needed > files + RESERVE_BYTES
