"""From a plan's estimates to bytes that are exact: of files once they are dressed, and of room."""

import contextlib
from dataclasses import replace
from pathlib import Path

from syncd.applier.reading import CardReading
from syncd.applier.reckoning import folders_met, reckon
from syncd.errors import CardProblem, ItemProblem
from syncd.planner.card_state import Source
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.plan import Action, Plan, pressing_id
from syncd.profile import Profile
from syncd.updating.carrying_out import catalogue_builder
from syncd.updating.content import content_of
from syncd.updating.values import Target
from syncd.updating.workshop import Workshop


def measure_sizes(shop: Workshop, profile: Profile, plan: Plan, scratch: Path) -> bool:
    """Find out exactly how large the files will be that *plan* writes; whether that was news.

    It costs as much as putting on the tags once more, and is kept for the next time.
    """
    writes = {step.target for step in plan.steps if step.action is Action.WRITE}
    news = False
    measured: list[tuple[Source, int, int]] = []
    for placement in plan.end:
        if placement.path not in writes or placement.source in shop.dressed:
            continue
        # What cannot be made is found out, and told, when it is written.
        with (
            contextlib.suppress(ItemProblem),
            content_of(shop, profile, placement, scratch) as content,
        ):
            shop.dressed.sizes[placement.source] = content.size
            news = news or content.size != placement.size
            of_bytes = shop.dressed.bytes_of(pressing_id(placement))
            if placement.recipe is not None and of_bytes is not None:
                measured.append((placement.source, of_bytes, content.size))
        shop.heed_stop()
    shop.dressed.kept.keep(measured)
    return news


def sizes_known(shop: Workshop, plan: Plan) -> bool:
    """Whether it is known exactly how large the files will be that *plan* writes."""
    writes = {step.target for step in plan.steps if step.action is Action.WRITE}
    return all(
        placement.path not in writes
        or (placement.track is None and placement.art is None)
        or placement.source in shop.dressed
        for placement in plan.end
    )


def reckoned(target: Target, plan: Plan, reading: CardReading, scratch: Path) -> tuple[Plan, int]:
    """*plan* with the free bytes to the cluster; and the bytes by which it takes too much.

    Needs the exact sizes of all that is written. On a file system whose rules are not known,
    *plan* stays as it is.
    """
    if not plan.steps:
        return plan, 0
    geometry = target.volume.geometry(folders_met(plan, reading))
    if not geometry.system.known:
        return plan, 0
    found = reckon(plan, geometry, reading, catalogue_builder(target.profile, plan, scratch))
    before = reading.state.bytes_free
    # The reserve is kept, unless something else has taken of it already.
    lacking = min(RESERVE_BYTES, before) - found.free_after
    exact = replace(
        plan,
        bytes_free_before=before,
        bytes_free_after=found.free_after,
        free_is_exact=found.exact,
    )
    return exact, max(0, -found.free_least, lacking)


def with_room_left(target: Target, plan: Plan, reading: CardReading) -> Plan:
    """*plan*, which was carried out, with the free bytes that the card itself tells now."""
    try:
        free = target.volume.space().free
    except CardProblem:  # taken out at once: all was done
        return plan
    return replace(
        plan,
        bytes_free_before=reading.state.bytes_free,
        bytes_free_after=free,
        free_is_exact=True,
    )
