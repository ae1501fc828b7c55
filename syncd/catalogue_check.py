"""A card's catalogue checked: against the plan if it is that of the plan, else by itself.

The catalogue's key tells which: equal keys mean that the card says what the library says today.
Comparing is ``catalogue.verify``'s.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from syncd.applier.reading import CardReading
from syncd.applier.verify import Fault, Verified
from syncd.catalogue import slots
from syncd.catalogue.from_plan import entries_of
from syncd.catalogue.verify import check_itself, compare
from syncd.planner.plan import Plan
from syncd.profile import Profile


def with_catalogue(
    found: Verified, mount: Path, reading: CardReading, plan: Plan | None, profile: Profile
) -> Verified:
    """*found*, and what is wrong with the catalogue that a player opens on the card at *mount*.

    *plan* is what an update would do, None where no library is at hand. A catalogue whose bytes are
    not what was written is not looked into.
    """
    if found.catalogue_damaged:
        return found
    used = slots.newest(*reading.slots)
    state = reading.state
    if used is None:
        # None is there before the end of a first update, so that an interrupted one lacks none.
        lacking = profile.catalogue.present and state.entries and not state.unfinished
        return _with(found, [_unopened(reading)]) if lacking else found
    path = slots.catalogue_path(used)
    sizes = {entry.path: entry.size for entry in (*state.missing, *state.entries)}
    if reading.manifest_lost:
        differences = check_itself(mount / path, reading.sizes)
    elif plan is not None and plan.catalogue_key == state.catalogue_key:
        here = [(place, sizes[place.path]) for place in plan.end if place.path in sizes]
        entries = entries_of(here, plan.end, profile)
        differences = compare(mount / path, entries, profile.card.charset)
    else:
        differences = check_itself(mount / path, sizes)
    return _with(found, [Fault(path, f"{one.where}: {one.what}.") for one in differences])


def _with(found: Verified, faults: Sequence[Fault]) -> Verified:
    if not faults:
        return found
    return replace(found, faults=(*found.faults, *faults), catalogue_damaged=True)


def _unopened(reading: CardReading) -> Fault:
    """Why a player finds no catalogue to open, though there should be one."""
    each: tuple[tuple[slots.Slot, slots.SlotState], ...]
    each = (("a", reading.slots[0]), ("b", reading.slots[1]))
    for slot, state in each:
        path = slots.catalogue_path(slot)
        if state.record is not None and state.size_bytes is None:
            return Fault(path, "The catalogue is not on the card.")
        if state.record is not None:
            return Fault(
                path,
                f"The catalogue has {state.size_bytes} bytes instead of {state.record.size_bytes}: "
                "cut, or written over by another program.",
            )
        if state.size_bytes is not None:
            return Fault(
                slots.record_path(slot),
                "The record of the catalogue is damaged, or gone: no player opens it.",
            )
    return Fault(slots.catalogue_path("a"), "There is no catalogue on the card.")
