"""Which file on the card each chosen track already is, and what cannot be made anew now."""

from dataclasses import replace

from syncd.model import Codec, LeftOut, LibrarySnapshot
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.card_tags import group_tags
from syncd.planner.chosen import Chosen, Member
from syncd.planner.dress_key import DressKey
from syncd.planner.layout import Layout
from syncd.planner.pictures import PICTURE
from syncd.planner.plan import Pressings
from syncd.planner.sound_words import codec_name
from syncd.profile import Profile


class Lying:
    """Finds what lies on *card*. Groups without sources are told in *left_out*."""

    def __init__(
        self,
        library: LibrarySnapshot,
        card: CardState,
        profile: Profile,
        pressings: Pressings,
        left_out: list[LeftOut],
    ) -> None:
        self.card = card
        self.profile = profile
        self.pressings = pressings
        self.left_out = left_out
        self.other_forms: list[LeftOut] = []
        """What stays as another profile had it made, by its path on the card."""
        self._layout = Layout(profile)
        self._dress = DressKey(profile)
        self._away = tuple(root.rstrip("/") + "/" for root in library.away)
        self._lost = frozenset(item.path for item in library.unreadable)

    @property
    def beyond_reach(self) -> tuple[str, ...]:
        """How paths begin whose files cannot be read now."""
        return (*self._away, *self._lost)

    def find_current(self, chosen: list[Chosen]) -> None:
        """Find for each track the file on the card that holds its pressing, if there is one."""
        by_path: dict[str, ManifestEntry] = {entry.path: entry for entry in self.card.entries}
        rest: list[Member] = []
        # Playlists show the titles.
        playlists = self.profile.card.playlists or self.profile.card.clause_playlists
        for choice in chosen:
            suffixes = [member.suffix for member in choice.members]
            wishes = self._layout.wished(choice.group, suffixes)
            tags = group_tags(choice.group)
            for member, wish, written in zip(choice.members, wishes, tags, strict=True):
                member.tags = (*written, *member.gain) if member.gain else written
                member.wish = wish
                member.dress = self._dress.of(member)
                # The same audio may lie there twice; who lies where it wishes to lie comes first.
                current = by_path.get(wish)
                if current is None or not _holds_pressing(current, member):
                    rest.append(member)
                    continue
                member.current = by_path.pop(wish)
                if current.source.dress == member.dress and not playlists:
                    # They are written already: no need to hold what the catalogue does not show.
                    member.tags = member.gain
        lying: dict[tuple[str, str], list[ManifestEntry]] = {}
        for entry in sorted(by_path.values(), key=lambda entry: entry.path):
            lying.setdefault((entry.source.audio, entry.source.recipe), []).append(entry)
        for fits in (_same_dress, _any_place):
            for member in rest:
                found = lying.get((member.entry.track.audio_hash, member.recipe_key), [])
                if member.current is None:
                    match = next((entry for entry in found if fits(entry, member)), None)
                    if match is not None:
                        found.remove(match)
                        member.current = match

    def stay_in_another_form(self, chosen: list[Chosen]) -> None:
        """Those that cannot be made anew now stay as another profile had them made.

        Until their master is within reach again: a file that may not suit is better than none.
        """
        members = [member for choice in chosen for member in choice.members]
        taken = {member.current.path for member in members if member.current is not None}
        lying: dict[str, list[ManifestEntry]] = {}
        for entry in sorted(self.card.entries, key=lambda entry: entry.path):
            if entry.path not in taken and entry.source.audio:
                lying.setdefault(entry.source.audio, []).append(entry)
        for member in members:
            if member.current is not None or not self.out_of_reach(member):
                continue
            found = [
                entry
                for entry in lying.get(member.entry.track.audio_hash, ())
                if entry.source.recipe != PICTURE
            ]
            if found and not self._in_store(member):
                self.other_forms.append(self._told(member, found[0]))
                lying[member.entry.track.audio_hash].remove(found[0])
                member.current = found[0]
                member.recipe_key = found[0].source.recipe
                member.suffix = found[0].path.rpartition(".")[2]
                member.wish = f"{member.wish.rpartition('.')[0]}.{member.suffix}"

    def _told(self, member: Member, lying: ManifestEntry) -> LeftOut:
        """That *lying* stays for *member*, though it was made for another profile."""
        made = lying.source.recipe.split("-")
        # A master that was carried over to another player, and is not for this one.
        codec = member.entry.track.audio.codec if made[-1] == "carry" else _codec(made)
        plays = codec is not None and made[-1] != "carry" and self.profile.plays_codec(codec)
        cannot = "this player may not play it" if plays else "this player cannot play it"
        as_codec = f", as {codec_name(codec)}" if codec is not None else ""
        return LeftOut(
            lying.path,
            f"It was made for another profile{as_codec}: {cannot}. It stays until its master "
            f"{member.entry.track.address} can be read again, and is made anew then.",
        )

    def has_sources(self, choice: Chosen) -> bool:
        """Whether all that must be written can be made.

        A disk that is away may forbid it, or a file that has become unreadable. Then a recording
        does not come to the card; of one that is there, and lost a file, the others stay.
        """
        if not self._away and not self._lost:
            return True
        lacking = []
        for member in choice.members:
            if not self.out_of_reach(member):
                continue
            if member.current is not None:
                # It cannot be dressed anew without its master: it stays as it is.
                if member.dress != member.current.source.dress:
                    member.wished_dress = member.dress
                    member.dress = member.current.source.dress
            elif not self._in_store(member):
                lacking.append(member)
        if not lacking:
            return True
        for member in lacking:
            if member.entry.track.path in self._lost:
                continue  # told already, with the reason
            self.left_out.append(
                LeftOut(
                    member.entry.track.address,
                    "Its part of the library is away (unmounted or missing), and no pressing of "
                    "it is in the store. Connect that disk and update again.",
                )
            )
        some_lie_there = any(member.current is not None for member in choice.members)
        if choice.group.is_recording and not some_lie_there:
            without = f"Its recording is not whole without {lacking[0].entry.track.address}."
            self.left_out.extend(
                LeftOut(member.entry.track.address, without)
                for member in choice.members
                if member not in lacking
            )
            return False
        choice.members = [member for member in choice.members if member not in lacking]
        choice.lacking = len(lacking)
        members = tuple(member.entry for member in choice.members)
        choice.group = replace(choice.group, members=members)
        return bool(members)

    def out_of_reach(self, member: Member) -> bool:
        """Whether the master of *member* cannot be read: its disk is away, or it is damaged."""
        path = member.entry.track.path
        return path.startswith(self._away) or path in self._lost

    def _in_store(self, member: Member) -> bool:
        return (member.entry.track.audio_hash, member.recipe_key) in self.pressings.sizes


def _codec(made: list[str]) -> Codec | None:
    """The codec in the parts of a recipe's key."""
    names = {codec.value: codec for codec in Codec}
    return next((names[part] for part in made[1:3] if part in names), None)


def _holds_pressing(entry: ManifestEntry, member: Member) -> bool:
    source = entry.source
    return source.audio == member.entry.track.audio_hash and source.recipe == member.recipe_key


def _same_dress(entry: ManifestEntry, member: Member) -> bool:
    return entry.source.dress == member.dress


def _any_place(entry: ManifestEntry, member: Member) -> bool:
    return True
