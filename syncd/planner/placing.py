"""Giving what was chosen its places on the card: the card's end state, in playing order. Pure."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import xxhash

from syncd.model import CardPath
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.planner.chosen import Chosen, Member
from syncd.planner.names import cut, safe_component, utf16_units
from syncd.planner.pictures import PICTURE, SUFFIX, Picture
from syncd.planner.places import Places, current_folder
from syncd.planner.plan import Placement
from syncd.planner.playlist import PLAYLIST, playlist_text
from syncd.planner.spreading import Wish, may_be_too_many, spread
from syncd.profile import Profile

Placed = tuple[Placement, ManifestEntry | None]
"""A file of the end state, with the file on the card that it comes from, if any."""


@dataclass(slots=True)
class _Unit:
    """Members of a group that share a folder: mostly all of it."""

    index: int
    choice: Chosen
    members: list[Member]
    wished: str
    now: str | None
    folder: str = ""
    names: list[str] = field(default_factory=list)
    kept: list[CardPath | None] = field(default_factory=list)
    paths: list[CardPath] = field(default_factory=list)


def _relative(path: str, folder: str) -> str:
    """*path* as a playlist in *folder* names it."""
    head, _, name = path.rpartition("/")
    if head == folder:
        return name
    up, down = folder.split("/") if folder else [], path.split("/")
    while up and down[0] == up[0]:
        del up[0], down[0]
    return "/".join([".."] * len(up) + down)


class Placing:
    """The working space of one placing. *places* tells afterwards which foreign files were met."""

    def __init__(self, card: CardState, profile: Profile, clauses: Sequence[str] = ()) -> None:
        self._clauses = clauses
        self.card = card
        self.profile = profile
        self.places = Places(card.foreign, card.empty_folders)
        self._art = profile.tags.art == "embedded"
        self._lying = {
            entry.path: entry
            for entry in card.entries
            if not entry.source.audio or entry.source.recipe == PICTURE
        }
        """The playlists and pictures on the card."""

    def placed(self, chosen: list[Chosen]) -> list[Placed]:
        """Every file of the end state."""
        card = self.profile.card
        exclusive = {
            True: "{recording}" in card.work_layout.rpartition("/")[0],
            False: "{album}" in card.popular_layout.rpartition("/")[0],
        }
        units = self._units(chosen)
        for unit in units:
            if unit.now is not None:
                self.places.remember(unit.wished, unit.now)
        # Who lies well is served first, then who moves: a newcomer never moves what was there.
        order = sorted(
            units,
            key=lambda unit: (
                unit.now is None,
                not self.places.stays(unit.wished, unit.now),
            ),
        )
        for unit in order:
            group = unit.choice.group
            owner = group.key if exclusive[group.is_recording] else None
            unit.folder = self.places.folder(unit.wished, owner, unit.now)
        for unit in order:
            unit.names = [member.wish.rpartition("/")[2] for member in unit.members]
            now_paths = [member.current.path if member.current else None for member in unit.members]
            unit.kept = self.places.keep(unit.folder, unit.names, now_paths)
        for unit in order:
            unit.paths = self.places.fill(unit.folder, unit.names, unit.kept)
        folders: dict[int, str] = {}
        paths: dict[int, list[CardPath]] = {}
        for unit in units:
            folders.setdefault(unit.index, unit.folder)
            paths.setdefault(unit.index, []).extend(unit.paths)
        end: list[Placed] = []
        for index, choice in enumerate(chosen):
            end.extend(self._placements(choice, paths[index]))
            if card.playlists:
                alone = exclusive[choice.group.is_recording]
                end.append(self._playlist(folders[index], paths[index], choice, alone))
            if choice.picture is not None:
                alone = exclusive[choice.group.is_recording]
                end.append(self._picture(folders[index], choice.picture, choice, alone))
        if card.clause_playlists:
            end.extend(self._of_clauses(chosen, paths))
        return end

    def _units(self, chosen: list[Chosen]) -> list["_Unit"]:
        """The groups with the folders that they wish for: mostly one each, see ``spreading``."""
        wished = [choice.members[0].wish.rpartition("/")[0] for choice in chosen]
        nows = [
            current_folder(
                member.current.path if member.current else None for member in choice.members
            )
            for choice in chosen
        ]
        limit = self.profile.card.entries_a_folder
        if limit is None:
            files: Counter[str] = Counter()
            for folder, choice in zip(wished, chosen, strict=True):
                files[folder] += len(choice.members) + 2
            if not may_be_too_many(files):
                return [
                    _Unit(index, choice, choice.members, wished[index], nows[index])
                    for index, choice in enumerate(chosen)
                ]
        beside = ["x" * 40] * self.profile.card.playlists  # what lies with a group's files
        wishes = []
        for folder, now, choice in zip(wished, nows, chosen, strict=True):
            names = [member.wish.rpartition("/")[2] for member in choice.members]
            more = beside if choice.picture is None else [*beside, "x" * 40]
            wishes.append(Wish(folder, [*more, *names], now))
        units = []
        spreads = spread(wishes, self.card.foreign, limit)
        for index, (choice, wish, parts) in enumerate(zip(chosen, wishes, spreads, strict=True)):
            if len(parts) == 1:
                units.append(_Unit(index, choice, choice.members, parts[0].folder, wish.now))
                continue
            start = len(choice.members) - len(wish.names)
            for part in parts:
                members = choice.members[max(start, 0) : start + part.count]
                start += part.count
                now = current_folder(
                    member.current.path if member.current else None for member in members
                )
                units.append(_Unit(index, choice, members, part.folder, now))
        return units

    def _of_clauses(self, chosen: list[Chosen], paths: dict[int, list[CardPath]]) -> list[Placed]:
        """A playlist for each clause that has music here, in the folder in which all music lies."""
        root = self.profile.card.root
        wide = len(str(len(self._clauses)))
        gathered: dict[int, list[tuple[str, str, float]]] = {}
        for index, choice in enumerate(chosen):
            items = gathered.setdefault(choice.clause, [])
            for path, member in zip(paths[index], choice.members, strict=True):
                inside = path[len(root) + 1 :] if root else path
                items.append((inside, member.title, member.entry.track.audio.duration_s))
        return [
            self._list(root, f"{clause + 1:0{wide}d} {self._clauses[clause]}", items)
            for clause, items in sorted(gathered.items())
        ]

    def _placements(self, choice: Chosen, paths: list[CardPath]) -> Iterable[Placed]:
        for member, path in zip(choice.members, paths, strict=True):
            track = member.entry.track
            current = member.current
            if current is not None and current.source.dress == member.dress:
                source = current.source  # the very file is there: its audio and recipe are the same
            else:
                source = Source(track.audio_hash, member.recipe_key, member.dress)
            art = track.art if self._art else None
            placement = Placement(
                path,
                source,
                member.size,
                member.entry,
                member.recipe,
                member.tags,
                art,
                wished_dress=member.wished_dress,
            )
            yield placement, current

    def _playlist(self, folder: str, paths: list[CardPath], choice: Chosen, alone: bool) -> Placed:
        """A playlist beside the files that it names, so that an entry is mostly a bare name.

        It is called after its folder where that is the group's own (*alone*), else after the group.
        """
        items = (
            (_relative(path, folder), member.title, member.entry.track.audio.duration_s)
            for path, member in zip(paths, choice.members, strict=True)
        )
        stem = folder.rpartition("/")[2] if alone else ""
        return self._list(folder, stem or choice.group.title, items)

    def _list(self, folder: str, stem: str, items: Iterable[tuple[str, str, float]]) -> Placed:
        ascii_only = self.profile.card.charset == "ascii"
        text = playlist_text(items, ascii_only=ascii_only)
        content = text.encode("utf-8", "replace")
        source = Source("", PLAYLIST, xxhash.xxh3_64_hexdigest(content))
        path = self._beside(folder, stem, "m3u" if ascii_only else "m3u8")
        return Placement(path, source, len(content), text=text), self._lying.get(path)

    def _picture(self, folder: str, picture: Picture, choice: Chosen, alone: bool) -> Placed:
        """The picture of a group: by the profile's name, or the group's where others lie there."""
        writing = self.profile.tags
        stem = writing.art_name if alone and folder else choice.group.title
        path = self._beside(folder, stem, SUFFIX[writing.art_format])
        return Placement(path, picture.source, picture.size, art=picture.art), self._lying.get(path)

    def _beside(self, folder: str, stem: str, suffix: str) -> CardPath:
        """A place in *folder* for what belongs to all files there."""
        card = self.profile.card
        stem = safe_component(stem, card.charset == "ascii", 255)
        room = card.longest_path - utf16_units(folder) - 1
        spare = len(suffix) + 1 + 5  # for the suffix, and a number such as " (12)"
        stem = cut(stem, max(1, min(card.longest_name, room) - spare)).rstrip(". ")
        wish = f"{stem or 'All'}.{suffix}"
        folder_path = CardPath(f"{folder}/{wish}" if folder else wish)
        now = folder_path if folder_path in self._lying else None
        return self.places.files(folder, [wish], [now])[0]
