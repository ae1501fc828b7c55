"""Which tags a file on a card carries: computed from how the track is catalogued.

Simple players know artist, album and track and nothing else. So the work with its performers
stands as the album and the composer as album artist: such a player, too, then browses by composer
and work. Fuller fields stand beside them for players that read them.
"""

from collections.abc import Iterable
from functools import cache

from syncd.model import CataloguedTrack, Credit, Kind
from syncd.planner.layout import Group, performer_names

CardTags = tuple[tuple[str, str], ...]
"""Pairs of Vorbis comment name and value, in the order in which they are written."""


def group_tags(group: Group) -> list[CardTags]:
    """The tags of each member of *group*, in order, without empty values."""
    if not group.is_recording:
        return [_given(_album_tags(entry)) for entry in group.members]
    first = group.members[0]
    identity = first.identity
    work = group.work
    composer = identity.composer.name if identity.composer else ""
    common = _given(
        [
            ("ALBUM", f"{work} ({group.label})"),
            ("ALBUMARTIST", composer),
            ("COMPOSER", composer),
            ("COMPOSERSORT", identity.composer.sort if identity.composer else ""),
            ("WORK", work),
        ]
    )
    credits: tuple[Credit, ...] | None = None
    artist = ""
    people: CardTags = ()
    tags = []
    for position, entry in enumerate(group.members, 1):
        if entry.identity.credits != credits:
            credits = entry.identity.credits
            artist = ", ".join(performer_names(credits))
            people = _people(credits)
        movement = entry.identity.movement
        number = movement.number if movement else None
        title = movement.title if movement else None
        shown = "" if number is None else str(number)
        own = (
            ("TITLE", _movement_title(work, number, title)),
            ("ARTIST", artist or entry.track.artist),
            ("MOVEMENT", shown),
            ("MOVEMENTNAME", title or ""),
            ("TRACKNUMBER", shown or str(position)),
            ("DATE", entry.track.date),
            ("GENRE", entry.track.genre),
        )
        tags.append((*[pair for pair in own if pair[1]], *common, *people))
    return tags


def _given(pairs: Iterable[tuple[str, str]]) -> CardTags:
    return tuple([pair for pair in pairs if pair[1]])


def _people(credits: Iterable[Credit]) -> CardTags:
    tags = []
    for credit in credits:
        match credit.role:
            case "conductor":
                tags.append(("CONDUCTOR", credit.name))
            case "ensemble" | "choir":
                tags.append(("ENSEMBLE", credit.name))
            case "arranger":
                tags.append(("ARRANGER", credit.name))
            case _:
                instrument = f" ({credit.instrument})" if credit.instrument else ""
                tags.append(("PERFORMER", credit.name + instrument))
    return tuple(tags)


_ROMAN = ((10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))


@cache
def _roman(number: int) -> str:
    text = ""
    for value, letters in _ROMAN:
        while number >= value:
            text += letters
            number -= value
    return text


def _movement_title(work: str, number: int | None, title: str | None) -> str:
    """Work and movement in one line, for players that show only the title."""
    if title is None:
        return work if number is None else f"{work}: No. {number}"
    if number is None:
        return f"{work}: {title}"
    # Roman numbers are customary up to a dozen or two; a song cycle's 24th song is "24.".
    shown = _roman(number) if 0 < number < 20 else str(number)
    return f"{work}: {shown}. {title}"


def _album_tags(entry: CataloguedTrack) -> list[tuple[str, str]]:
    track, identity = entry.track, entry.identity
    title = track.title
    if not title and identity.kind is not Kind.POPULAR:
        title = track.path.rpartition("/")[2].rpartition(".")[0]
    return [
        ("TITLE", title),
        ("ARTIST", track.artist or identity.artist or ""),
        ("ALBUM", track.album or identity.album or ""),
        ("ALBUMARTIST", track.album_artist or identity.artist or track.artist),
        ("COMPOSER", identity.composer.name if identity.composer else ""),
        ("TRACKNUMBER", "" if track.track_number is None else str(track.track_number)),
        ("DISCNUMBER", "" if track.disc_number is None else str(track.disc_number)),
        ("DATE", track.date),
        ("GENRE", track.genre),
    ]
