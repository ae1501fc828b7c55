"""From the evidence of a unit's tracks to works, recordings and the order of movements.

Works: a track's own title, the album's where the track is only a movement; facts that stand once
are taken over by the other tracks of the same work. Recordings: tracks of one work by the same
performers, in order, until the movements begin again.
"""

import hashlib
import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from syncd.model import Credit, Identity, Kind, Movement, Work
from syncd.works.cast import Cast, Lists, cast_of
from syncd.works.composers import table
from syncd.works.errata import Errata
from syncd.works.keys import parse_key
from syncd.works.known_works import by_number, by_title, identity_of, the_one
from syncd.works.movement import MovementReading, is_tempo, read_movement
from syncd.works.numbers.meaning import parse_number, resolve
from syncd.works.numbers.raw import RawNumber
from syncd.works.numbers.reading import numbers_in
from syncd.works.text import fold, is_shouting, title_key, unshout
from syncd.works.track import Track
from syncd.works.words.forms import SET_FORMS
from syncd.works.words.instruments import VOICES
from syncd.works.worktitle.language import is_russian
from syncd.works.worktitle.medium import medium_title
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading


@dataclass(slots=True, eq=False)
class Piece:
    """One track on its way to an identity: which work, which movement, by whom."""

    track: Track
    reading: WorkReading | None = None
    raws: tuple[RawNumber, ...] = ()
    key: str | None = None
    title: str = ""
    numbers: tuple[str, ...] = ()
    movement: MovementReading | None = None
    movement_text: str | None = None
    number: int | None = None
    from_album: bool = False
    from_source: bool = False
    confidence: float = 0.0
    cast: Cast = field(default_factory=Cast)
    work_key: str = ""
    recording: str | None = None
    position: int = 0
    set_number: int | None = None
    warnings: list[str] = field(default_factory=list)


def identities_of(tracks: Sequence[Track], errata: Errata | None) -> dict[int, Identity]:
    """The identity of each track of one unit, by its position among the unit's files."""
    pieces = [Piece(track) for track in tracks]
    works = [piece for piece in pieces if piece.track.kind is Kind.WORK]
    album_is_work = _albums_that_are_works(works)
    for position, piece in enumerate(works):
        piece.position = position
        _find_work(piece, album_is_work)
    _sets(works)
    _share_facts(works)
    for piece in works:
        _settle(piece)
    for piece in pieces:
        _people(piece)
    _recordings(works)
    return {piece.track.index: _identity(piece) for piece in pieces}


# --- works ---------------------------------------------------------------------------------------

_SECTION_WORDS = frozenset(
    [
        "overture",
        "ouverture",
        "ouverture",
        "prelude",
        "vorspiel",
        "prologue",
        "prolog",
        "epilogue",
        "kyrie",
        "gloria",
        "credo",
        "sanctus",
        "benedictus",
        "agnus",
        "introitus",
        "introit",
        "dies",
        "recordare",
        "lacrimosa",
        "lacrymosa",
        "offertorium",
        "offertory",
        "communio",
        "aria",
        "arie",
        "recitative",
        "recitativo",
        "rezitativ",
        "chorus",
        "chor",
        "coro",
        "choral",
        "chorale",
        "duet",
        "duett",
        "duetto",
        "terzetto",
        "quartetto",
        "finale",
        "intermezzo",
        "introduction",
        "introduzione",
        "einleitung",
        "entracte",
        "interlude",
        "scene",
        "szene",
        "scena",
        "ballet",
        "tanz",
        "dance",
        "sinfonia",
        "arioso",
        "cavatina",
        "romanze",
        "menuet",
        "menuetto",
        "scherzo",
        "promenade",
        "magnificat",
        "nunc",
        "hostias",
        "domine",
        "libera",
        "sequentia",
        "postlude",
        "cadenza",
        "tableau",
        "coda",
        "ouverture.",
        "marche",
        "march",
        "marsch",
        "entree",
        "chaconne",
        "air",
    ]
)


def _looks_like_section(track: Track) -> bool:
    movement = track.title.movement
    if movement is not None and track.title.work is None:
        return True
    if track.generic_title:
        return True
    text = track.fields.title
    if is_tempo(text):
        return True
    words = re.findall(r"[^\W\d_]+", fold(text))
    return bool(words) and words[0] in _SECTION_WORDS


def _albums_that_are_works(works: Sequence[Piece]) -> dict[str, bool]:
    """For each album of the unit, whether its plain tracks are movements of the work it names."""
    by_album: dict[str, list[Track]] = defaultdict(list)
    for piece in works:
        by_album[piece.track.album.text].append(piece.track)
    answer: dict[str, bool] = {}
    for album, tracks in by_album.items():
        reading = tracks[0].album
        answer[album] = False
        if reading.work is None or reading.level == 0:
            continue
        own = title_key(reading.work.title)
        plain = [
            t for t in tracks if t.work_tag is None and t.strength < 2 and t.title.source is None
        ]
        if not plain:
            answer[album] = reading.level >= 2
            continue
        composers = {t.composer.sort for t in tracks if t.composer is not None}
        if len(composers) > 1:
            continue
        same = sum(
            1 for t in plain if t.title.work is not None and title_key(t.title.work.title) == own
        )
        sections = sum(1 for t in plain if _looks_like_section(t))
        if reading.level == 3:
            answer[album] = True
        elif same and same < len(plain) and sections * 2 < len(plain) - same:
            answer[album] = False  # the album is called after one of its works
        elif reading.level == 2:
            answer[album] = len(plain) * 2 >= len(tracks) or sections > 0
            lone = len(plain) > 1 and same == 1 and sections == 0
            if lone and not _known_whole(reading.work, composers):
                answer[album] = False
        else:
            heads = {
                title_key(t.title.work.title)
                for t in plain
                if t.title.movement is not None and t.title.work is not None
            }
            inner = [t.title.movement.number for t in plain if t.title.movement is not None]
            rising = (
                len(inner) == len(plain)
                and all(n is not None for n in inner)
                and all(a is not None and b is not None and a < b for a, b in pairwise(inner))
            )
            if same and same < len(plain) and not sections:
                answer[album] = False
            elif rising and len(heads) != 1:
                answer[album] = True
            else:
                answer[album] = sections * 5 >= len(plain) * 2
    return answer


def _known_whole(work: WorkReading, composers: set[str]) -> bool:
    composer = next(iter(composers), None)
    return by_title(composer, work.proper or work.title) is not None


def _find_work(piece: Piece, album_is_work: dict[str, bool]) -> None:
    track = piece.track
    title = track.title
    album = track.album
    as_album = album_is_work.get(album.text, False) and album.work is not None
    movement = title.movement
    if track.work_tag is not None:
        piece.reading = track.work_tag
        piece.confidence = 0.97
        track.reasons.append("work: WORK tag" if track.fields.work else "work: grouping tag")
        piece.movement, piece.movement_text = _movement_beside_tag(track)
    elif title.source is not None:
        piece.reading = title.source
        piece.from_source = True
        piece.confidence = 0.85
        track.reasons.append("work: named as the source in the title")
        text = (
            movement.title
            if movement is not None and movement.title
            else (title.work.title if title.work is not None else None)
        )
        if title.work is not None and title.work.proper:
            text = title.work.proper
        piece.movement = (
            replace(movement, title=text) if movement is not None else MovementReading(None, text)
        )
    elif title.work is None and (movement is not None or track.generic_title):
        piece.movement = movement
        if movement is not None and _source_in_brackets(piece, movement):
            return
        if album.work is not None and (album.level >= 2 or as_album):
            _take_album(piece, 0.92 if album.level == 3 else 0.88 if album.level == 2 else 0.75)
        elif album.work is not None:
            _take_album(piece, 0.65)
        else:
            named = _matching_album_work(track)
            if named is not None:
                piece.reading = named
                piece.from_album = True
                piece.confidence = 0.6
            elif (
                movement is not None
                and movement.title
                and not movement.tempo
                and movement.kind == "digit"
            ):
                piece.reading = read_work(movement.title)
                piece.movement = None
                piece.confidence = 0.75
            else:
                piece.confidence = 0.3
    elif title.work is not None:
        own = title.work
        known = _is_known(track, own)
        if not known and own.strength < 2 and movement is None and track.composer is not None:
            for name in own.bracket_names:
                whole = by_title(track.composer.sort, name)
                if whole is not None:
                    piece.reading = read_work(name)
                    piece.from_source = True
                    piece.confidence = 0.8
                    piece.movement = MovementReading(None, own.proper)
                    track.reasons.append("work: named in brackets behind the title")
                    return
        if as_album and movement is None and _is_next_of_set(track, own):
            _take_album(piece, 0.88 if album.level >= 2 else 0.75)
            piece.movement = MovementReading(
                own.number, _ORDINAL.sub("", _whole_title(track)), True, kind="digit"
            )
            return
        if as_album and not title.firm and own.strength < 2 and not _same_title(own, album.work):
            if (
                movement is None
                and not (known and album.level < 2)
                and not _stands_alone(track, own)
            ):
                _take_album(piece, 0.9 if album.level >= 2 else 0.75)
                piece.movement = read_movement(track.fields.title)
                if piece.movement.number is None:
                    piece.movement = replace(piece.movement, title=_whole_title(track))
                return
            if movement is not None and not known:
                _take_album(piece, 0.88 if album.level >= 2 else 0.7)
                piece.movement = replace(movement, heading=own.text, inner=movement.number)
                return
        if (
            as_album
            and own.form
            and own.number is not None
            and not own.key
            and not own.raws
            and (
                album.work is not None
                and album.work.plural
                and album.work.form == own.form
                and movement is None
            )
        ):
            # "Caprice No. 5 in A minor" on "24 Caprices, Op. 1"
            _take_album(piece, 0.9)
            piece.movement = MovementReading(own.number, _whole_title(track), True, kind="number")
            return
        if (
            as_album
            and album.work is not None
            and album.work.plural
            and album.work.form == own.form
            and (own.number is not None and not own.raws and movement is None and album.work.raws)
        ):
            _take_album(piece, 0.9)
            piece.movement = MovementReading(own.number, _whole_title(track), True, kind="number")
            return
        piece.reading = own
        piece.movement = movement
        if movement is None:
            part = _part_of_bracket(track)
            if part is not None:
                piece.movement = MovementReading(None, part)
        if own.strength >= 2:
            piece.confidence = 0.95
        elif title.firm or known:
            piece.confidence = 0.9
        else:
            piece.confidence = 0.8
        track.reasons.append(
            "work: the title's own structure"
            if own.strength >= 2 or movement
            else "work: the title"
        )


_ORDINAL = re.compile(r"^\d{1,3}\s*[.)]\s*")


def _is_next_of_set(track: Track, own: WorkReading) -> bool:
    """Whether "6. Canción" on track 6 is the sixth piece of the album's work, not a sixth song."""
    return (
        own.ordinal_foreign
        and own.number is not None
        and own.number == track.fields.track
        and not own.raws
        and own.key is None
        and _ORDINAL.match(own.text) is not None
        and not _same_title(own, track.album.work)
    )


_LAST_BRACKET = re.compile(r"^(?P<before>.+?)\s*[(\[](?P<inner>[^()\[\]]+)[)\]]$")


def _source_in_brackets(piece: Piece, movement: MovementReading) -> bool:
    """Whether the work stands in brackets behind a title that begins like a tempo heading.

    "Largo al factotum (Il barbiere di Siviglia)": only a work known to be the composer's counts.
    """
    track = piece.track
    found = _LAST_BRACKET.match(movement.title or "")
    if found is None or track.composer is None:
        return False
    name = found.group("inner")
    if by_title(track.composer.sort, name) is None:
        return False
    piece.reading = read_work(name)
    piece.from_source = True
    piece.confidence = 0.8
    piece.movement = replace(movement, title=found.group("before"))
    track.reasons.append("work: named in brackets behind the title")
    return True


def _part_of_bracket(track: Track) -> str | None:
    """The movement before a work in brackets: "Rondo alla turca (Piano Sonata No. 11, K. 331)".

    Only beside a known work that is not called so itself, as "Moonlight Sonata (Op. 27 No. 2)" is.
    """
    found = _LAST_BRACKET.match(track.fields.title)
    if found is None or track.entry is None:
        return None
    before, inner = found.group("before").strip(), read_work(found.group("inner"))
    if track.title.composer_text or not (inner.form and inner.raws):
        return None
    composer = track.entry.sort
    numbers = resolve(inner.raws, track.entry.systems, composer).numbers
    known = by_number(composer, numbers)
    if known is None or known in (by_title(composer, before), the_one(composer, before)):
        return None
    own = read_work(before)
    return None if own.structured or own.form == inner.form else before


def _stands_alone(track: Track, own: WorkReading) -> bool:
    """Whether a plain title names a work of its own although the album names one, too."""
    return bool(own.raws)


def _is_known(track: Track, reading: WorkReading) -> bool:
    if track.composer is None or not reading.title:
        return False
    return by_title(track.composer.sort, reading.proper or reading.title) is not None or (
        by_title(track.composer.sort, reading.title) is not None
    )


def _same_title(one: WorkReading | None, other: WorkReading | None) -> bool:
    if one is None or other is None:
        return False
    a, b = title_key(one.proper or one.title), title_key(other.proper or other.title)
    return a == b or (bool(a) and (title_key(one.title) == title_key(other.title)))


def _whole_title(track: Track) -> str:
    text = track.fields.title
    composer = track.title.composer_text
    if composer and text.startswith(composer):
        text = text[len(composer) :].lstrip(" :-–—,")
    reading = read_movement(text)
    return reading.title or text


def _take_album(piece: Piece, confidence: float) -> None:
    piece.reading = piece.track.album.work
    piece.from_album = True
    piece.confidence = confidence
    piece.track.reasons.append(
        "work: from the album's title"
        if piece.track.fields.album
        else "work: from the folder's name"
    )


def _matching_album_work(track: Track) -> WorkReading | None:
    works = [work for work in track.album.works if work.strength >= 2 and not work.plural]
    return works[0] if len(works) == 1 else None


def _movement_beside_tag(track: Track) -> tuple[MovementReading | None, str | None]:
    """The movement of a track that has a WORK tag: from MOVEMENT tags, else from the title."""
    fields = track.fields
    number = None
    tagged = re.match(r"\s*(\d{1,3})", fields.movement or fields.part)
    name = fields.movement_name
    if tagged is not None:
        number = int(tagged.group(1))
    else:
        reading = read_movement(fields.movement) if fields.movement else None
        if reading is not None and reading.number is not None:
            number = reading.number
            name = name or (reading.title or "")
        elif fields.movement and not name:
            name = fields.movement
        if number is None and fields.part:
            part = read_movement(fields.part)
            number = part.number
            name = name or (part.title or "")
    if name:
        inner = read_movement(name)
        title = inner.title if inner.firm and inner.title else name
        if number is None and inner.firm:
            number = inner.number
        return MovementReading(number, title, True, tempo=is_tempo(title or ""), kind="tag"), None
    text = fields.title
    if track.title.composer_text and text.startswith(track.title.composer_text):
        text = text[len(track.title.composer_text) :].lstrip(" :-–—,")
    for whole in (fields.work, fields.grouping):
        if whole and fold(text).startswith(fold(whole)):
            rest = text[len(whole) :].strip(" :-–—,;./")
            if not rest:
                return (MovementReading(number, None, True, kind="tag") if number else None), None
            reading = read_movement(rest)
            return replace(reading, number=number if number is not None else reading.number), None
    if track.title.movement is not None and track.title.firm:
        reading = track.title.movement
        return replace(reading, number=number if number is not None else reading.number), None
    if (
        track.title.work is not None
        and track.work_tag is not None
        and (
            title_key(track.title.work.title) == title_key(track.work_tag.title)
            and track.title.movement is None
        )
    ):
        return (MovementReading(number, None, True, kind="tag") if number else None), None
    reading = read_movement(text)
    if number is not None:
        reading = replace(reading, number=number, firm=True, kind="tag")
    return reading, None


def _sub_of(raws: Sequence[RawNumber]) -> tuple[str, int] | None:
    for raw in raws:
        if raw.sub and raw.sub.isdigit():
            return f"{raw.prefix} {raw.main}", int(raw.sub)
    return None


def _sets(works: Sequence[Piece]) -> None:
    """Pieces of one opus that are movements of a set where several of them are there."""
    groups: dict[tuple[str, str, str], list[Piece]] = defaultdict(list)
    for piece in works:
        reading = piece.reading
        if reading is None or piece.from_album:
            continue
        sub = _sub_of(reading.raws)
        if sub is None or reading.form not in SET_FORMS or piece.track.work_tag is not None:
            continue
        composer = piece.track.composer.sort if piece.track.composer else ""
        groups[(composer, sub[0], reading.form or "")].append(piece)
    for members in groups.values():
        subs = {_sub_of(p.reading.raws) for p in members if p.reading is not None}
        if len(subs) < 2:
            continue
        for piece in members:
            reading = piece.reading
            assert reading is not None
            sub = _sub_of(reading.raws)
            assert sub is not None
            form = reading.form or ""
            text = _without_numbers(piece.track)
            piece.set_number = sub[1]
            piece.movement = MovementReading(sub[1], text, True, kind="number")
            piece.reading = replace(
                reading,
                raws=tuple(replace(raw, sub=None) for raw in reading.raws),
                title=plural_of(form),
                number=None,
                key=None,
                plural=True,
                structured=True,
                instruments=(),
                nickname=None,
            )


def _without_numbers(track: Track) -> str:
    return _whole_title(track)


_IRREGULAR = {
    "Waltz": "Waltzes",
    "Duo": "Duos",
    "Rhapsody": "Rhapsodies",
    "Elegy": "Elegies",
    "Fantasia": "Fantasias",
}


def plural_of(form: str) -> str:
    """The English plural of a form ("Études")."""
    if form.endswith("s"):
        return form
    return _IRREGULAR.get(form, form + "s")


def _share_facts(works: Sequence[Piece]) -> None:
    """Give each work the numbers and the key that stand on any of its tracks or in the album."""
    groups: dict[tuple[str, str], list[Piece]] = defaultdict(list)
    for piece in works:
        reading = piece.reading
        if reading is None:
            continue
        piece.raws = _with_track_numbers(piece, reading.raws)
        piece.key = reading.key
        composer = piece.track.composer.sort if piece.track.composer else ""
        groups[(composer, _base_of(piece, reading))].append(piece)
    for members in groups.values():
        keys = {p.key for p in members if p.key}
        numbers = {tuple((r.prefix, r.main, r.sub) for r in p.raws) for p in members if p.raws}
        if len(numbers) > 1:
            # Two sets of numbers that share one number are one set written twice.
            common = set.intersection(*[set(n) for n in numbers])
            if common and len(keys) <= 1:
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
                if not p.raws:
                    p.raws = full
        if len(keys) == 1 and len(numbers) <= 1:
            for p in members:
                p.key = p.key or next(iter(keys))
    for piece in works:
        _album_facts(piece)


def _with_track_numbers(piece: Piece, raws: tuple[RawNumber, ...]) -> tuple[RawNumber, ...]:
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
    title = _general(piece, reading)
    composer = piece.track.composer.sort if piece.track.composer else None
    known = by_title(composer, title) if composer else None
    return title_key(known.title if known is not None else title)


def _album_facts(piece: Piece) -> None:
    reading = piece.reading
    if reading is None or piece.from_album:
        return
    base = _base_of(piece, reading)
    for work in piece.track.album.works:
        if not (work.raws or work.key) or work.range:
            continue
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


_KEYBOARDISTS = frozenset({"piano", "harpsichord", "fortepiano", "organ"})


def _general(piece: Piece, reading: WorkReading) -> str:
    """The title by the conventions; a sonata's medium is taken from album and performers."""
    title = reading.title
    if (
        reading.form in ("Sonata", "Sonatina")
        and reading.structured
        and not reading.instruments
        and (title.startswith(reading.form))
    ):
        medium = _medium(piece, reading.form)
        if medium:
            return medium + title
    return title


def _medium(piece: Piece, form: str) -> str:
    track = piece.track
    if track.composer is not None and track.composer.sort in (
        "Scarlatti, Domenico",
        "Soler, Antonio",
    ):
        return "Keyboard "
    for work in track.album.works:
        if work.form == form and work.instruments:
            title = medium_title(form, work.instruments, {}, None, False, False)
            if title.endswith(f" {form}"):
                return title[: -len(form)]
    instruments = tuple(
        dict.fromkeys("piano" if name == "fortepiano" else name for name in _instruments(track))
    )
    if instruments == ("harpsichord",):
        return "Keyboard "
    if instruments:
        title = medium_title(form, instruments, {}, None, False, False)
        if title.endswith(f" {form}"):
            return title[: -len(form)]
    return ""


def _instruments(track: Track) -> tuple[str, ...]:
    cast = _cast(track, "Sonata")
    return tuple(
        dict.fromkeys(
            credit.instrument
            for credit in cast.credits
            if credit.role == "soloist" and credit.instrument and credit.instrument not in VOICES
        )
    )


def _settle(piece: Piece) -> None:
    """Catalogue numbers by the composer's systems, the canonical title, the work's key."""
    track = piece.track
    reading = piece.reading
    correction = track.correction
    if reading is None and correction.work is None:
        return
    systems = None
    if track.entry is not None:
        systems = track.entry.systems
    composer = track.composer.sort if track.composer else None
    resolved = resolve(piece.raws, systems, composer)
    numbers = resolved.numbers
    warnings = resolved.warnings
    if warnings and track.arrangers:
        # A transcription has its number in the arranger's catalogue (Liszt's S. 566).
        for name in track.arrangers:
            found = table().exact(name)
            if found is not None:
                theirs = resolve(piece.raws, found.entry.systems, found.entry.sort)
                extra = tuple(n for n in theirs.numbers if n not in numbers)
                if extra:
                    numbers, warnings = numbers + extra, ()
    piece.warnings.extend(warnings)
    if reading is not None:
        title = _general(piece, reading)
        if is_shouting(title):
            title = unshout(title)
        if warnings and not reading.structured and not title:
            title = reading.text
        known = None
        if composer is not None and numbers:
            known = by_number(composer, numbers)
        if known is None and composer is not None:
            known = by_title(composer, reading.proper or title) or by_title(composer, title)
            if known is None and not numbers:
                named = f"{reading.nickname or ''} {reading.form or ''}".strip()
                known = the_one(composer, named, piece.key) or the_one(composer, title, piece.key)
        if known is not None and not (reading.structured and title.startswith(known.title)):
            title = known.title
        piece.title = title
    if correction.work is not None:
        piece.title = correction.work
        piece.confidence = 1.0
    if correction.catalogue is not None:
        numbers = tuple(
            parse_number(text, systems, composer) or text for text in correction.catalogue
        )
        piece.confidence = max(piece.confidence, 0.97)
    if correction.key is not None:
        piece.key = parse_key(correction.key) or correction.key
    piece.numbers = numbers
    _, sign = identity_of(composer or "", piece.title, numbers, piece.key)
    piece.work_key = f"{composer or ''}|{sign}"


# --- people --------------------------------------------------------------------------------------

_SOLO_FORMS = frozenset({"Concerto", "Concertino", "Concert Piece", "Double Concerto", "Triple Concerto",  # noqa: E501
                         "Sinfonia concertante"})  # fmt: skip


_FOR_WHOM = re.compile(
    r"\b(?:violin|piano|guitar|orchestra|cello|flute|organ|strings|quartet|voice|brass|harp|winds?)\b"
)


def _cast(track: Track, form: str | None) -> Cast:
    fields = track.fields
    arrangers = list(track.arrangers)
    if track.title.arranger and not _FOR_WHOM.search(track.title.arranger.lower()):
        arrangers.append(track.title.arranger)
    composers = {track.composer.sort} if track.composer else set()
    lists = Lists(
        conductor=fields.conductor,
        ensemble=fields.ensemble,
        choir=fields.choir,
        soloist=fields.soloists,
        performer=fields.performer,
        artist=fields.artist,
        album_artist=fields.album_artist,
        arranger=tuple(dict.fromkeys((*arrangers, *fields.arranger))),
        lyricist=fields.lyricist,
        elsewhere=track.title.people,
    )
    cast = cast_of(lists, frozenset(composers), form in _SOLO_FORMS)
    if (
        not any(c.role in ("soloist", "conductor", "ensemble", "choir") for c in cast.credits)
        and track.album.people
    ):
        cast = cast_of(
            replace(lists, elsewhere=track.album.people), frozenset(composers), form in _SOLO_FORMS
        )
    return cast


def _people(piece: Piece) -> None:
    track = piece.track
    if track.kind is Kind.WORK:
        form = piece.reading.form if piece.reading is not None else None
        piece.cast = _cast(track, form)
        if piece.reading is not None and is_russian(piece.reading.text):
            # Transliterated Russian: fortepiano is the piano.
            pianos = tuple(
                replace(credit, instrument="piano") if credit.instrument == "fortepiano" else credit
                for credit in piece.cast.credits
            )
            piece.cast = Cast(pianos, piece.cast.inferred)
    correction = track.correction
    if correction:
        credits = list(piece.cast.credits)
        for values, role in (
            (correction.conductor, "conductor"),
            (correction.ensembles, "ensemble"),
            (correction.choirs, "choir"),
        ):
            if values is not None:
                credits = [c for c in credits if c.role != role]
                credits.extend(Credit(name, role) for name in values)
        if correction.soloists is not None:
            given = cast_of(Lists(performer=correction.soloists), frozenset(), True).credits
            credits = [c for c in credits if c.role != "soloist"] + list(given)
        if correction.arranger is not None:
            credits = [c for c in credits if c.role != "arranger"]
            credits.append(Credit(correction.arranger, "arranger"))
        piece.cast = Cast(tuple(credits), piece.cast.inferred)


# --- recordings and movements --------------------------------------------------------------------


@dataclass(slots=True)
class _Recording:
    key: str
    pieces: list[Piece] = field(default_factory=list)
    last: int = -1

    def numbers(self) -> set[int]:
        return {n for n in (_firm(piece) for piece in self.pieces) if n is not None}


def _firm(piece: Piece) -> int | None:
    movement = piece.movement
    if movement is None or not movement.firm or movement.heading is not None:
        return None
    return movement.number


def _performers(piece: Piece) -> frozenset[str]:
    return frozenset(
        fold(c.name)
        for c in piece.cast.credits
        if c.role in ("conductor", "ensemble", "choir", "soloist")
    )


def _leaders(piece: Piece) -> frozenset[str]:
    return frozenset(
        fold(c.name) for c in piece.cast.credits if c.role in ("conductor", "ensemble", "choir")
    )


def _recordings(works: Sequence[Piece]) -> None:
    recordings: list[_Recording] = []
    by_key: dict[str, list[_Recording]] = defaultdict(list)
    for piece in works:
        if not piece.work_key or piece.work_key.endswith("|"):
            continue
        home: _Recording | None = None
        for recording in by_key[piece.work_key][:-9:-1]:
            if _belongs(piece, recording):
                home = recording
                break
        if home is None:
            home = _Recording(piece.work_key)
            by_key[piece.work_key].append(home)
            recordings.append(home)
        home.pieces.append(piece)
        home.last = piece.position
    counts: Counter[tuple[str, str]] = Counter()
    for recording in recordings:
        _number(recording, works)
        first = recording.pieces[0]
        casts = {id(piece.cast): piece for piece in recording.pieces}.values()
        people: list[str] = sorted(
            frozenset.intersection(*map(_performers, casts)) or _performers(first)
        )
        album = fold(first.track.fields.album)
        content = "\x1f".join([recording.key, *people, "\x1e", album])
        ordinal = counts[(content, "")]
        counts[(content, "")] += 1
        digest = hashlib.sha256(
            f"{content}\x1f{ordinal}".encode("utf-8", "surrogatepass")
        ).hexdigest()[:16]
        for piece in recording.pieces:
            correction = piece.track.correction
            piece.recording = (
                hashlib.sha256(correction.recording.encode("utf-8", "surrogatepass")).hexdigest()[
                    :16
                ]
                if correction.recording
                else digest
            )


def _belongs(piece: Piece, recording: _Recording) -> bool:
    """Whether *piece* goes on with *recording*: same players, and no movement played again."""
    last = recording.pieces[-1]
    number = _firm(piece)
    contiguous = recording.last == piece.position - 1
    if number is not None and number in recording.numbers():  # noqa: SIM102
        if not (contiguous and _firm(last) == number and piece.movement != last.movement):
            return False
    if number is None or _firm(last) is None:
        same = any(
            p.movement is not None
            and piece.movement is not None
            and p.movement.title
            and fold(p.movement.title) == fold(piece.movement.title or "")
            for p in recording.pieces
        )
        if same and not contiguous:
            return False
        whole = piece.movement is None and any(p.movement is None for p in recording.pieces)
        if whole and not piece.from_album and not (contiguous and _other_half(last, piece)):
            # The same whole work once more: another performance, unless it is split over tracks.
            return False
    if piece.cast is last.cast:
        return True
    mine, theirs = _leaders(piece), _leaders(last)
    if mine and theirs:
        if not mine & theirs:
            return False
        if contiguous or mine == theirs:
            return (
                _conductors(piece) == _conductors(last)
                or not _conductors(piece)
                or not _conductors(last)
            )
        return mine <= theirs or theirs <= mine
    a, b = _performers(piece), _performers(last)
    if a and b and not a & b:
        return (
            contiguous
            and number is not None
            and number > max(recording.numbers(), default=0)
            and number > 1
        )
    return True


_PAIRED = frozenset({"Fugue", "Fuga", "Fughetta"})


def _other_half(last: Piece, piece: Piece) -> bool:
    """Whether a fugue follows the prelude, toccata or fantasia of the same number."""
    one, two = last.reading, piece.reading
    if one is None or two is None or not one.raws or not two.raws:
        return False
    return two.form in _PAIRED and one.form not in _PAIRED and one.form is not None


def _conductors(piece: Piece) -> frozenset[str]:
    return frozenset(fold(c.name) for c in piece.cast.credits if c.role == "conductor")


def _rising(values: Sequence[int | None]) -> bool:
    return all(value is not None for value in values) and all(
        a is not None and b is not None and a < b for a, b in pairwise(values)
    )


def _number(recording: _Recording, works: Sequence[Piece]) -> None:
    """Give the movements of a recording their numbers."""
    pieces = recording.pieces
    movements = [piece.movement for piece in pieces]
    if all(movement is None for movement in movements):
        if len(pieces) > 1 and all(p.from_album for p in pieces):
            _by_position(pieces)
        return
    numbers = [m.number if m is not None and m.heading is None else None for m in movements]
    inner = [m.inner if m is not None and m.inner is not None else None for m in movements]
    headed = any(m is not None and m.heading is not None for m in movements)
    chosen: list[int | None] | None = None
    if headed:
        mixed = [i if i is not None else n for i, n in zip(inner, numbers, strict=True)]
        if all(value is not None for value in mixed) and _rising(mixed):
            chosen = mixed
        elif all(
            m is not None and m.kind == "part" and m.number is not None for m in movements
        ) and _rising([m.number for m in movements if m is not None]):
            chosen = [m.number for m in movements if m is not None]
    elif any(number is not None for number in numbers):
        if _rising([n for n in numbers if n is not None]) or len(pieces) == 1:
            nested = sum(
                1
                for m in movements
                if m is not None and m.title and re.search(r":\s*\d+\.", m.title)
            )
            if not nested:
                chosen = numbers
        elif all(m is not None and m.kind == "tag" for m in movements) or len(
            {n for n in numbers if n is not None}
        ) == len([n for n in numbers if n is not None]):
            chosen = numbers
    if chosen is None and len(pieces) == 1 and not headed:
        chosen = numbers
    if chosen is None:
        if _may_count(recording, works):
            _by_position(pieces)
        return
    for piece, value in zip(pieces, chosen, strict=True):
        piece.number = value
    if any(value is None for value in chosen) and any(value is not None for value in chosen):
        previous = 0
        for index, piece in enumerate(pieces):
            if piece.number is None:
                following = next(
                    (p.number for p in pieces[index + 1 :] if p.number is not None), None
                )
                if piece.movement is not None and (following is None or following > previous + 1):  # noqa: SIM102
                    if previous > 0 or index == 0:
                        piece.number = previous + 1
            previous = piece.number if piece.number is not None else previous


def _may_count(recording: _Recording, works: Sequence[Piece]) -> bool:
    """Whether the order on the disc can stand for the movements' numbers."""
    pieces = recording.pieces
    if len(pieces) < 2 and not (pieces[0].from_album and len(works) > 1):
        return False
    if any(piece.track.fields.compilation for piece in pieces):
        return False
    positions = [piece.position for piece in pieces]
    if positions != list(range(positions[0], positions[0] + len(pieces))):
        return False
    discs = {piece.track.fields.disc for piece in pieces}
    tracks = [piece.track.fields.track for piece in pieces]
    if len(discs) == 1 and not all(piece.from_album for piece in pieces):
        for one, other in pairwise(tracks):
            if one is not None and other is not None and other > one + 1:
                return False  # movements are missing between
    first = pieces[0].track
    if (
        first.fields.track is not None
        and first.fields.track > 1
        and not pieces[0].from_album
        and first.album.level >= 1
        and _same_title(pieces[0].reading, first.album.work)
        and (first.fields.disc or 1) == 1
    ):
        return False  # the work fills the album, and its beginning is missing
    reading = pieces[0].reading
    return not (
        reading is not None and reading.count and reading.count > len(pieces) and reading.plural
    )


def _by_position(pieces: Sequence[Piece]) -> None:
    tracks = [piece.track.fields.track for piece in pieces]
    discs = {piece.track.fields.disc for piece in pieces}
    offset = 0
    first = tracks[0]
    if (
        pieces[0].from_album
        and len(discs) == 1
        and first is not None
        and first > 1
        and all(piece.from_album for piece in pieces)
    ):
        for piece, track in zip(pieces, tracks, strict=True):
            piece.number = track
        return
    for position, piece in enumerate(pieces, start=1):
        piece.number = position + offset


# --- identities ----------------------------------------------------------------------------------


def _identity(piece: Piece) -> Identity:
    track = piece.track
    fields = track.fields
    artist = ", ".join(fields.artist) or ", ".join(fields.album_artist) or None
    album = fields.album or None
    if track.kind is not Kind.WORK:
        return Identity(
            kind=track.kind,
            artist=artist or _artist_of_folders(track),
            album=album,
            confidence=(0.9 if track.kind_firm else 0.7) if track.kind is Kind.POPULAR else 0.3,
            reasons=tuple(dict.fromkeys(track.reasons)),
        )
    correction = track.correction
    work = Work(piece.title, piece.numbers, piece.key) if piece.title or piece.numbers else None
    number = correction.movement if correction.movement is not None else piece.number
    title = correction.movement_title or (
        piece.movement.title if piece.movement is not None else None
    )
    if title and is_shouting(title):
        title = unshout(title, sentence=True)
    movement = Movement(number, title) if number is not None or title else None
    confidence = min(track.composer_confidence if track.composer else 0.45, piece.confidence or 0.3)
    if piece.warnings:
        confidence = min(confidence, 0.7)
        track.reasons.extend(piece.warnings)
    if piece.cast.inferred:
        track.reasons.append("credits: roles told by the order of the names")
    if correction:
        track.reasons.append(
            f"corrected by the errata (line {', '.join(str(n) for n in correction.lines)})"
        )
    return Identity(
        kind=Kind.WORK,
        composer=track.composer,
        work=work,
        recording=piece.recording,
        movement=movement,
        credits=piece.cast.credits,
        artist=artist,
        album=album,
        confidence=round(confidence, 2),
        reasons=tuple(dict.fromkeys(track.reasons)),
    )


def _artist_of_folders(track: Track) -> str | None:
    folders = track.fields.folders
    return folders[-2] if len(folders) >= 2 and not track.fields.artist else None


__all__ = ["Piece", "identities_of", "plural_of"]
