"""Numbers and keys that stand once, on a track or in the album's title, given to the whole work.

Tracks are of one work here if composer and title are the same; what the catalogue numbers mean is
left to ``settling.py``.
"""

from collections import defaultdict
from collections.abc import Sequence

from syncd.works.known_works import by_title
from syncd.works.numbers.raw import RawNumber
from syncd.works.numbers.reading import numbers_in
from syncd.works.piece import Piece
from syncd.works.preferred_title import general_title
from syncd.works.text import title_key
from syncd.works.worktitle.reading import WorkReading


def share_facts(works: Sequence[Piece]) -> None:
    """Give each work the numbers and the key that stand on any of its tracks or in the album."""
    groups: dict[tuple[str, str], list[Piece]] = defaultdict(list)
    for piece in works:
        reading = piece.reading
        if reading is None:
            continue
        piece.raws = _with_track_numbers(piece, reading.raws)
        piece.key = reading.key
        groups[(piece.track.composer_sort or "", _base_of(piece, reading))].append(piece)
    for members in groups.values():
        _share(members)
    for piece in works:
        _album_facts(piece)


def _share(members: Sequence[Piece]) -> None:
    """Give the tracks of one work its numbers and its key where no two of them differ."""
    keys = {p.key for p in members if p.key}
    numbers = {tuple((r.prefix, r.main, r.sub) for r in p.raws) for p in members if p.raws}
    if len(numbers) > 1 and len(keys) <= 1 and set.intersection(*map(set, numbers)):
        # Two sets of numbers that share one number are one set written twice.
        union: dict[tuple[str, str, str | None], RawNumber] = {}
        for p in members:
            for raw in p.raws:
                union.setdefault((raw.prefix, raw.main, raw.sub), raw)
        for p in members:
            p.raws = tuple(union.values())
        numbers = {tuple(union)}
    if len(numbers) == 1:
        full = next(p.raws for p in members if p.raws)
        for p in members:
            p.raws = p.raws or full
    if len(keys) == 1 and len(numbers) <= 1:
        for p in members:
            p.key = p.key or next(iter(keys))


def _with_track_numbers(piece: Piece, raws: tuple[RawNumber, ...]) -> tuple[RawNumber, ...]:
    """*raws* with the numbers in the movement's heading, the OPUS tag and the subtitle."""
    found = list(raws)
    have = {(raw.prefix, raw.main) for raw in found}
    extra: list[RawNumber] = []
    if piece.movement is not None:
        extra.extend(piece.movement.raws)
    for text in (piece.track.fields.opus, piece.track.fields.subtitle):
        if text:
            extra.extend(numbers_in(f"Op. {text}" if text[:1].isdigit() else text))
    for raw in extra:
        if (raw.prefix, raw.main) not in have:
            found.append(raw)
            have.add((raw.prefix, raw.main))
    return tuple(found)


def _base_of(piece: Piece, reading: WorkReading) -> str:
    """What makes two readings the same work apart from numbers: form and number, or the title."""
    title = general_title(piece, reading)
    composer = piece.track.composer_sort
    known = by_title(composer, title) if composer else None
    return title_key(known.title if known is not None else title)


def _album_facts(piece: Piece) -> None:
    """Numbers and key from the album's title, where it names this very work."""
    reading = piece.reading
    if reading is None or piece.from_album:
        return
    works = [w for w in piece.track.album.works if (w.raws or w.key) and not w.range]
    if not works:
        return
    base = _base_of(piece, reading)
    for work in works:
        same = title_key(work.title) == base or (
            reading.form is not None
            and reading.form == work.form
            and reading.number is not None
            and reading.number == work.number
        )
        if not same:
            mine = {(raw.prefix, raw.main) for raw in piece.raws}
            same = bool(mine & {(raw.prefix, raw.main) for raw in work.raws}) and not work.plural
        if same:
            if not piece.raws and piece.set_number is None:
                piece.raws = work.raws
            if piece.key is None and not work.plural:
                piece.key = work.key
