"""What belongs together in the catalogue, and in what order. Pure.

Works by composer and catalogue number, else by composer and title; the movements of a recording by
the id that the works engine gave; popular albums by artist and title. Where spellings differ, the
commonest stands for all.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from syncd.catalogue.order import DisplayKey, display_key
from syncd.model import CardPath, Identity, Track
from syncd.works.known_works import identity_of

NO_ARTIST = "[Artist unknown]"
NO_ALBUM = "[Album unknown]"


@dataclass(frozen=True, slots=True)
class CatalogueEntry:
    """One file that is on the card: where, how large, and what it is.

    ``gain`` is what to play it with, in hundredths of a decibel, None where nothing is known.
    ``art`` is the name of a picture file in its folder, "" for a picture in the file itself.
    """

    path: CardPath
    track: Track
    identity: Identity
    size: int
    gain: int | None = None
    art: str | None = None


def performance_key(entry: CatalogueEntry) -> tuple[str, ...]:
    """What the movements of one recording have in common."""
    if entry.identity.recording:
        return ("id", entry.identity.recording)
    composer = entry.identity.composer.sort if entry.identity.composer is not None else ""
    return ("folder", composer, work_key(entry), entry.path.rpartition("/")[0])


def work_key(entry: CatalogueEntry) -> str:
    """What the recordings of one work have in common, besides the composer."""
    work = entry.identity.work
    if work is None:
        return "none"
    composer = entry.identity.composer.sort if entry.identity.composer is not None else ""
    _, sign = identity_of(composer, work.title, work.catalogue, work.key)
    return "sign " + same(sign)


def group_key(track: Track, identity: Identity) -> tuple[str, ...]:
    """What the tracks of one recording, or of one album, have in common wherever they lie."""
    if identity.recording:
        return ("recording", identity.recording)
    by = track.album_artist or identity.artist or track.artist
    return ("album", same(by), same(identity.album or track.album))


def in_order(movements: list[CatalogueEntry]) -> list[CatalogueEntry]:
    """By movement number where each has one of its own, else by disc and track.

    Numbers that begin anew (with each act, with each part) say less than the track's place.
    """
    if len(movements) == 1:
        return movements
    numbers = [e.identity.movement.number if e.identity.movement else None for e in movements]
    if None not in numbers and len(set(numbers)) == len(numbers):
        return sorted(movements, key=_movement_number)
    return album_order(movements)


def album_order(entries: list[CatalogueEntry]) -> list[CatalogueEntry]:
    """By disc and track, then by movement number, then by file name."""
    if len({_numbers(entry) for entry in entries}) == len(entries):
        return sorted(entries, key=_numbers)
    return sorted(entries, key=_album_place)


def _movement_number(entry: CatalogueEntry) -> int:
    movement = entry.identity.movement
    return movement.number or 0 if movement is not None else 0


def _numbers(entry: CatalogueEntry) -> tuple[int, int, int]:
    track = entry.track
    return (
        track.disc_number or 1,
        track.track_number if track.track_number is not None else 1 << 30,
        _movement_number(entry),
    )


def _album_place(entry: CatalogueEntry) -> tuple[tuple[int, int, int], DisplayKey, str]:
    return _numbers(entry), display_key(entry.path.rpartition("/")[2]), entry.path


def filed_artist(entry: CatalogueEntry) -> str:
    """Who an album is filed under: the album's artist, so that a compilation stays whole."""
    track = entry.track
    for name in (track.album_artist, entry.identity.artist, track.artist):
        if name and (shown := name.strip()):
            return shown
    return NO_ARTIST


def filed_album(entry: CatalogueEntry) -> str:
    """The album's title, supplied in brackets where the tags have none."""
    for title in (entry.identity.album, entry.track.album):
        if title and (shown := title.strip()):
            return shown
    return NO_ALBUM


def common_year(entries: Sequence[CatalogueEntry]) -> int | None:
    """The commonest year of *entries*, the first four figures of their dates; None if none."""
    years = [e.track.date[:4] for e in entries]
    if years and years.count(years[0]) == len(years):
        years = years[:1]  # which is so nearly always
    found = most_common([y for y in years if len(y) == 4 and y.isascii() and y.isdecimal()])
    return int(found) or None if found else None


def milliseconds(entry: CatalogueEntry) -> int:
    """A track's length; 0 where it is not known."""
    seconds = entry.track.audio.duration_s
    return round(seconds * 1000) if math.isfinite(seconds) and seconds > 0 else 0


@lru_cache(maxsize=262144)
def same(name: str) -> str:
    """What two spellings must share to be one name: letters, whatever their case and spacing."""
    return " ".join(name.split()).casefold()


def fullest(catalogue: tuple[str, ...]) -> tuple[int, tuple[str, ...]]:
    """What to choose the catalogue numbers with the most systems by."""
    return len(catalogue), catalogue


def best_spelling(spellings: Counter[str]) -> str:
    """The commonest of the counted spellings; of equals the first in order."""
    return min(spellings, key=lambda text: (-spellings[text], text), default="")


def most_common(texts: Sequence[str]) -> str:
    """The commonest of *texts*; of equals the first in order; empty if there is none."""
    if not texts:
        return ""
    first = texts[0]
    if texts.count(first) == len(texts):
        return first
    return best_spelling(Counter(texts))
