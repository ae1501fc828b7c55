"""An update of a card in the applier's tests, reckoned before it is carried out."""

from dataclasses import replace

from card_world import Bytes, built, dressed, make

from syncd.applier.applied import Report
from syncd.applier.apply import apply, sweep
from syncd.applier.reckoning import Reckoned, folders_met, reckon
from syncd.applier.volume import Volume
from syncd.model import LibrarySnapshot
from syncd.planner.plan import Step
from syncd.profile import Profile


def reckoned_update(
    volume: Volume,
    wanted: LibrarySnapshot,
    wanted_profile: Profile,
    report: Report | None = None,
) -> Reckoned:
    """Bring *volume* up to date as ``updating`` does; return what was reckoned before."""
    plan, reading = make(volume, wanted, wanted_profile)
    if sweep(volume, reading):
        plan, reading = make(volume, wanted, wanted_profile)
    least = reading.state.bytes_free

    def looked(step: Step, size: int) -> None:
        nonlocal least
        least = min(least, volume.space().free)
        if report is not None:
            report(step, size)

    written = {step.target for step in plan.steps}
    end = tuple(
        replace(place, size=Bytes(place).size) if place.path in written else place
        for place in plan.end
    )
    plan = replace(plan, end=end)
    if not plan.steps:
        return Reckoned(reading.state.bytes_free, reading.state.bytes_free)
    geometry = volume.geometry(folders_met(plan, reading))
    with built() as build:
        told = reckon(plan, geometry, reading, build)
        apply(plan, volume, reading, dressed, build, looked)
    assert told.free_least <= least or not told.exact, "at no time is less free than was said"
    return told
