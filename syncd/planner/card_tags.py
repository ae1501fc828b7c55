"""Which tags a file on a card carries: computed from how the track is catalogued.

Simple players know artist, album and track and nothing else. So the work with its performers
stands as the album and the composer as album artist: such a player, too, then browses by composer
and work. Fuller fields stand beside them for players that read them.
"""

from syncd.model import CataloguedTrack, Kind
from syncd.planner.layout import Group, performer_names, recording_label, work_label

CardTags = tuple[tuple[str, str], ...]
"""Pairs of Vorbis comment name and value, in the order in which they are written."""


def card_tags(group: Group, position: int) -> CardTags:
    """The tags of the member at *position* (from 0) of *group*, without empty values."""
    entry = group.members[position]
    pairs = _recording_tags(group, entry, position) if group.is_recording else _album_tags(entry)
    return tuple((name, value) for name, value in pairs if value)


def _recording_tags(group: Group, entry: CataloguedTrack, position: int) -> list[tuple[str, str]]:
    identity, track = entry.identity, entry.track
    movement = identity.movement
    number = movement.number if movement and movement.number is not None else None
    work = work_label(identity)
    composer = identity.composer.name if identity.composer else ""
    names = performer_names(identity.credits)
    tags = [
        ("TITLE", _movement_title(work, number, movement.title if movement else None)),
        ("ALBUM", f"{work} ({recording_label(entry)})"),
        ("ARTIST", ", ".join(names) or track.artist),
        ("ALBUMARTIST", composer),
        ("COMPOSER", composer),
        ("COMPOSERSORT", identity.composer.sort if identity.composer else ""),
        ("WORK", work),
        ("MOVEMENT", "" if number is None else str(number)),
        ("MOVEMENTNAME", (movement.title or "") if movement else ""),
        ("TRACKNUMBER", str(number if number is not None else position + 1)),
        ("DATE", track.date),
        ("GENRE", track.genre),
    ]
    for credit in identity.credits:
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
    return tags


_ROMAN = ((10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))


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
