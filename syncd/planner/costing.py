"""What groups cost on a card and what there is to spend, in bytes: estimates from above."""

from collections.abc import Iterable, Mapping

from syncd.planner.card_state import CardState, Source
from syncd.planner.chosen import Chosen, Member, SourceKey
from syncd.planner.names import fold
from syncd.planner.pictures import Pictures, picture_bytes
from syncd.planner.places import folders_of
from syncd.planner.plan import Pressings
from syncd.planner.playlist import playlist_text
from syncd.planner.recipe import Recipe, estimated_bytes
from syncd.profile import Profile

CATALOGUE_BYTES_A_TRACK = 400
MANIFEST_BYTES_A_TRACK = 500
"""Two copies of a file's line in the packed manifest, and its plain line in the journal."""
RESERVE_BYTES = 1 << 20
"""What stays free when music comes to a card: room for an update to work in."""
TAG_BYTES = 4096
"""Allowance for text tags in a file whose size is not known yet."""
PLAYLIST_BYTES_A_TRACK = 40
"""In the playlist of a clause: what stands around path and title, and a number behind a name."""
TAG_HEAD_BYTES = 256
"""Allowance for what a container puts around tags that are at their largest."""


class Costing:
    """Prices files and groups for one card.

    *lying* are the sizes of the card's files where tags are not known, so that no dress is.
    """

    def __init__(
        self,
        card: CardState,
        profile: Profile,
        pressings: Pressings,
        clauses: int,
        pictures: Pictures | None,
    ) -> None:
        self.card = card
        self.profile = profile
        self.pressings = pressings
        self.lying: Mapping[SourceKey, int] | None = None
        self.goes_on = False
        """Whether ``room`` was that of an interrupted update."""
        self._there = {entry.source.audio for entry in (*card.entries, *card.missing)}
        self._there.update(source.audio for source in card.arrived)
        self._last: Recipe | None = None
        self._last_bps = 0.0
        self._clauses = clauses
        self._pictures = pictures
        writing = profile.tags
        art_bytes = picture_bytes(writing) if writing.art == "embedded" else 0
        self._plain_bytes = TAG_BYTES + writing.id3_padding_bytes
        self._dressed_bytes = self._plain_bytes + art_bytes
        if writing.largest_tag_bytes is not None:
            most = writing.largest_tag_bytes + TAG_HEAD_BYTES
            self._plain_bytes = min(self._plain_bytes, most)
            self._dressed_bytes = min(self._dressed_bytes, most)

    def budget(self) -> int:
        """Bytes for music and what tells of it, all folders taken as new."""
        card = self.card
        budget = card.bytes_free + card.own_bytes - RESERVE_BYTES
        budget += sum(card.allocated(entry.size) for entry in card.entries)
        if self.profile.card.clause_playlists:
            budget -= 2 * card.cluster_bytes * self._clauses
        return budget

    def room(self) -> int:
        """``budget``, with what the folders of what lies on the card take.

        An update that goes on chooses for the room that the interrupted one had, so that both
        choose alike: folders may have grown by some clusters meanwhile.
        """
        lying = folders_of(fold(entry.path) for entry in self.card.entries)
        now = self.budget() + self.card.cluster_bytes * len(lying)
        then = self.card.room
        self.goes_on = then is not None and abs(now - then) <= RESERVE_BYTES // 2
        return then if then is not None and self.goes_on else now

    def lies(self, choice: Chosen) -> bool:
        """Whether any of *choice* is on the card, or was when an update was interrupted."""
        return any(member.entry.track.audio_hash in self._there for member in choice.members)

    def lies_whole(self, choice: Chosen) -> bool:
        """Whether all of *choice* is on the card already, or was when an update was interrupted."""
        return all(member.entry.track.audio_hash in self._there for member in choice.members)

    def grace(self, staying: Iterable[Chosen], needs: int, room: int) -> int:
        """By how many bytes *staying*, which take *needs*, may go beyond *room*.

        As many as they need to stay, whatever became of the reserve; but they may not grow by more
        than is free.
        """
        card = self.card
        wanted = sum(card.allocated(member.size) for choice in staying for member in choice.members)
        there = sum(card.allocated(entry.size) for entry in card.entries)
        there += sum(card.allocated(size) for size in card.arrived.values())
        return needs - room - max(0, wanted - there - card.bytes_free)

    def needs(self, choice: Chosen) -> int:
        """Bytes on the card for the files of *choice* and what tells of them, but for folders."""
        card = self.card
        each = MANIFEST_BYTES_A_TRACK
        if self.profile.catalogue.present:
            each += 2 * CATALOGUE_BYTES_A_TRACK
        needs = len(choice.members) * each
        cluster, size_of = card.cluster_bytes, self.size
        for member in choice.members:
            member.size = size = size_of(member)
            needs += -(-size // cluster) * cluster  # card.allocated(size)
        if self._pictures is not None:
            choice.picture = self._pictures.of(member.entry for member in choice.members)
            if choice.picture is not None:
                needs += card.allocated(choice.picture.size) + each
        if self.profile.card.playlists:
            text = playlist_text(
                (
                    (m.wish.rpartition("/")[2], m.title, m.entry.track.audio.duration_s)
                    for m in choice.members
                ),
                ascii_only=self.profile.card.charset == "ascii",
            )
            needs += card.allocated(len(text.encode("utf-8", "replace"))) + each
        if self.profile.card.clause_playlists:
            needs += sum(
                len(f"{m.wish}{m.title}".encode("utf-8", "replace")) + PLAYLIST_BYTES_A_TRACK
                for m in choice.members
            )
        return needs

    def too_large(self, choice: Chosen) -> str:
        """What does not allow a file as large as one of *choice*, empty when all are allowed."""
        largest = max(member.size for member in choice.members)
        if largest > (self.card.largest_file_bytes or largest):
            return "the card's file system"
        return "the player" if largest > (self.profile.card.largest_file_bytes or largest) else ""

    def size(self, member: Member) -> int:
        """Bytes on the card: exact if the very file is there, else an upper estimate."""
        current = member.current
        if current is not None and current.source.dress == member.dress:
            return current.size
        track = member.entry.track
        pressing = (track.audio_hash, member.recipe_key)
        if self.lying is None:
            source = Source(track.audio_hash, member.recipe_key, member.dress)
            exact = self.card.arrived.get(source) or self.pressings.dressed.get(source)
        else:
            exact = self.lying.get(pressing)
        if exact is not None:
            return exact
        dressing = self._dressed_bytes if track.art is not None else self._plain_bytes
        recipe = member.recipe
        if recipe.action == "carry":
            return track.size_bytes + dressing
        known = self.pressings.sizes.get(pressing)
        if known is not None:
            return known + dressing
        if recipe is not self._last:  # it is mostly that of the one before
            self._last, self._last_bps = recipe, recipe.at_most_bps()
        return estimated_bytes(track.audio.duration_s, self._last_bps) + dressing
