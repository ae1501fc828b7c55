"""A composer put down for a track, with a confidence and a reason; or doubted.

Who it is, is found by ``attribution.py`` and ``names_around.py``, doubted by
``composer_doubts.py``.
"""

from syncd.model import Composer
from syncd.works.composers import Entry, Match
from syncd.works.namesakes import relative_by_number
from syncd.works.track import Track

UNSURE = 0.45
"""How sure a composer is at most whom other evidence speaks against."""


def put_down(
    track: Track, composer: Composer, entry: Entry | None, confidence: float, reason: str
) -> None:
    """Name *composer*, whom the table has as *entry* or has not."""
    track.composer, track.entry, track.composer_confidence = composer, entry, confidence
    track.reasons.append(f"composer: {reason}")


def attribute(track: Track, entry: Entry, confidence: float, reason: str) -> None:
    """Name a composer whom the table has."""
    put_down(track, entry.composer, entry, confidence, reason)


def attribute_name(track: Track, found: Match, confidence: float, reason: str) -> None:
    """Name the composer *found*, or the relative in whose catalogue the title's number is."""
    by_name = found.how in ("family name", "possessive")
    relative = relative_by_number(found.entry, track) if by_name else None
    if relative is not None:
        reason += ", of that family the one in whose catalogue the number is"
        attribute(track, relative, min(confidence, 0.8), reason)
    else:
        attribute(track, found.entry, confidence, reason)


def lower(track: Track, why: str) -> None:
    """Leave the composer named, but so unsurely that he is shown for review only."""
    track.composer_confidence = min(track.composer_confidence, UNSURE)
    track.reasons.append(f"composer in doubt: {why}")
