"""The credits of a track: its lists of performers brought together, corrections put in.

How lists become credits is left to ``cast.py``.
"""

import re
from collections.abc import Iterable
from dataclasses import replace

from syncd.model import Credit, Kind
from syncd.works.album import people_of_folder
from syncd.works.cast import PLAYING, Cast, Lists, cast_of
from syncd.works.errata import Correction
from syncd.works.piece import Piece
from syncd.works.track import Track
from syncd.works.worktitle.language import is_russian

_SOLO_FORMS = frozenset({"Concerto", "Concertino", "Concert Piece", "Double Concerto", "Triple Concerto",  # noqa: E501
                         "Sinfonia concertante"})  # fmt: skip
_FOR_FEW = frozenset({"Sonata", "Sonatina", "Étude", "Prelude", "Nocturne", "Mazurka", "Impromptu",
                      "Bagatelle", "Invention", "Ballade", "Caprice", "Duo"})  # fmt: skip
"""Forms that an orchestra named for the whole album hardly plays."""

_FOR_WHOM = re.compile(
    r"\b(?:violin|piano|guitar|orchestra|cello|flute|organ|strings|quartet|voice|brass|harp|winds?)\b"
)


def cast_of_track(track: Track, form: str | None) -> Cast:
    """The credits of all performers whom the tags of a track name; *form* is that of its work."""
    fields = track.fields
    arrangers = list(track.arrangers)
    if track.title.arranger and not _FOR_WHOM.search(track.title.arranger.lower()):
        arrangers.append(track.title.arranger)
    composers = frozenset({track.composer.sort} if track.composer else ())
    lists = Lists(
        conductor=fields.conductor,
        ensemble=fields.ensemble,
        choir=fields.choir,
        soloist=fields.soloists,
        performer=fields.performer,
        artist=fields.artist,
        album_artist=fields.album_artist,
        arranger=tuple(dict.fromkeys((*arrangers, *fields.arranger))),
        lyricist=(*fields.lyricist, *track.tag.poets),
        elsewhere=track.title.people,
        with_groups=form not in _FOR_FEW and not fields.compilation,
    )
    solo_work = form in _SOLO_FORMS
    cast = cast_of(lists, composers, solo_work)
    if track.album.people and not any(c.role in PLAYING for c in cast.credits):
        cast = cast_of(replace(lists, elsewhere=track.album.people), composers, solo_work)
    named = people_of_folder(fields.folders[-1]) if fields.album and fields.folders else ()
    if named and not any(c.role in PLAYING for c in cast.credits):
        cast = cast_of(replace(lists, elsewhere=named), composers, solo_work)
    return cast


def give_credits(piece: Piece) -> None:
    """Give *piece* its credits: of a work by its performers, of any track by the corrections."""
    if piece.track.kind is Kind.WORK:
        reading = piece.reading
        cast = cast_of_track(piece.track, reading.form if reading is not None else None)
        if reading is not None and is_russian(reading.text):
            # Transliterated Russian: fortepiano is the piano.
            pianos = tuple(
                replace(credit, instrument="piano") if credit.instrument == "fortepiano" else credit
                for credit in cast.credits
            )
            cast = Cast(pianos, cast.inferred)
        piece.cast = cast
    if piece.track.correction:
        piece.cast = _corrected(piece.cast, piece.track.correction)


def _corrected(cast: Cast, correction: Correction) -> Cast:
    """*cast* with the roles that the listener corrected filled anew."""
    credits = list(cast.credits)

    def fill(role: str, given: Iterable[Credit]) -> None:
        credits[:] = [credit for credit in credits if credit.role != role]
        credits.extend(given)

    for role, names in (
        ("conductor", correction.conductor),
        ("ensemble", correction.ensembles),
        ("choir", correction.choirs),
    ):
        if names is not None:
            fill(role, (Credit(name, role) for name in names))
    if correction.soloists is not None:
        listed = Lists(performer=correction.soloists)
        fill("soloist", cast_of(listed, frozenset(), True).credits)
    if correction.arranger is not None:
        fill("arranger", [Credit(correction.arranger, "arranger")])
    return Cast(tuple(credits), cast.inferred)
