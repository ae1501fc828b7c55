"""From a plan's estimates to bytes that are exact: of files once they are dressed, and of room."""

import contextlib
from dataclasses import dataclass, replace
from pathlib import Path

from syncd.applier.applied import CatalogueBuilder
from syncd.applier.reading import CardReading
from syncd.applier.reckoning import folders_met, reckon
from syncd.applier.volume import Volume
from syncd.errors import CardProblem, ItemProblem
from syncd.planner.amounts import amount
from syncd.planner.card_state import Source
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.plan import Action, Plan, pressing_id
from syncd.profile import Profile
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
    unknown = [
        placement
        for placement in plan.end
        if placement.path in writes and placement.source not in shop.dressed
    ]
    if unknown:
        shop.dressed.look_again()
    for placement in unknown:
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


WORK_BYTES = 64 << 10
WORK_CLUSTERS = 4
"""What an update must have free at any time, so that it can go on when it is interrupted: its
journal gets longer by a line or two, and folders may take a cluster more."""


@dataclass(frozen=True, slots=True)
class Room:
    """What a plan takes of a card's room.

    ``plan`` tells the free bytes to the cluster. ``short`` is by how many bytes less it must be
    made again, none if it fits; ``lacking`` by how many it would not even fit for a time.
    """

    plan: Plan
    short: int = 0
    lacking: int = 0


def reckoned(volume: Volume, plan: Plan, reading: CardReading, build: CatalogueBuilder) -> Room:
    """The room that *plan* takes on *volume*, to the cluster.

    Needs the exact sizes of all that is written. On a file system whose rules are not known,
    *plan* stays as it is. Raises CardProblem, and what *build* raises.
    """
    if not plan.steps:
        return Room(plan)
    geometry = volume.geometry(folders_met(plan, reading))
    if not geometry.system.known:
        return Room(plan)
    found = reckon(plan, geometry, reading, build)
    before = reading.state.bytes_free
    exact = replace(
        plan,
        bytes_free_before=before,
        bytes_free_after=found.free_after,
        free_is_exact=found.exact,
    )
    # An update that is interrupted again and again takes a little more than one that is not.
    margin = 0 if plan.goes_on else max(WORK_BYTES, WORK_CLUSTERS * geometry.cluster_bytes)
    lacking = max(0, margin - found.free_least)
    # The reserve is kept, unless something else has taken of it already.
    reserve = min(RESERVE_BYTES, before) - found.free_after if plan.keeps_reserve else 0
    short = max(0, lacking, reserve)
    # So much less that something else has to be chosen, however high the estimates are.
    return Room(exact, short + max(0, plan.slack) if short else 0, lacking)


def no_room_to_work(name: str, room: Room) -> str:
    """That the card *name* has too little room for the update of *room*, and what to do."""
    free = room.plan.bytes_free_before
    return (
        f"The card {name} has {free:,} bytes free, and an update would need {room.lacking:,} more "
        f"for a time, since something else has taken of the {amount(RESERVE_BYTES)} that syncd "
        "keeps free. Nothing was written. Remove files of your own from it, then update again."
    )


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
