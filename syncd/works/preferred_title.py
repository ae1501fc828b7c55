"""A work's title with the medium that custom wants in it: a sonata is a piano's or a violin's.

The medium is taken from composer, album and players; everything else of a title is read in
``worktitle``.
"""

import re

from syncd.works.crediting import cast_of_track
from syncd.works.piece import Piece
from syncd.works.track import Track
from syncd.works.words.instruments import VOICES
from syncd.works.worktitle.medium import medium_title
from syncd.works.worktitle.reading import WorkReading

_FOR_PLAYERS = ("Trio", "Quartet", "Quintet", "Sextet", "Octet")
_MEDIA = ("String", "Piano", "Wind", "Brass", "Clarinet", "Flute", "Horn", "Oboe")
_NUMBER_WORD = re.compile(
    r"(^|\s)(?:n[°º]|no[°º.]?|nr\.?|núm\.?|num\.?|č\.|№|#)\s*[°º]?\s*(\d+)\b", re.IGNORECASE
)
_NUMBER_SIGN = re.compile("[nNčČ№#]")  # one is in each of them
_PLAYED_ON_ANY_KEYS = ("Scarlatti, Domenico", "Soler, Antonio")


def general_title(piece: Piece, reading: WorkReading) -> str:
    """The title by the conventions; a sonata's medium is taken from album and performers."""
    title = reading.title
    if reading.number is not None and not reading.structured and _NUMBER_SIGN.search(title):
        title = _NUMBER_WORD.sub(r"\1No. \2", title)
    if reading.form in _FOR_PLAYERS and reading.structured and title.startswith(reading.form):
        return (_medium_of_album(piece.track, reading.form) or "") + title
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
    """What stands before the form: "Keyboard ", "Violin ", or nothing."""
    track = piece.track
    if track.composer_sort in _PLAYED_ON_ANY_KEYS:
        return "Keyboard "
    medium = _medium_of_album(track, form)
    if medium is not None:
        return medium
    instruments = _instruments(track)
    if instruments == ("harpsichord",):
        return "Keyboard "
    return (_before_form(form, instruments) if instruments else None) or ""


def _medium_of_album(track: Track, form: str) -> str | None:
    """What the album's title puts before the form: "Piano " of "Piano Trios"."""
    for work in track.album.works:
        if work.form != form:
            continue
        if work.instruments:
            medium = _before_form(form, work.instruments)
            if medium is not None:
                return medium
        elif (at := work.title.find(form)) > 0:
            before = work.title[:at]
            if before.strip() in _MEDIA:
                return before
    return None


def _before_form(form: str, instruments: tuple[str, ...]) -> str | None:
    title = medium_title(form, instruments, {}, None, False, False)
    return title[: -len(form)] if title.endswith(f" {form}") else None


def _instruments(track: Track) -> tuple[str, ...]:
    """What the soloists play; a sonata's fortepiano is a piano in its title."""
    played = [
        credit.instrument
        for credit in cast_of_track(track, "Sonata").credits
        if credit.role == "soloist" and credit.instrument and credit.instrument not in VOICES
    ]
    return tuple(dict.fromkeys("piano" if name == "fortepiano" else name for name in played))
