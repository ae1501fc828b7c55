"""Which groups the player can play, each track with its recipe; why not, of the others."""

from collections.abc import Iterable
from operator import attrgetter

from syncd.model import CataloguedTrack, LeftOut
from syncd.planner.chosen import Chosen, Member
from syncd.planner.evening import even
from syncd.planner.joining import has_edges, join_members
from syncd.planner.layout import Group
from syncd.planner.plan import Pressings
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import Recipe, Unplayable
from syncd.profile import Profile

_FACTS = attrgetter(
    *("container", "codec", "sample_rate_hz", "channels", "bits_per_sample", "bitrate_bps"),
    "profile",
)
"""What a recipe goes by, of most players."""


class Playable:
    """Prescribes for *profile*. What cannot be played or pressed is told in *left_out*."""

    def __init__(self, profile: Profile, pressings: Pressings, left_out: list[LeftOut]) -> None:
        self.profile = profile
        self.pressings = pressings
        self.left_out = left_out
        self._evens = profile.loudness.mode != "off"
        self._joins = False  # until a recipe has use for it
        self._recipes: dict[tuple[object, ...], tuple[Recipe, str, str] | str] = {}
        self._damaged = pressings.damaged
        self._failed = pressings.failed
        self._particular = any(plays.particular for plays in profile.plays)

    def of(self, wanted: Iterable[tuple[int, Group]]) -> list[Chosen]:
        """The groups of *wanted* with recipes, in order; what cannot be played is left out."""
        playable = []
        for clause, group in wanted:
            members: list[Member] = []
            faults: list[tuple[CataloguedTrack, str]] = []
            for entry in group.members:
                made = self._member(entry)
                if isinstance(made, str):
                    faults.append((entry, made))
                else:
                    members.append(made)
            if self._joins:
                join_members(group.members, members)
            raised_db = self._even(group, members) if self._evens else 0.0
            if self._joins or self._evens:
                self._without_failed(members, faults)
            if faults:
                self.left_out.extend(LeftOut(entry.track.address, why) for entry, why in faults)
                if group.is_recording:
                    for member in members:
                        reason = f"Its recording is not whole without {faults[0][0].track.address}."
                        self.left_out.append(LeftOut(member.entry.track.address, reason))
                    continue
            if members:
                kept = tuple(member.entry for member in members)
                whole = (
                    group if not faults else Group(group.key, group.is_recording, group.title, kept)
                )
                playable.append(Chosen(whole, members, raised_db, clause))
        return playable

    def _even(self, group: Group, members: list[Member]) -> float:
        """Even the level of *members*; by how much it is raised at most."""
        return even(members, self.profile, self.pressings.levels, recording=group.is_recording)

    def _without_failed(
        self, members: list[Member], faults: list[tuple[CataloguedTrack, str]]
    ) -> None:
        """Those of *members* whose recipe changed, and then failed, become *faults*."""
        for member in tuple(members):
            key = (member.entry.track.audio_hash, member.recipe_key)
            if (failed := self.pressings.failed.get(key)) is not None:
                faults.append((member.entry, failed))
                members.remove(member)

    def _member(self, entry: CataloguedTrack) -> Member | str:
        """The track with its recipe, or the reason why it cannot be played or pressed."""
        track = entry.track
        audio = track.audio
        facts: tuple[object, ...] = _FACTS(audio)
        part, emphasis = track.span is not None, track.emphasis
        if part or emphasis:
            facts += (part, emphasis)
        if self._particular:
            facts += (audio.variable, audio.block_samples, audio.frame_bytes)
        made = self._recipes.get(facts)
        if made is None:
            try:
                recipe = make_recipe(audio, self.profile, part=part, emphasis=emphasis)
                made = (recipe, recipe.key, recipe.suffix.removeprefix("."))
                self._joins = self._joins or has_edges(recipe)
            except Unplayable as fault:
                made = str(fault)
            self._recipes[facts] = made
        if isinstance(made, str):
            return made
        if self._damaged and (damage := self._damaged.get(track.audio_hash)) is not None:
            return damage
        recipe, key, suffix = made
        if self._failed and (failed := self._failed.get((track.audio_hash, key))) is not None:
            return failed
        return Member(entry, recipe, key, suffix)
