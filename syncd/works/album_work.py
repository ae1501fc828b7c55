"""Whether an album is one work, so that its plain tracks are movements of the work it names.

"Winterreise" is, "Moonlight Sonata and other pieces" is not. What a single track makes of the
answer is left to ``finding_work.py``.
"""

import re
from collections import defaultdict
from collections.abc import Sequence

from syncd.works.composer_tag import NAMELESS
from syncd.works.known_works import by_title
from syncd.works.movement import is_tempo
from syncd.works.movement_numbers import rising
from syncd.works.piece import Piece
from syncd.works.text import fold, title_key, word_set
from syncd.works.track import Track
from syncd.works.words.cycles import in_one_cycle
from syncd.works.words.forms import SECTION_FORMS
from syncd.works.worktitle.reading import WorkReading

_SECTION_WORDS = word_set(
    """
    overture ouverture prelude vorspiel prologue prolog epilogue kyrie gloria credo sanctus
    benedictus agnus introitus introit dies recordare lacrimosa lacrymosa offertorium offertory
    communio aria arie recitative recitativo rezitativ chorus chor coro choral chorale duet
    duett duetto terzetto quartetto finale intermezzo introduction introduzione einleitung
    entracte interlude scene szene scena ballet tanz dance sinfonia arioso cavatina romanze
    menuet menuetto scherzo promenade magnificat nunc hostias domine libera sequentia postlude
    cadenza tableau coda marche march marsch entree chaconne air
    """
)


_OF_DANCES = frozenset(
    """Suite|Partita|Ordre|Sonata|Serenade|Divertimento|Cassation|Sonatina|Orchestral Suite|
    Cello Suite|French Suite|English Suite""".replace("\n    ", "").split("|")
)
"""Forms whose movements are called by the forms of dances, arias, fugues."""


def _is_part_by_form(track: Track) -> bool:
    """Whether "Allemande" stands on the album of a suite: a form alone, without number and key."""
    work, whole = track.title.work, track.album.work
    return (
        work is not None
        and whole is not None
        and whole.form in _OF_DANCES
        and work.form in SECTION_FORMS
        and work.structured
        and work.number is None
        and work.key is None
    )


def _in_a_cycle(tracks: Sequence[Track]) -> bool:
    """Whether the titles follow the months, the planets or another cycle: parts of one work."""
    heads = [re.findall(r"[^\W\d_]+", fold(track.fields.title))[:1] for track in tracks]
    words = {head[0] for head in heads if head}
    return len(tracks) >= 3 and len(words) == len(tracks) and in_one_cycle(words)


def _looks_like_section(track: Track) -> bool:
    """Whether a title is one of a part within a work: a movement, a tempo, "Kyrie", "Aria"."""
    movement = track.title.movement
    if movement is not None and track.title.work is None:
        return True
    if track.generic_title:
        return True
    text = track.fields.title
    if is_tempo(text) or _is_part_by_form(track):
        return True
    words = re.findall(r"[^\W\d_]+", fold(text))
    return bool(words) and words[0] in _SECTION_WORDS


def albums_that_are_works(works: Sequence[Piece]) -> dict[str, bool]:
    """For each album of the unit, whether its plain tracks are movements of the work it names."""
    by_album: dict[str, list[Track]] = defaultdict(list)
    for piece in works:
        by_album[piece.track.album.text].append(piece.track)
    return {album: _is_one_work(tracks) for album, tracks in by_album.items()}


def _is_one_work(tracks: Sequence[Track]) -> bool:
    album = tracks[0].album
    if album.work is None or album.level == 0:
        return False
    nameless = [
        t.entry is None and (t.composer is None or t.composer.sort in NAMELESS) for t in tracks
    ]
    if album.level < 2 and all(nameless) and any(t.composer is not None for t in tracks):
        return False  # chants and dances of unknown men: the album is a collection
    plain = [t for t in tracks if t.work_tag is None and t.strength < 2 and t.title.source is None]
    if not plain:
        return album.level >= 2
    composers = {t.composer.sort for t in tracks if t.composer is not None}
    if len(composers) > 1:
        return False
    if album.level == 3:
        return True
    own = title_key(album.work.title)
    same = sum(
        1 for t in plain if t.title.work is not None and title_key(t.title.work.title) == own
    )
    sections = len(plain) if _in_a_cycle(plain) else sum(map(_looks_like_section, plain))
    if same and same < len(plain) and sections * 2 < len(plain) - same:
        return False  # the album is called after one of its works
    if album.level == 2:
        lone = len(plain) > 1 and same == 1 and sections == 0
        if lone and not _known_whole(album.work, composers):
            return False
        return len(plain) * 2 >= len(tracks) or sections > 0
    if same and same < len(plain) and not sections:
        return False
    return _numbered_through(plain) or sections * 5 >= len(plain) * 2


def _numbered_through(plain: Sequence[Track]) -> bool:
    """Whether the plain tracks are movements with rising numbers, but not all of another work."""
    if not rising([t.title.movement.number if t.title.movement else None for t in plain]):
        return False
    heads = {title_key(t.title.work.title) for t in plain if t.title.work is not None}
    return len(heads) != 1


def _known_whole(work: WorkReading, composers: set[str]) -> bool:
    composer = next(iter(composers), None)
    return by_title(composer, work.proper or work.title) is not None
