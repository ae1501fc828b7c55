"""Where a track goes on a card, by the profile's layout: the wished path, before any collision.

Pure. A track's wish depends only on the track, its group and the profile, so that a track added
to the library never renames another. What happens when two wishes meet is in ``places.py``.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import itemgetter
from typing import cast

from syncd.model import CardPath, CataloguedTrack, Credit, Identity, Kind
from syncd.planner.names import safe_component, utf16_units
from syncd.profile import CardLayout, Profile
from syncd.works.known_works import number_of

_YEAR = re.compile(r"\d{4}")
_FIELD = re.compile(r"\{(\w+)\}")
_GAPS = re.compile(r"\s+")
_SPARE = 5
"""Letters left for a number such as " (12)" where two names meet."""


@dataclass(frozen=True, slots=True)
class Group:
    """What is on a card whole or not at all: a recording; or an album of popular music.

    ``members`` are in playing order. ``key`` is stable: the recording's id, or artist and album.
    ``work`` and ``label`` are what a recording is called: its work's label, and its own.
    """

    key: str
    is_recording: bool
    title: str
    members: tuple[CataloguedTrack, ...]
    work: str = ""
    label: str = ""


def group_tracks(tracks: Iterable[CataloguedTrack]) -> tuple[Group, ...]:
    """Sort *tracks* into recordings and albums, each in playing order, in order of their titles."""
    gathered: dict[str, list[CataloguedTrack]] = {}
    for entry in tracks:
        identity = entry.identity
        if identity.kind is Kind.WORK and identity.recording:
            key = "r:" + identity.recording
        else:
            key = "a:" + _album_artist(entry).casefold() + "\0" + _album(entry).casefold()
        gathered.setdefault(key, []).append(entry)
    groups = []
    for key, members in gathered.items():
        if key.startswith("r:"):
            # Numbers of some only ("Overture", "No. 1") cannot order all: their places do.
            members.sort(key=_recording_order if _all_numbered(members) else _album_order)
            groups.append(_recording(key, members))
        else:
            members.sort(key=_album_order)
            title = f"{_album_artist(members[0])}: {_album(members[0])}"
            groups.append(Group(key, False, title, tuple(members)))
    groups.sort(key=lambda group: (not group.is_recording, group.title.casefold(), group.key))
    return tuple(groups)


def _all_numbered(members: Iterable[CataloguedTrack]) -> bool:
    movements = [member.identity.movement for member in members]
    return all(movement is not None and movement.number is not None for movement in movements)


def _recording_order(entry: CataloguedTrack) -> tuple[object, ...]:
    movement = entry.identity.movement
    number = movement.number if movement and movement.number is not None else 1 << 20
    return (number, _album_order(entry))


def _album_order(entry: CataloguedTrack) -> tuple[object, ...]:
    track = entry.track
    disc = track.disc_number if track.disc_number is not None else 0
    number = track.track_number if track.track_number is not None else 1 << 20
    return (disc, number, track.path, track.audio_hash)


def _album_artist(entry: CataloguedTrack) -> str:
    track = entry.track
    return track.album_artist or entry.identity.artist or track.artist or "Unknown artist"


def _album(entry: CataloguedTrack) -> str:
    return entry.identity.album or entry.track.album or "Unknown album"


def _recording(key: str, members: list[CataloguedTrack]) -> Group:
    first = members[0]
    identity = first.identity
    composer = identity.composer.sort if identity.composer else "Unknown composer"
    numbers = identity.work.catalogue[:1] if identity.work else ()
    label = recording_label(first)
    title = f"{composer}: {_labelled(identity, *numbers)} ({label})"
    return Group(key, True, title, tuple(members), work_label(identity), label)


def work_label(identity: Identity) -> str:
    """A work's title with its catalogue number, as a person would write it on a shelf.

    The number is the one that all recordings of the work share, be it in their tags or not: two of
    them, of which one was tagged without, stand in one folder.
    """
    work = identity.work
    if work is None:
        return _labelled(identity)
    composer = identity.composer.sort if identity.composer is not None else ""
    return _labelled(identity, number_of(composer, work.title, work.catalogue, work.key))


def _labelled(identity: Identity, number: str | None = None) -> str:
    if identity.work is None:
        return "Unknown work"
    title = identity.work.title
    return f"{title}, {number}" if number and number.casefold() not in title.casefold() else title


def recording_label(entry: CataloguedTrack, longest: int = 255) -> str:
    """Who performs, and when: what tells two recordings of one work apart.

    At most three names, and fewer where they would take more than *longest* characters, so that
    the year is not cut off.
    """
    names = performer_names(entry.identity.credits)[:3]
    year = year_of(entry.track.date)
    room = longest - (len(year) + 3 if year else 0)
    while len(names) > 1 and len(", ".join(names)) > room:
        names.pop()
    who = ", ".join(names) or entry.track.artist or _album(entry)
    if year and len(who) > room > 0:
        who = who[:room].rstrip(" ,")
    return f"{who} ({year})" if year else who


_PERFORMING = {"soloist": 0, "conductor": 1, "ensemble": 2, "choir": 3}


def performer_names(credits: Sequence[Credit]) -> list[str]:
    """Names of the performers without repeats: soloists, then conductor, then ensembles."""
    return list(_performer_names(tuple(credits)))


@lru_cache(maxsize=1 << 14)
def _performer_names(credits: tuple[Credit, ...]) -> tuple[str, ...]:
    ordered = sorted(
        (credit for credit in credits if credit.role in _PERFORMING),
        key=lambda credit: _PERFORMING[credit.role],
    )
    return tuple(dict.fromkeys(credit.name for credit in ordered))


def year_of(date: str) -> str:
    """The year in a tag's *date*, empty when there is none."""
    found = _YEAR.search(date)
    return found.group() if found else ""


_OF_ONE_FILE = {"number": "", "movement": "", "disc": "", "title": ""}
"""Fields that are empty in folders."""


class _Template:
    """One component of a layout: literal text around fields."""

    def __init__(self, written: str) -> None:
        parts = _FIELD.split(written)
        self._form = "%s".join(part.replace("%", "%%") for part in parts[::2])
        names = parts[1::2]
        self._values = itemgetter(*names) if names else lambda fields: ()

    def filled(self, fields: dict[str, str]) -> str:
        """The template with its fields, without the gaps that empty ones leave."""
        text = self._form % self._values(fields)
        if "  " in text:
            text = _GAPS.sub(" ", text)
        return text.strip(" -,")


class Layout:
    """Wished paths under one profile."""

    def __init__(self, profile: Profile) -> None:
        card: CardLayout = profile.card
        self._root = card.root
        self._ascii = card.charset == "ascii"
        self._longest_name = card.longest_name
        self._longest_path = card.longest_path
        *self._work_folders, self._work = map(_Template, card.work_layout.split("/"))
        *self._popular_folders, self._popular = map(_Template, card.popular_layout.split("/"))

    def wished(self, group: Group, suffixes: Sequence[str]) -> list[CardPath]:
        """The wished path of each member of *group*; *suffixes* ("mp3") are theirs, in order.

        With fewer suffixes, of the first members only.
        """
        return (self._recording if group.is_recording else self._album)(group, suffixes)

    def _recording(self, group: Group, suffixes: Sequence[str]) -> list[CardPath]:
        first = group.members[0]
        identity = first.identity
        label = group.label
        if len(label) > self._longest_name - _SPARE:
            label = recording_label(first, self._longest_name - _SPARE)
        wide = max(2, len(str(len(group.members))))
        fields = {
            "composer": identity.composer.sort if identity.composer else "Unknown composer",
            "work": group.work,
            "catalogue": identity.work.catalogue[0]
            if identity.work and identity.work.catalogue
            else "",
            "recording": label,
            "year": year_of(first.track.date),
            "album": _album(first),
            **_OF_ONE_FILE,
        }
        folders = self._folders(self._work_folders, fields)
        names = []
        alone = len(group.members) == 1
        numbered = _all_numbered(group.members)
        filled = self._work.filled
        for position, member in enumerate(group.members[: len(suffixes)], 1):
            movement = member.identity.movement
            number, title = position, ""
            if movement is not None:
                title = movement.title or ""
                if movement.number is not None and numbered:
                    number = movement.number
            fields["number"] = "" if alone and not title else str(number).zfill(wide)
            fields["movement"] = title or (group.work if alone else "")
            disc = member.track.disc_number
            fields["disc"] = str(disc) if disc is not None else ""
            names.append(filled(fields))
        return self._paths(folders, names, suffixes)

    def _album(self, group: Group, suffixes: Sequence[str]) -> list[CardPath]:
        first = group.members[0]
        several = any((member.track.disc_number or 1) > 1 for member in group.members)
        fields = {
            "artist": _album_artist(first),
            "album": _album(first),
            "year": year_of(first.track.date),
            **_OF_ONE_FILE,
        }
        folders = self._folders(self._popular_folders, fields)
        names = []
        for member in group.members[: len(suffixes)]:
            track = member.track
            number = f"{track.track_number:02d}" if track.track_number is not None else ""
            disc = str(track.disc_number or 1) if several else ""
            # Discs of one album share a folder, so their numbers must tell them apart.
            fields["number"] = f"{disc}-{number}" if disc and number else number
            fields["disc"] = disc
            fields["title"] = track.title or _stem(track.path)
            names.append(self._popular.filled(fields))
        return self._paths(folders, names, suffixes)

    def _folders(self, templates: Sequence[_Template], fields: dict[str, str]) -> tuple[str, ...]:
        """The folders that a group's files lie in; first the root, where there is one."""
        longest = self._longest_name - _SPARE
        parts = [_folder(part.filled(fields), self._ascii, longest) for part in templates]
        return (self._root, *parts) if self._root else tuple(parts)

    def _paths(
        self, folders: tuple[str, ...], names: Sequence[str], suffixes: Sequence[str]
    ) -> list[CardPath]:
        """The paths of a group's files, all in the same folders, within the profile's lengths."""
        longest = self._longest_name - 1 - _SPARE
        ascii_only = self._ascii
        files = [
            f"{safe_component(name, ascii_only, longest - len(suffix))}.{suffix}"
            for name, suffix in zip(names, suffixes, strict=False)
        ]
        before = "".join([f"{folder}/" for folder in folders])
        room = self._longest_path - 2 * _SPARE - utf16_units(before)
        # No letter has more than two units; most names are far from the limit.
        if 2 * max(map(len, files), default=0) > room and any(
            utf16_units(file) > room for file in files
        ):
            return self._shorter(folders, files)
        return cast(list[CardPath], [before + file for file in files])

    def _shorter(self, folders: tuple[str, ...], files: Sequence[str]) -> list[CardPath]:
        """The same paths, cut until each fits: the longest folders first, then the files.

        The folders are those of all files, and leave the longest file its equal share of the path.
        """
        head = f"{folders[0]}/" if self._root else ""
        parts = folders[1:] if self._root else folders
        room = self._longest_path - 2 * _SPARE - utf16_units(head) - len(parts)
        wanted = max(map(utf16_units, files))
        most = _level([*map(utf16_units, parts)], room - min(wanted, room // (len(parts) + 1)))
        parts = tuple(safe_component(part, self._ascii, max(_SHORTEST, most)) for part in parts)
        left = room - sum(map(utf16_units, parts))
        before = "".join([head, *(f"{part}/" for part in parts)])
        short = []
        for file in files:
            stem, _, suffix = file.rpartition(".")
            units = max(_SHORTEST, left - len(suffix) - 1)
            short.append(CardPath(f"{before}{safe_component(stem, self._ascii, units)}.{suffix}"))
        return short


_SHORTEST = 8
"""Letters that are left of any name, however short paths have to be."""


def _level(lengths: list[int], room: int) -> int:
    """The length to which the longest of *lengths* must be cut so that all take *room* at most."""
    for place, length in enumerate(sorted(lengths)):
        others = len(lengths) - place
        if length * others > room:
            return room // others
        room -= length
    return max(lengths, default=0)


_folder = lru_cache(maxsize=1 << 15)(safe_component)
"""For folders, which come again with each track in them."""


def _stem(path: str) -> str:
    name = path.rpartition("/")[2]
    return name.rpartition(".")[0] or name
