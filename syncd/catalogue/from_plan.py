"""From a plan's end state to what the catalogue is built of. Pure.

The plan knows where each file lies, which gain was worked out for it and which picture belongs to
which recording or album; what that is to a player is said here.
"""

from collections.abc import Iterable, Sequence

from syncd.catalogue.belonging import CatalogueEntry, group_key
from syncd.model import CardPath
from syncd.planner.gain import told_gain
from syncd.planner.plan import Placement
from syncd.profile import Levelling, Profile


def entries_of(
    placements: Iterable[tuple[Placement, int]], end: Sequence[Placement], profile: Profile
) -> list[CatalogueEntry]:
    """The entries of *placements*, files with their sizes; *end* is the card's end state.

    *end* is in playing order with the picture of a recording or album after its files.
    """
    pictures = _pictures(end) if profile.tags.art == "file" else {}
    embedded = profile.tags.art == "embedded"
    return [
        CatalogueEntry(
            place.path,
            place.track.track,
            place.track.identity,
            size,
            gain_of(place, profile.loudness),
            "" if embedded and place.art is not None else pictures.get(place.path),
        )
        for place, size in placements
        if place.track is not None
    ]


def gain_of(placement: Placement, wanted: Levelling) -> int | None:
    """The gain to play *placement* with, in hundredths of a decibel; None if nothing is known.

    That of its recording or album, towards the profile's loudness, whichever tag it stands in.
    What has its gain in the samples needs none.
    """
    return None if wanted.mode == "off" else told_gain(placement.tags, wanted)


def _pictures(end: Sequence[Placement]) -> dict[CardPath, str]:
    """The name of the picture file beside each track that has one."""
    found: dict[CardPath, str] = {}
    group: list[Placement] = []
    for place in end:
        if place.track is not None:
            if group and not _together(group[-1], place):
                group = []
            group.append(place)
        elif place.art is not None:
            folder, _, name = place.path.rpartition("/")
            for track in group:
                if track.path.rpartition("/")[0] == folder:
                    found[track.path] = name
            group = []
    return found


def _together(one: Placement, other: Placement) -> bool:
    if one.track is None or other.track is None:
        return False
    return group_key(one.track.track, one.track.identity) == group_key(
        other.track.track, other.track.identity
    )
