"""Whether a card has so much room that an update fits whatever its folders and catalogue take.

Reckoning to the cluster (``reckoning.py``) needs the catalogue and every folder that is met. Where
a bound from far above fits, that can be done without: the first byte does not wait for it.
"""

from syncd.applier.apply import BATCH_BYTES
from syncd.applier.manifest import INCOMING
from syncd.applier.reading import CardReading
from syncd.catalogue.largest import largest_catalogue
from syncd.planner.capacity import ENTRY_BYTES
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.places import folders_of
from syncd.planner.plan import Action, Placement, Plan

_LONGEST_NAME = 32 * ENTRY_BYTES
"""A name of 255 units and its fixed entries: 21 on FAT, 19 on exFAT; rounded up."""
_ENTRIES_A_FILE = 2 * _LONGEST_NAME
"""One aside, one in its place."""
_CATALOGUES = 3
"""The interim one, that of the end, and one that is written once more. The old one lies there."""
_MANIFESTS = 4
"""Two, each written once more."""
_LINES_A_FILE = 2
"""Of the journal: one when it is written, one when it did not come back as written."""
_LINE_BYTES = 256
"""Of a line of manifest or journal but for path and origin: keys, hash, size, aside, checksum."""
_BYTES_A_LETTER = 6
"""Of a path in JSON, where a control character takes most."""
_BATCHES_FIXED = 64
"""Barriers that are told beside those of the batches, in lines."""
_OWN_FILES = 16
"""Files of our own that may lie on the card at once, those held until a barrier included."""


def is_ample(plan: Plan, reading: CardReading) -> bool:
    """Whether *plan* surely fits on the card of *reading*, and leaves the reserve.

    The sizes of what *plan* writes must be exact. All that is written is taken as new, in new
    folders, and nothing as ever given back.
    """
    return most_taken(plan, reading) + RESERVE_BYTES <= reading.state.bytes_free


def most_taken(plan: Plan, reading: CardReading) -> int:
    """Bytes that an update by *plan* takes at no time more of, however the card is filled."""
    card = reading.state
    coming = {step.target for step in plan.steps if step.action in (Action.WRITE, Action.RENAME)}
    writes = {step.target for step in plan.steps if step.action is Action.WRITE}
    folders = len(folders_of(coming | {f"{INCOMING}/x"})) + 1  # and the root
    files = sum(card.allocated(place.size) for place in plan.end if place.path in writes)
    entries = len(coming) * _ENTRIES_A_FILE + (folders + _OWN_FILES) * _LONGEST_NAME
    # A folder that is new begins with a cluster; one that grows takes up to one more than it fills.
    rounded = (2 * folders + _OWN_FILES) * card.cluster_bytes
    told = _manifest_bytes(plan) * _MANIFESTS + _journal_bytes(plan, files)
    if plan.catalogue_key is not None:
        tracks = ((place.path, place.track) for place in plan.end if place.track is not None)
        told += largest_catalogue(tracks) * _CATALOGUES
    return files + entries + rounded + told


def _line_bytes(place: Placement) -> int:
    """A line that tells of *place*."""
    source = place.source
    origin = len(source.audio) + len(source.recipe) + len(source.dress)
    return _LINE_BYTES + origin + _BYTES_A_LETTER * len(place.path)


def _manifest_bytes(plan: Plan) -> int:
    """A manifest of the end, packed not at all: zlib adds five bytes a block of 16 KB then."""
    lines = sum(map(_line_bytes, plan.end)) + _LINE_BYTES
    return lines + lines // 1024 + len(plan.end) // 4 + 256


def _journal_bytes(plan: Plan, written: int) -> int:
    changed = {step.target for step in plan.steps}
    lines = sum(_line_bytes(place) for place in plan.end if place.path in changed)
    others = (_BATCHES_FIXED + written // BATCH_BYTES) * _LINE_BYTES
    return _LINES_A_FILE * lines + others + 24 * len(plan.coming)
