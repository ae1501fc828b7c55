"""A card's catalogue checked: against the plan if it is that of the plan, else by itself.

The catalogue's key tells which: equal keys mean that the card says what the library says today.
Comparing is ``catalogue.verify``'s.
"""

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
    used = slots.newest(*reading.slots)
    if used is None or found.catalogue_damaged:
        return found
    path = slots.catalogue_path(used)
    state = reading.state
    sizes = {entry.path: entry.size for entry in (*state.missing, *state.entries)}
    if plan is not None and plan.catalogue_key == state.catalogue_key:
        here = [(place, sizes[place.path]) for place in plan.end if place.path in sizes]
        entries = entries_of(here, plan.end, profile)
        differences = compare(mount / path, entries, profile.card.charset)
    else:
        differences = check_itself(mount / path, sizes)
    if not differences:
        return found
    faults = [Fault(path, f"{one.where}: {one.what}.") for one in differences]
    return replace(found, faults=(*found.faults, *faults), catalogue_damaged=True)
