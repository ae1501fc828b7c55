"""Giving what was chosen its places on the card: the card's end state, in playing order. Pure."""

from collections.abc import Iterable

import xxhash
from anyascii import anyascii

from syncd.model import CardPath
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.planner.choosing import Chosen
from syncd.planner.names import cut
from syncd.planner.places import Places, current_folder
from syncd.planner.plan import Placement
from syncd.profile import Profile

PLAYLIST = "playlist"

Placed = tuple[Placement, ManifestEntry | None]
"""A file of the end state, with the file on the card that it comes from, if any."""


class Placing:
    """The working space of one placing. *places* tells afterwards which foreign files were met."""

    def __init__(self, card: CardState, profile: Profile) -> None:
        self.card = card
        self.profile = profile
        self.places = Places(card.foreign)
        self._art = profile.tags.art == "embedded"

    def placed(self, chosen: list[Chosen]) -> list[Placed]:
        """Every file of the end state."""
        card = self.profile.card
        exclusive = {
            True: "{recording}" in card.work_layout.rpartition("/")[0],
            False: "{album}" in card.popular_layout.rpartition("/")[0],
        }
        # Who has a place already is served first: a newcomer never moves what was there.
        order = sorted(
            range(len(chosen)),
            key=lambda index: all(member.current is None for member in chosen[index].members),
        )
        folders: dict[int, str] = {}
        for index in order:
            choice = chosen[index]
            wished = choice.members[0].wish.rpartition("/")[0]
            now = current_folder(
                member.current.path if member.current else None for member in choice.members
            )
            owner = choice.group.key if exclusive[choice.group.is_recording] else None
            folders[index] = self.places.folder(wished, owner, now)
        paths: dict[int, list[CardPath]] = {}
        for index in order:
            members = chosen[index].members
            names = [member.wish.rpartition("/")[2] for member in members]
            now_paths = [member.current.path if member.current else None for member in members]
            paths[index] = self.places.files(folders[index], names, now_paths)
        end: list[Placed] = []
        for index, choice in enumerate(chosen):
            end.extend(self._placements(choice, paths[index]))
            if card.playlists:
                end.append(self._playlist(folders[index], paths[index], choice))
        return end

    def _placements(self, choice: Chosen, paths: list[CardPath]) -> Iterable[Placed]:
        for member, path in zip(choice.members, paths, strict=True):
            track = member.entry.track
            source = Source(track.audio_hash, member.recipe_key, member.dress)
            art = track.art if self._art else None
            placement = Placement(
                path, source, member.size, member.entry, member.recipe, member.tags, art
            )
            yield placement, member.current

    def _playlist(self, folder: str, paths: list[CardPath], choice: Chosen) -> Placed:
        """A playlist beside the files that it names, so that every entry is a bare name."""
        ascii_only = self.profile.card.charset == "ascii"
        suffix = "m3u" if ascii_only else "m3u8"
        lines = ["#EXTM3U"]
        for path, member in zip(paths, choice.members, strict=True):
            title = dict(member.tags).get("TITLE", "").replace("\n", " ").replace("\r", " ")
            seconds = round(member.entry.track.audio.duration_s)
            name = path.rpartition("/")[2]
            shown = anyascii(title) if ascii_only else title
            lines.append(f"#EXTINF:{seconds},{shown}")
            lines.append(f"./{name}" if name.startswith("#") else name)
        text = "\r\n".join(lines) + "\r\n"
        content = text.encode("utf-8", "replace")
        source = Source("", PLAYLIST, xxhash.xxh3_64_hexdigest(content))
        stem = folder.rpartition("/")[2] or "All"
        wish = f"{cut(stem, self.profile.card.longest_name - 10).rstrip('. ')}.{suffix}"
        lying = {
            entry.path: entry for entry in self.card.entries if entry.source.recipe == PLAYLIST
        }
        folder_path = f"{folder}/{wish}" if folder else wish
        now = folder_path if folder_path in lying else None
        path = self.places.files(folder, [wish], [now])[0]
        return Placement(path, source, len(content), text=text), lying.get(path)
