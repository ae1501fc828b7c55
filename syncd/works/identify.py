"""From the tags of an album unit to identities: the seam of the works engine.

Tag values in, identities out; pure but for package data that is read once. A unit is an album
folder with its disc folders (:func:`unit_of`); units do not influence each other, so a caller may
feed them one by one. Two steps: files become tracks with fields, titles, album, composer and kind
(``evidence.py``), tracks become works, recordings, movements and credits (``grouping.py``).
"""

from collections.abc import Sequence

from syncd.collector import collector_resting
from syncd.model import Identity, TaggedFile
from syncd.works.errata import Errata
from syncd.works.evidence import read_unit
from syncd.works.fields import unit_of
from syncd.works.grouping import identities_of
from syncd.works.report import explain, to_json
from syncd.works.track import Track

__all__ = ["explain", "identify", "to_json", "unit_of"]


def identify(files: Sequence[TaggedFile], errata: Errata | None = None) -> list[Identity]:
    """How *files* are catalogued, in their order; *errata* are the listener's corrections.

    The answer does not depend on the order of *files*, and files of different units do not
    influence each other. Never raises for what tags hold.
    """
    units: dict[str, list[int]] = {}
    for index, file in enumerate(files):
        units.setdefault(unit_of(file.path), []).append(index)
    result: list[Identity | None] = [None] * len(files)
    with collector_resting():
        for indices in units.values():
            members = [files[index] for index in indices]
            for index, identity in zip(indices, _identify_unit(members, errata), strict=True):
                result[index] = identity
    return [identity for identity in result if identity is not None]


def _identify_unit(files: Sequence[TaggedFile], errata: Errata | None) -> list[Identity]:
    tracks: list[Track] = read_unit(files, errata)
    by_position = identities_of(tracks)
    return [by_position[position] for position in range(len(files))]
