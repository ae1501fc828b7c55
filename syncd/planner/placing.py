"""Giving what was chosen its places on the card: the card's end state, in playing order. Pure."""

from collections.abc import Iterable, Sequence

import xxhash

from syncd.model import CardPath
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.planner.choosing import Chosen
from syncd.planner.names import cut, safe_component, utf16_units
from syncd.planner.pictures import PICTURE, SUFFIX, Picture
from syncd.planner.places import Places, current_folder
from syncd.planner.plan import Placement
from syncd.planner.playlist import PLAYLIST, playlist_text
from syncd.profile import Profile

Placed = tuple[Placement, ManifestEntry | None]
"""A file of the end state, with the file on the card that it comes from, if any."""


class Placing:
    """The working space of one placing. *places* tells afterwards which foreign files were met."""

    def __init__(self, card: CardState, profile: Profile, clauses: Sequence[str] = ()) -> None:
        self._clauses = clauses
        self.card = card
        self.profile = profile
        self.places = Places(card.foreign)
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
        wishes = [choice.members[0].wish.rpartition("/")[0] for choice in chosen]
        nows = [
            current_folder(
                member.current.path if member.current else None for member in choice.members
            )
            for choice in chosen
        ]
        for wished, now in zip(wishes, nows, strict=True):
            if now is not None:
                self.places.remember(wished, now)
        # Who lies well is served first, then who moves: a newcomer never moves what was there.
        order = sorted(
            range(len(chosen)),
            key=lambda index: (
                nows[index] is None,
                not self.places.stays(wishes[index], nows[index]),
            ),
        )
        folders: dict[int, str] = {}
        for index in order:
            choice = chosen[index]
            owner = choice.group.key if exclusive[choice.group.is_recording] else None
            folders[index] = self.places.folder(wishes[index], owner, nows[index])
        kept: dict[int, list[CardPath | None]] = {}
        names: dict[int, list[str]] = {}
        for index in order:
            members = chosen[index].members
            names[index] = [member.wish.rpartition("/")[2] for member in members]
            now_paths = [member.current.path if member.current else None for member in members]
            kept[index] = self.places.keep(folders[index], names[index], now_paths)
        paths = {
            index: self.places.fill(folders[index], names[index], kept[index]) for index in order
        }
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
                path, source, member.size, member.entry, member.recipe, member.tags, art
            )
            yield placement, current

    def _playlist(self, folder: str, paths: list[CardPath], choice: Chosen, alone: bool) -> Placed:
        """A playlist beside the files that it names, so that every entry is a bare name.

        It is called after its folder where that is the group's own (*alone*), else after the group.
        """
        items = (
            (path.rpartition("/")[2], member.title, member.entry.track.audio.duration_s)
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
