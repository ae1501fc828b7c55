"""The plan for a card as it was read, with what the workshop knows."""

from dataclasses import replace

from syncd.applier.reading import CardReading
from syncd.catalogue.build import FORM
from syncd.planner.ordering import folders_played, in_directory_order
from syncd.planner.plan import Plan, Pressings
from syncd.planner.planning import make_plan
from syncd.updating.values import Target
from syncd.updating.workshop import Workshop


def draft(shop: Workshop, target: Target, reading: CardReading, spare: int = 0) -> Plan:
    """The plan for the card of *reading*, of whose free bytes *spare* stay out of it."""
    if spare:
        reading = replace(reading, state=reading.state.with_less(spare))
    profile = target.profile
    plan = make_plan(
        shop.library,
        reading.state,
        profile,
        target.programme,
        Pressings(
            shop.store.sizes(),
            shop.cannot_be_made(profile),
            shop.dressed,
            shop.levels(profile),
            shop.damaged(),
        ),
        catalogue_form=f"{FORM} {profile.card.charset}",
        today=shop.today,
    )
    if profile.card.order == "directory":
        geometry = target.volume.geometry(folders_played(plan, reading.state))
        plan = in_directory_order(plan, reading.state, geometry, reading.debris)
    return plan
