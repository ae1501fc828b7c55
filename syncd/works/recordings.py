"""Recordings: tracks of one work by the same performers, in order, until the movements begin again.

Each gets an id that depends on work, performers and album, and where those are the same on how many
came before. The numbers of its movements are left to ``movement_numbers.py``.
"""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from syncd.works.cast import LEADING, PLAYING
from syncd.works.movement_numbers import number_movements
from syncd.works.piece import Piece
from syncd.works.text import fold

_PAIRED = frozenset({"Fugue", "Fuga", "Fughetta"})
_LOOK_BACK = 8
"""Among so many of the latest recordings of a work a track is looked for its own."""


@dataclass(slots=True)
class _Recording:
    key: str
    pieces: list[Piece] = field(default_factory=list)
    last: int = -1

    def numbers(self) -> set[int]:
        """The written numbers of the movements that are there."""
        return {n for n in (piece.firm_number for piece in self.pieces) if n is not None}


def find_recordings(works: Sequence[Piece]) -> None:
    """Tell which tracks are one recording; give it its id and its movements their numbers."""
    counts: Counter[str] = Counter()
    for recording in _gathered(works):
        number_movements(recording.pieces, works)
        content = _content(recording)
        own = _digest(f"{content}\x1f{counts[content]}")
        counts[content] += 1
        for piece in recording.pieces:
            said = piece.track.correction.recording
            piece.recording = _digest(said) if said else own


def _gathered(works: Sequence[Piece]) -> list[_Recording]:
    recordings: list[_Recording] = []
    by_key: dict[str, list[_Recording]] = defaultdict(list)
    for piece in works:
        if not piece.work_key or piece.work_key.endswith("|"):
            continue
        near = reversed(by_key[piece.work_key][-_LOOK_BACK:])
        home = next((recording for recording in near if _belongs(piece, recording)), None)
        if home is None:
            home = _Recording(piece.work_key)
            by_key[piece.work_key].append(home)
            recordings.append(home)
        home.pieces.append(piece)
        home.last = piece.position
    return recordings


def _content(recording: _Recording) -> str:
    """What an id is made of: the work, those who play throughout (else at first), the album."""
    first = recording.pieces[0]
    casts = {id(piece.cast): piece for piece in recording.pieces}.values()
    everywhere = frozenset.intersection(*(_names(piece, PLAYING) for piece in casts))
    people = sorted(everywhere or _names(first, PLAYING))
    return "\x1f".join([recording.key, *people, "\x1e", fold(first.track.fields.album)])


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _names(piece: Piece, roles: Sequence[str]) -> frozenset[str]:
    return frozenset(fold(c.name) for c in piece.cast.credits if c.role in roles)


def _belongs(piece: Piece, recording: _Recording) -> bool:
    """Whether *piece* goes on with *recording*: same players, and no movement played again.

    An aria that is named without its opera stands for itself.
    """
    if piece.excerpt or recording.pieces[0].excerpt:
        return False
    contiguous = recording.last == piece.position - 1
    if _played_again(piece, recording, contiguous):
        return False
    return _same_players(piece, recording, contiguous)


def _played_again(piece: Piece, recording: _Recording, contiguous: bool) -> bool:
    """Whether the movement, or the whole work, is in *recording* already."""
    last = recording.pieces[-1]
    number = piece.firm_number
    if number is not None and number in recording.numbers():
        # Two tracks in a row may be parts of one movement.
        part = contiguous and last.firm_number == number and piece.movement != last.movement
        if not part:
            return True
    if number is not None and last.firm_number is not None:
        return False
    if not contiguous and piece.movement is not None:
        title = fold(piece.movement.title or "")
        others = (other.movement for other in recording.pieces)
        if any(other and other.title and fold(other.title) == title for other in others):
            return True
    if piece.movement is not None or piece.from_album:
        return False
    # The same whole work once more: another performance, unless it is split over tracks.
    split = contiguous and (_other_half(last, piece) or _cut_alike(last, piece))
    return not split and any(other.movement is None for other in recording.pieces)


def _same_players(piece: Piece, recording: _Recording, contiguous: bool) -> bool:
    last = recording.pieces[-1]
    if piece.cast is last.cast:
        return True
    mine, theirs = _names(piece, LEADING), _names(last, LEADING)
    if mine and theirs:
        if not mine & theirs:
            return False
        if contiguous or mine == theirs:
            one, other = _names(piece, ("conductor",)), _names(last, ("conductor",))
            return one == other or not one or not other
        return mine <= theirs or theirs <= mine
    a, b = _names(piece, PLAYING), _names(last, PLAYING)
    if a and b and not a & b:
        # Other players only where the numbers go on: each aria of an opera has its own singers.
        number = piece.firm_number
        below = max(recording.numbers(), default=0)
        return contiguous and number is not None and number > max(below, 1)
    return True


def _other_half(last: Piece, piece: Piece) -> bool:
    """Whether a fugue follows the prelude, toccata or fantasia of the same number."""
    one, two = last.reading, piece.reading
    if one is None or two is None or not one.raws or not two.raws:
        return False
    return two.form in _PAIRED and one.form not in _PAIRED and one.form is not None


def _cut_alike(last: Piece, piece: Piece) -> bool:
    """Whether two titles in a row are one, cut off before the movement that they name."""
    one, other = last.track, piece.track
    before, after = one.fields.track, other.fields.track
    return (
        one.cut
        and other.cut
        and one.fields.title == other.fields.title
        and before is not None
        and after == before + 1
    )
