"""Reading a card's state: what is on it, what of that is ours, and what an interruption left.

Nothing is written here, so that ``syncd plan`` changes nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from syncd.applier import manifest
from syncd.applier.manifest import FOLDER, JournalLine, Known, ManifestDamaged
from syncd.applier.volume import Volume, holds
from syncd.catalogue import slots
from syncd.catalogue.slots import Slot, SlotState
from syncd.errors import CardProblem
from syncd.model import CardPath
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.names import fold
from syncd.planner.places import folders_of


@dataclass(frozen=True, slots=True)
class CardReading:
    """A card as read: the planner's view, and what only the applier needs.

    ``waiting`` maps the paths of files that lie aside, complete, to what they are; ``debris`` are
    files of ours that are not whole; ``vacated`` are paths where a file of ours lay or was to lie,
    so that their folders may have been left empty. ``overwritten`` are files that lie, with
    another size, where one of ours lay when an update had ended: the listener's, or ours and cut.
    They count as foreign until it is known by their content that they are ours. ``manifest_lost``
    tells that there was a manifest once, ``manifest_absent`` that there is none, perhaps because
    there never was. ``cut_short`` tells that an update was interrupted: what it was writing then
    may have more clusters or fewer than its size tells. ``doubtful`` are files
    that are kept and were touched after the last barrier. ``notices`` is what a person should be
    told. ``sizes`` has every file on the card.
    """

    state: CardState
    waiting: dict[str, ManifestEntry] = field(default_factory=dict)
    debris: tuple[str, ...] = ()
    vacated: tuple[str, ...] = ()
    overwritten: tuple[str, ...] = ()
    slots: tuple[SlotState, SlotState] = (SlotState(), SlotState())
    manifest_lost: bool = False
    manifest_absent: bool = False
    cut_short: bool = False
    doubtful: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    sizes: Mapping[str, int] = field(default_factory=dict)


def read_card(volume: Volume, *, largest_file_bytes: int | None = None) -> CardReading:
    """Read the state of the card on *volume*.

    Files are believed by name and size, except those that were in flight when an update was
    interrupted: they are read. Raises CardProblem.
    """
    listing = volume.listing()
    seen = listing.files
    sizes = {file.path: file.size for file in seen}
    entries, lost, notices = _manifest(volume, sizes)
    journal = volume.read(manifest.JOURNAL) if manifest.JOURNAL in sizes else None
    place = fold if _blind_to_case(volume, sizes) else str
    lines = manifest.decode_journal(journal or b"", volume.name)
    known = Known.replay(entries, lines, place)
    for file in seen:
        if file.closed:
            _leave_closed(volume, file.path, known)
    lying = {place(path): size for path, size in sizes.items()}
    waiting = _waiting(volume, sizes, known)
    still_aside = set(waiting.values())
    present: list[ManifestEntry] = []
    missing: list[ManifestEntry] = []
    debris: list[str] = []
    overwritten: set[str] = set()
    vacated = {str(entry.path) for entry in known.asides.values()}
    for where, candidates in known.candidates.items():
        size = lying.get(where)
        vacated.update(entry.path for entry in candidates)
        # What still lies aside has not come to its place: another content may lie there.
        placed = [entry for entry in candidates if entry not in still_aside]
        entry = _lying(volume, size, placed, where in known.unsure)
        if entry is not None:
            present.append(entry)
            continue
        if size and where not in known.unsure and placed:
            overwritten.add(where)
        elif size is not None:
            debris.append(candidates[0].path)
        missing.extend(placed[-1:])
    damaged = {place(path) for path in debris}
    foreign: list[CardPath] = []
    own_bytes = 0
    space = volume.space()
    for file in seen:
        if file.path.startswith(FOLDER + "/"):
            own_bytes += -(-file.size // space.cluster) * space.cluster
            if file.path.startswith(manifest.INCOMING + "/") and file.path not in waiting:
                debris.append(file.path)
        elif place(file.path) in damaged:
            own_bytes += -(-file.size // space.cluster) * space.cluster  # it goes first of all
        elif place(file.path) not in known.candidates or place(file.path) in overwritten:
            foreign.append(CardPath(file.path))
    if any(file.path.startswith(manifest.INCOMING + "/") for file in seen):
        own_bytes += space.cluster  # that folder goes, too
    ours = folders_of(place(path) for path in (*known.candidates, *vacated, manifest.MANIFEST))
    folders = tuple(
        CardPath(path)
        for path in listing.empty_folders
        if place(path) not in ours and not path.startswith(FOLDER + "/")
    )
    states = _slots(volume, sizes)
    used = slots.newest(*states)
    record = None if used is None else states[0 if used == "a" else 1].record
    cut_short = journal is not None or bool(debris) or manifest.MANIFEST_NEW in sizes
    unfinished = cut_short or manifest.MANIFEST not in sizes
    begun = next((line for line in reversed(lines) if line.kind == "begin"), JournalLine("begin"))
    state = CardState(
        entries=tuple(sorted(present, key=lambda entry: entry.path)),
        missing=tuple(sorted(missing, key=lambda entry: entry.path)),
        foreign=tuple(sorted(foreign)),
        catalogue_key=None if record is None else record.content_key,
        bytes_free=space.free,
        cluster_bytes=space.cluster,
        own_bytes=own_bytes,
        largest_file_bytes=largest_file_bytes,
        unfinished=unfinished,
        empty_folders=folders,
        arrived={entry.source: entry.size for entry in waiting.values()},
        room=begun.room if isinstance(begun.room, int) else None,
        coming=frozenset(begun.coming if isinstance(begun.coming, tuple) else ()),
    )
    vacated.difference_update(entry.path for entry in present)
    return CardReading(
        state,
        waiting,
        tuple(debris),
        tuple(sorted(vacated)),
        tuple(file.path for file in seen if place(file.path) in overwritten),
        states,
        manifest_lost=lost,
        manifest_absent=manifest.MANIFEST not in sizes and manifest.MANIFEST_NEW not in sizes,
        cut_short=cut_short,
        doubtful=tuple(
            sorted(
                [
                    *(path for path in waiting if path in known.unsure_asides),
                    *(entry.path for entry in present if place(entry.path) in known.unsure),
                ]
            )
        ),
        notices=tuple(notices),
        sizes=sizes,
    )


def _manifest(
    volume: Volume, sizes: dict[str, int]
) -> tuple[tuple[ManifestEntry, ...], bool, list[str]]:
    """The manifest's entries; whether there was one that could not be read; what to tell."""
    notices: list[str] = []
    for path in (manifest.MANIFEST, manifest.MANIFEST_NEW):
        data = volume.read(path) if path in sizes else None
        if data is None:
            continue
        try:
            return manifest.decode_manifest(data, volume.name), False, []
        except ManifestDamaged as damage:
            if path == manifest.MANIFEST:
                notices.append(f"{damage} It is made anew from what is on the card.")
    # A card with a catalogue but no manifest has lost it, unless its first update was interrupted.
    catalogue = slots.catalogue_path("a") in sizes or slots.catalogue_path("b") in sizes
    lost = bool(notices) or (catalogue and manifest.JOURNAL not in sizes)
    if lost and not notices:
        notices.append(
            f"The card {volume.name} has a catalogue but no manifest. It is made anew from what "
            "is on the card."
        )
    return (), lost, notices


def _leave_closed(volume: Volume, folder: str, known: Known) -> None:
    """Raises CardProblem if files of ours are in *folder*; another's may be closed to us."""
    inside = folder + "/"
    ours = (entry.path for entries in known.candidates.values() for entry in entries)
    if folder == FOLDER or any(path.startswith(inside) for path in ours):
        raise CardProblem(
            f"No permission to look into the folder {folder} on the card {volume.name}. Mount the "
            "card so that you may read and write it."
        )


def _blind_to_case(volume: Volume, sizes: dict[str, int]) -> bool:
    """Whether the card's file system is blind to case, tried on a file that is there."""
    probe = next((path for path in sizes if path.isascii() and path.swapcase() not in sizes), None)
    return probe is not None and volume.size(probe.swapcase()) is not None


def _waiting(volume: Volume, sizes: dict[str, int], known: Known) -> dict[str, ManifestEntry]:
    waiting = {}
    for aside, entry in known.asides.items():
        if sizes.get(aside) != entry.size:
            continue
        if aside in known.unsure_asides and not holds(volume, aside, entry.size, entry.xxh3_128):
            continue
        waiting[aside] = entry
    return waiting


def _lying(
    volume: Volume, size: int | None, candidates: list[ManifestEntry], unsure: bool
) -> ManifestEntry | None:
    for entry in candidates:
        if entry.size != size:
            continue
        if not unsure or holds(volume, entry.path, entry.size, entry.xxh3_128):
            return entry
    return None


def _slots(volume: Volume, sizes: dict[str, int]) -> tuple[SlotState, SlotState]:
    def one(slot: Slot) -> SlotState:
        path = slots.record_path(slot)
        raw = volume.read(path) if path in sizes else None
        record = None if raw is None else slots.decode(raw)
        return SlotState(record, sizes.get(slots.catalogue_path(slot)))

    return one("a"), one("b")
