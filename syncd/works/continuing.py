"""Titles that leave out their work, which the track before has: "II. Andante" behind a first one.

"Korngold: Violin Concerto in D, Op. 35 / I. Moderato nobile", "II. Romance", "III. Finale": what
follows in order, with numbers that rise or headings of tempo, by the same players, goes on with the
work that was named last. Whether an album as a whole is one work is told by ``album_work.py``.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from syncd.works.movement import MovementReading
from syncd.works.piece import same_title
from syncd.works.track import Track
from syncd.works.worktitle.reading import WorkReading


def follow_on(tracks: Sequence[Track]) -> Iterator[tuple[Track, Track]]:
    """Each of *tracks* that goes on with a work, with the track that names the work.

    *tracks* are a unit's in their order. The work is noted in ``Track.continued``.
    """
    if len(tracks) < 2:
        return
    head: Track | None = tracks[0] if _begins(tracks[0]) else None
    for before, track in pairwise(tracks):
        if _begins(track):
            head = track
        elif head is not None and _goes_on(head, before, track):
            track.continued = _work_of(head)
            yield track, head
        else:
            head = None


def _work_of(head: Track) -> WorkReading | None:
    return head.title.work


def _begins(track: Track) -> bool:
    """Whether the title names a work, and a movement of it if it might be a movement's own."""
    title = track.title
    if title.work is None or title.source is not None:
        return False
    return title.movement is not None or title.work.strength >= 2


def _goes_on(head: Track, before: Track, track: Track) -> bool:
    title, movement = track.title, track.title.movement
    work = _work_of(head)
    if movement is None or work is None or title.work is not None or title.source is not None:
        return False
    if track.work_tag is not None or track.generic_title or title.composer is not None:
        return False
    if track.album.work is not None and same_title(work, track.album.work):
        return False  # the album tells as much
    one, other = before.fields, track.fields
    if one.album != other.album or one.disc != other.disc or one.artist != other.artist:
        return False
    if one.track is not None and other.track is not None and other.track != one.track + 1:
        return False
    if other.composer and other.composer != head.fields.composer:
        return False
    return _counts_on(before.title.movement, movement, work.strength >= 2)


def _counts_on(last: MovementReading | None, movement: MovementReading, sure: bool) -> bool:
    """Whether *movement* can follow the *last*; *sure* says that their work is one beyond doubt."""
    if last is None:  # "Violin Concerto, Op. 14", "II. Andante"
        return sure and movement.firm and movement.number == 2
    if last.heading is not None or movement.heading is not None:
        return False
    if movement.number is None:
        return sure and movement.tempo and (last.number is None or last.tempo)
    if not movement.firm or last.number is None:
        return False
    return last.number < movement.number if sure else movement.number == last.number + 1
