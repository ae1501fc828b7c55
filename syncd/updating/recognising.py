"""Which files on a card are ours, where the manifest does not say it or says otherwise.

What was read is compared with what would be written. What is not surely ours is the listener's.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from syncd.applier.ailing import is_rest
from syncd.applier.reading import CardReading, read_card
from syncd.applier.verify import Verified, disbelieved
from syncd.applier.volume import content_hash, holds
from syncd.errors import ItemProblem
from syncd.model import CardPath, LibrarySnapshot
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.names import fold
from syncd.planner.plan import Placement, Plan
from syncd.updating.content import content_of
from syncd.updating.drafting import draft
from syncd.updating.values import Target
from syncd.updating.workshop import Workshop


def read(shop: Workshop, target: Target, found: Verified | None) -> CardReading:
    """The card as it is, its files recognised; what *found* says is damaged is not believed.

    Files are compared with what would be written only where the manifest cannot tell. Raises
    CardProblem when the card fails, SetupProblem when the store does.
    """
    reading = read_card(target.volume, largest_file_bytes=target.largest_file_bytes)
    if reading.manifest_lost or (reading.manifest_absent and reading.state.foreign):
        reading = _adopted(shop, target, reading)
    if reading.overwritten:
        reading = _known_as_cut(shop, target, reading)
    return reading if found is None else disbelieved(reading, found)


def _adopted(shop: Workshop, target: Target, reading: CardReading) -> CardReading:
    """Recognise files of ours by their content, where the manifest was lost or damaged.

    Where a file should lie that the plan for a card without it would put there, what lies
    there is compared with what would be written. Only what is equal byte for byte is ours.
    On a card that shows no other sign of an earlier update, a master carried over untouched
    is no sign of ours either: it may be the listener's own copy.
    """
    sizes = reading.sizes
    known = {entry.path for entry in reading.state.entries}
    unlike: set[CardPath] = set()
    adopted: dict[CardPath, ManifestEntry] = {}
    with shop.folder() as folder:
        while True:
            state = _without(reading.state, adopted, unlike, sizes)
            wished = draft(shop, target, replace(reading, state=state))
            compare = [
                placement
                for placement in wished.end
                if placement.path not in known
                and placement.path not in adopted
                and placement.path not in unlike
                and target.volume.size(placement.path) is not None
            ]
            if not compare:
                break
            for placement in compare:
                entry = _same(shop, target, placement, folder, reading.manifest_lost)
                if entry is None:
                    unlike.add(placement.path)  # ours may lie beside it, under a number
                else:
                    adopted[entry.path] = entry
    entries = (*reading.state.entries, *adopted.values())
    ours = {fold(path) for path in adopted}
    state = replace(
        reading.state,
        entries=tuple(sorted(entries, key=lambda entry: entry.path)),
        foreign=tuple(path for path in reading.state.foreign if fold(path) not in ours),
        unfinished=True,
    )
    return replace(reading, state=state)


def _without(
    state: CardState,
    adopted: Mapping[CardPath, ManifestEntry],
    unlike: Iterable[CardPath],
    sizes: Mapping[str, int],
) -> CardState:
    """*state* as if its unknown files were not there, but for those that are known to be foreign.

    The room that they take is counted as free: they may turn out to be ours.
    """
    foreign = tuple(sorted(unlike))
    hidden = sum(
        state.allocated(sizes.get(path, 0)) for path in {*state.foreign} - {*foreign, *adopted}
    )
    entries = {entry.path: entry for entry in state.entries} | dict(adopted)
    return replace(
        state,
        entries=tuple(entries.values()),
        missing=(),
        foreign=foreign,
        bytes_free=state.bytes_free + hidden,
    )


def _same(
    shop: Workshop, target: Target, placement: Placement, scratch: Path, untouched_too: bool
) -> ManifestEntry | None:
    """The entry of what lies at *placement*'s path, if that is what would be written there."""
    recipe = placement.recipe
    carried = recipe is not None and recipe.action == "carry"
    if carried and not target.profile.tags.rewrite_carried and not untouched_too:
        return None
    try:
        with content_of(shop, target.profile, placement, scratch) as content:
            if target.volume.size(placement.path) != content.size:
                return None
            digest = content_hash(content.chunks())
    except ItemProblem:
        return None
    if not holds(target.volume, placement.path, content.size, digest):
        return None
    return ManifestEntry(placement.path, content.size, digest, placement.source)


def _known_as_cut(shop: Workshop, target: Target, reading: CardReading) -> CardReading:
    """*reading* with those overwritten files as damaged ones of ours that are ours, but cut.

    Ours is what holds nothing but bytes of ours in their places, and zeros. All else may be
    the listener's: it stays, and ours goes beside it.
    """
    missing = {entry.path: entry for entry in reading.state.missing}
    of_source = {placement.source: placement for placement in draft(shop, target, reading).end}
    cut: list[str] = []
    with shop.folder() as folder:
        for path in reading.overwritten:
            entry = missing.get(CardPath(path))
            placement = of_source.get(entry.source) if entry is not None else None
            if placement is not None and _is_cut(shop, target, placement, path, folder):
                cut.append(path)
    for path in reading.overwritten:
        if path not in cut:
            shop.notices.append(
                f"{path} on {target.volume.name} is not what syncd wrote there: it was written "
                "over by something else, or is damaged. It stays as it is, and ours goes "
                "beside it. Remove it if it is of no use."
            )
    state = reading.state
    own = sum(state.allocated(reading.sizes[path]) for path in cut)
    state = replace(
        state,
        foreign=tuple(path for path in state.foreign if path not in cut),
        own_bytes=state.own_bytes + own,
        unfinished=state.unfinished or bool(cut),
    )
    return replace(reading, state=state, debris=(*reading.debris, *cut))


def _is_cut(shop: Workshop, target: Target, placement: Placement, path: str, scratch: Path) -> bool:
    """Whether what lies at *path* is *placement*'s file, cut or with zeros in it."""
    try:
        with content_of(shop, target.profile, placement, scratch) as content:
            if (target.volume.size(path) or 0) >= content.size:
                return False
            return is_rest(target.volume.chunks(path), content.chunks())
    except ItemProblem:
        return False


def beyond_repair(found: Verified, reading: CardReading, plan: Plan) -> set[CardPath]:
    """The files that *found* calls damaged and that *plan*, which disbelieves them, does not make.

    Their master is away, say, or they are not wanted any more. They lie there all the same, and
    must count as ours: else they would stay for ever, as if they were the listener's.
    """
    made = {placement.path for placement in plan.end}
    damaged = {fault.path for fault in found.faults}
    return {
        entry.path
        for entry in reading.state.missing
        if entry.path in damaged
        and entry.path not in made
        and reading.sizes.get(entry.path) == entry.size
    }


def lost_files(found: Verified, reading: CardReading) -> set[ManifestEntry]:
    """What *found* misses and does not lie on the card at all, or not whole."""
    faults = {fault.path for fault in found.faults}
    return {
        entry
        for entry in reading.state.missing
        if entry.path in faults and reading.sizes.get(entry.path) != entry.size
    }


def still_lost(
    lost: Iterable[ManifestEntry], plan: Plan, library: LibrarySnapshot
) -> tuple[CardPath, ...]:
    """Those of *lost* that are wanted still, and that *plan*, carried out, did not bring again."""
    there = {placement.source.audio for placement in plan.end}
    left = {item.path for item in plan.left_out}
    wanted = {entry.track.audio_hash for entry in library.tracks if entry.track.address in left}
    return tuple(
        sorted(
            entry.path
            for entry in lost
            if entry.source.audio in wanted and entry.source.audio not in there
        )
    )
