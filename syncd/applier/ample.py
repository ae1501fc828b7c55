"""Whether a card has so much room that an update fits whatever its folders and catalogue take.

Reckoning to the cluster (``reckoning.py``) needs the catalogue and every folder that is met. Where
a bound from far above fits, that can be done without: the first byte does not wait for it.
"""

from syncd.applier.manifest import INCOMING
from syncd.applier.reading import CardReading
from syncd.planner.capacity import ENTRY_BYTES
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.places import folders_of
from syncd.planner.plan import Action, Placement, Plan

_LONGEST_NAME = 32 * ENTRY_BYTES
"""A name of 255 units and its fixed entries: 21 on FAT, 19 on exFAT; rounded up."""
_ENTRIES_A_FILE = 2 * _LONGEST_NAME
"""One aside, one in its place."""
_OWN_A_FILE = 4096
"""Fixed parts of a file's rows in two catalogues, three manifests and the journal."""
_OWN_FIXED = 1 << 18
"""What two catalogues and the manifests take beside that, even for one file."""
_TIMES_TOLD = 16
"""How often a letter of a file's path or tags may stand in those, its sorting forms included."""
_BYTES_A_LETTER = 4
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
    return files + entries + rounded + _OWN_FIXED + sum(map(_told_of, plan.end))


def _told_of(place: Placement) -> int:
    """Bytes that our own files may take to tell of *place*."""
    letters = len(place.path) + sum(len(name) + len(value) for name, value in place.tags)
    if place.track is not None:
        track, identity = place.track.track, place.track.identity
        letters += len(f"{track.album}{track.title}{track.artist}{identity.artist}{identity.album}")
        letters += sum(len(credit.name) for credit in identity.credits)
    return _OWN_A_FILE + letters * _TIMES_TOLD * _BYTES_A_LETTER
