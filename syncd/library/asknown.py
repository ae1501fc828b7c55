"""Whether a master is still the one that the library knows: asked before anything is kept of it.

Between a scan and an update files are exchanged, retagged in place, replaced by better copies. What
is then decoded is not the audio under whose hash pressings, loudness and damage are kept, for good.
"""

import os
from collections.abc import Callable
from functools import lru_cache

from syncd.errors import ItemProblem
from syncd.library.audiohash import hash_file
from syncd.library.sheetspans import derived_hash
from syncd.model import AudioHash, LibraryPath, Track
from syncd.utf8 import printable

Holds = Callable[[Track], bool]
"""Whether a track's file holds the audio that its hash says."""

_REMEMBERED = 64


def anything(track: Track) -> bool:
    """Believe whatever is there."""
    return True


def still_holds(track: Track) -> bool:
    """Read *track*'s file to see whether its audio is the one that the library knows."""
    try:
        facts = os.stat(track.path)  # noqa: PTH116
        stamp = (facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino)
        whole = _audio_hash(track.path, track.audio.container, stamp)
    except (OSError, ItemProblem):
        return False
    span = track.span
    now = whole if span is None else derived_hash(whole, span.start, span.length)
    return now == track.audio_hash


@lru_cache(maxsize=_REMEMBERED)
def _audio_hash(path: LibraryPath, container: str, stamp: tuple[int, ...]) -> AudioHash:
    """One that is read for each of its spans, or for pressing and carrying, is read once."""
    return hash_file(path, container).audio


def sure(track: Track, holds: Holds) -> None:
    """Raises ItemProblem where *track* is another by now."""
    if not holds(track):
        raise ItemProblem(
            track.path,
            f"{printable(track.address)} changed since the last scan. Scan the library again.",
        )
