"""Choosing what goes on a card: whole recordings, by the programme, as far as they fit.

Pure. From library snapshot, card state, profile and programme to groups of tracks, each with its
recipe, its tags, and the file on the card that it may already be. What clauses find is
``selecting.py``'s affair, what has room ``filling.py``'s, where it goes ``placing.py``'s.
"""

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from itertools import chain

import xxhash

from syncd.model import CataloguedTrack, LeftOut, LibrarySnapshot, Track
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.planner.card_tags import CardTags, group_tags
from syncd.planner.clauses import NotTaken, ProgrammeTold, Telling
from syncd.planner.evening import even
from syncd.planner.filling import Candidate, Judged, Rule, Verdict, fill
from syncd.planner.joining import has_edges, join_members
from syncd.planner.layout import Group, Layout
from syncd.planner.names import fold
from syncd.planner.pictures import PICTURE, Picture, Pictures, picture_bytes
from syncd.planner.places import folders_of
from syncd.planner.plan import NotFitting, Pressings
from syncd.planner.playlist import playlist_text
from syncd.planner.prescribing import make_recipe
from syncd.planner.programme import EVERYTHING, Programme
from syncd.planner.recipe import Recipe, Unplayable
from syncd.planner.selecting import Selection
from syncd.profile import Profile

DRESS_VERSION = 1
"""Part of every dress digest. Raised when equal tags would be written as other bytes."""

CATALOGUE_BYTES_A_TRACK = 400
MANIFEST_BYTES_A_TRACK = 500
"""Two copies of a file's line in the packed manifest, and its plain line in the journal."""
RESERVE_BYTES = 1 << 20
TAG_BYTES = 4096
"""Allowance for text tags in a file whose size is not known yet."""
PLAYLIST_BYTES_A_TRACK = 40
"""In the playlist of a clause: what stands around path and title, and a number behind a name."""
TAG_HEAD_BYTES = 256
"""Allowance for what a container puts around tags that are at their largest."""


SourceKey = tuple[str, str]
"""Audio hash and recipe key: a pressing, or a file on the card whatever its tags."""


@dataclass(slots=True)
class Member:
    """A track on its way to a place."""

    entry: CataloguedTrack
    recipe: Recipe
    recipe_key: str
    suffix: str
    wish: str = ""
    current: ManifestEntry | None = None
    tags: CardTags = ()
    dress: str = ""
    size: int = 0
    gain: CardTags = ()
    unmeasured: bool = False

    @property
    def title(self) -> str:
        """The title in its tags."""
        return dict(self.tags).get("TITLE", "")


@dataclass(slots=True)
class Chosen:
    """A group with its members, on its way to the card."""

    group: Group
    members: list[Member]
    raised_db: float = 0.0
    """By how much the level of its music is raised at most."""
    clause: int = 0
    """The number of the clause that chose it."""
    picture: Picture | None = None


class Choosing:
    """The working space of one choice. After ``chosen()``, what was not chosen is told."""

    def __init__(
        self,
        library: LibrarySnapshot,
        card: CardState,
        profile: Profile,
        programme: Programme,
        pressings: Pressings,
        selection: Selection,
    ) -> None:
        self.selection = selection
        self.told: ProgrammeTold | None = None
        """What the programme came to, where there is one."""
        self.card = card
        self.profile = profile
        self.programme = programme
        self.pressings = pressings
        self.left_out: list[LeftOut] = sorted(library.unreadable, key=lambda item: item.path)
        self.not_fitting: list[NotFitting] = []
        self._layout = Layout(profile)
        self._evens = profile.loudness.mode != "off"
        self._lying_sizes: Mapping[SourceKey, int] | None = None  # else tags are not known
        self._joins = False  # until a recipe has use for it
        self._recipes: dict[tuple[object, ...], tuple[Recipe, str, str] | str] = {}
        self._away = tuple(root.rstrip("/") + "/" for root in library.away)
        self._lost = frozenset(item.path for item in library.unreadable)
        self._damaged = pressings.damaged
        self._particular = any(plays.particular for plays in profile.plays)
        writing = profile.tags
        art = writing.art == "embedded"
        side = writing.art_longest_side_px
        self._art_bytes = picture_bytes(writing) if art else 0
        self._pictures = (
            Pictures(writing, card, pressings, (*self._away, *self._lost))
            if writing.art == "file"
            else None
        )
        self._plain_bytes = TAG_BYTES + writing.id3_padding_bytes
        self._dressed_bytes = self._plain_bytes + self._art_bytes
        if writing.largest_tag_bytes is not None:
            most = writing.largest_tag_bytes + TAG_HEAD_BYTES
            self._plain_bytes = min(self._plain_bytes, most)
            self._dressed_bytes = min(self._dressed_bytes, most)
        # What is as it always was is not named, so that files written before stay current.
        particular = [
            f"text {writing.id3_text}" if writing.id3_text != "auto" else "",
            f"padding {writing.id3_padding_bytes}" if writing.id3_padding_bytes else "",
            f"most {writing.largest_tag_bytes}" if writing.largest_tag_bytes else "",
            writing.art_format if art and writing.art_format != "jpeg" else "",
            writing.art_fit if art and writing.art_fit != "within" else "",
        ]
        self._writing = "\0".join(
            (
                str(DRESS_VERSION),
                profile.tags.id3_version,
                profile.tags.charset,
                f"{side}" if art else "",
                "rewrite" if profile.tags.rewrite_carried else "keep",
                *filter(None, particular),
            )
        )

    def chosen(self) -> list[Chosen]:
        """The groups that shall be on the card, in order of priority."""
        telling = None
        if self.programme is not EVERYTHING:
            telling = Telling(self.programme, self.selection)
        playable = self._playable()
        self._find_current(playable)
        if self._away or self._lost:
            self._stay_in_another_form(playable)
        playable = [choice for choice in playable if self._has_sources(choice)]
        chosen = self._fitting(playable, telling)
        if telling is not None:
            self.told = telling.told()
        return chosen

    def all_fits(self, folders: Mapping[str, Set[str]], lying: Mapping[SourceKey, int]) -> bool:
        """Whether all that is wanted would have room, by sizes that are known without tags.

        *folders* has those of each group's wish by its key, *lying* the sizes of the card's files.
        A limit in bytes that keeps something out counts as want of room.
        """
        self._lying_sizes = lying
        candidates = []
        for choice in self._playable():
            needs = self._needs(choice)
            seconds = sum(member.entry.track.audio.duration_s for member in choice.members)
            lies = any(
                (member.entry.track.audio_hash, member.recipe_key) in lying
                for member in choice.members
            )
            where = folders[choice.group.key]
            candidates.append(Candidate(choice.clause, needs, seconds, where, lies))
        rules = self._rules()
        unsized = [
            Rule(rule.limit and rule.limit.model_copy(update={"size": None}), rule.ordered)
            for rule in rules
        ]
        budget = self._budget() + self._folder_budget()
        judged = fill(candidates, unsized, budget, self.card.cluster_bytes)
        taken = [0] * len(rules)
        for one, found in zip(candidates, judged, strict=True):
            if found.verdict is Verdict.ROOM:
                return False
            if found.verdict is Verdict.TAKEN:
                taken[one.clause] += found.needs
        return all(
            rule.limit is None or rule.limit.size is None or size <= rule.limit.size
            for rule, size in zip(rules, taken, strict=True)
        )

    def _playable(self) -> list[Chosen]:
        """Groups in order of priority with their recipes; what cannot be played is left out."""
        playable = []
        for clause, group in self.selection.wanted:
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

    def to_measure(self, chosen: Iterable[Chosen]) -> tuple[tuple[Track, Recipe], ...]:
        """Of what was chosen, the tracks whose loudness must be known and is not."""
        return tuple(
            (member.entry.track, member.recipe)
            for choice in chosen
            for member in choice.members
            if member.unmeasured and not self._out_of_reach(member)
        )

    def _member(self, entry: CataloguedTrack) -> Member | str:
        """The track with its recipe, or the reason why it cannot be played or pressed."""
        track = entry.track
        audio = track.audio
        facts: tuple[object, ...] = (
            audio.container,
            audio.codec,
            audio.sample_rate_hz,
            audio.channels,
            audio.bits_per_sample,
            audio.bitrate_bps,
            audio.profile,
        )
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
        failed = self.pressings.failed.get((entry.track.audio_hash, key))
        if failed is not None:
            return failed
        return Member(entry, recipe, key, suffix)

    def _find_current(self, chosen: list[Chosen]) -> None:
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
                member.dress = self._dress(member)
                # The same audio may lie there twice; who lies where it wishes to lie comes first.
                current = by_path.get(wish)
                if current is None or not _holds_pressing(current, member):
                    rest.append(member)
                    continue
                member.current = by_path.pop(wish)
                if current.source.dress == member.dress and not playlists:
                    member.tags = ()  # they are written already: no need to hold them
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

    def _stay_in_another_form(self, chosen: list[Chosen]) -> None:
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
            if member.current is not None or not self._out_of_reach(member):
                continue
            found = [
                entry
                for entry in lying.get(member.entry.track.audio_hash, ())
                if entry.source.recipe != PICTURE
            ]
            if found and not self._in_store(member):
                lying[member.entry.track.audio_hash].remove(found[0])
                member.current = found[0]
                member.recipe_key = found[0].source.recipe
                member.suffix = found[0].path.rpartition(".")[2]
                member.wish = f"{member.wish.rpartition('.')[0]}.{member.suffix}"

    def _dress(self, member: Member) -> str:
        track = member.entry.track
        art = track.art.hash if track.art is not None and self._art_bytes else ""
        text = "\0".join(chain.from_iterable(member.tags))
        return xxhash.xxh3_64_hexdigest(
            f"{self._writing}\0\0{art}\0\0{text}".encode("utf-8", "surrogatepass")
        )

    def _has_sources(self, choice: Chosen) -> bool:
        """Whether all that must be written can be made.

        A disk that is away may forbid it, or a file that has become unreadable.
        """
        if not self._away and not self._lost:
            return True
        lacking = []
        for member in choice.members:
            if not self._out_of_reach(member):
                continue
            if member.current is not None:
                # It cannot be dressed anew without its master: it stays as it is.
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
        if choice.group.is_recording:
            without = f"Its recording is not whole without {lacking[0].entry.track.address}."
            self.left_out.extend(
                LeftOut(member.entry.track.address, without)
                for member in choice.members
                if member not in lacking
            )
            return False
        choice.members = [member for member in choice.members if member not in lacking]
        members = tuple(member.entry for member in choice.members)
        choice.group = Group(choice.group.key, False, choice.group.title, members)
        return bool(members)

    def _out_of_reach(self, member: Member) -> bool:
        """Whether the master of *member* cannot be read: its disk is away, or it is damaged."""
        path = member.entry.track.path
        return path.startswith(self._away) or path in self._lost

    def _in_store(self, member: Member) -> bool:
        return (member.entry.track.audio_hash, member.recipe_key) in self.pressings.sizes

    # -- fitting ----------------------------------------------------------------------------

    def _fitting(self, wanted: list[Chosen], telling: Telling | None) -> list[Chosen]:
        """The groups that fit, clause by clause (see ``filling.py`` for the rules)."""
        card = self.card
        budget = self._budget()
        needed = [self._needs(choice) for choice in wanted]
        most = sum(needed) + sum(
            card.cluster_bytes * choice.members[0].wish.count("/") for choice in wanted
        )
        rules = self._rules()
        # Folders take room as well: counted one by one only where room is short, since it costs.
        short = most > budget or any(rule.limit for rule in rules)
        if short:
            budget += self._folder_budget()
        small: list[Chosen] = []
        candidates: list[Candidate] = []
        for choice, needs in zip(wanted, needed, strict=True):
            limit = self._too_large(choice)
            if limit:
                reason = f"One of its files is larger than {limit} allows."
                self._no_room(choice, needs, reason, telling)
                continue
            small.append(choice)
            if short:
                candidates.append(_candidate(choice, needs))
        if short:
            judged = fill(candidates, rules, budget, card.cluster_bytes)
            small = [
                choice
                for choice, found in zip(small, judged, strict=True)
                if self._has_room(choice, found, telling)
            ]
        if telling is not None:
            for choice in small:
                telling.taken(choice.clause, choice.members)
        return small

    def _budget(self) -> int:
        """Bytes for music and what tells of it, all folders taken as new."""
        card = self.card
        budget = card.bytes_free + card.own_bytes - RESERVE_BYTES
        budget += sum(card.allocated(entry.size) for entry in card.entries)
        if self.profile.card.clause_playlists:
            budget -= 2 * card.cluster_bytes * len(self.programme.clause)
        return budget

    def _folder_budget(self) -> int:
        """Bytes that the folders of what lies on the card take."""
        lying = folders_of(fold(entry.path) for entry in self.card.entries)
        return self.card.cluster_bytes * len(lying)

    def _rules(self) -> list[Rule]:
        return [Rule(clause.limit, clause.order is not None) for clause in self.programme.clause]

    def _has_room(self, choice: Chosen, judged: Judged, telling: Telling | None) -> bool:
        """Whether *choice* was taken; if not, that is told."""
        if judged.verdict is Verdict.ROOM:
            reason = f"It needs {judged.needs} bytes, and {judged.left} are left."
            self._no_room(choice, judged.needs, reason, telling)
        elif judged.verdict is Verdict.LIMIT and telling is not None:
            telling.beyond(
                choice.clause, _not_taken(choice, judged.needs, telling.limit(choice.clause))
            )
        return judged.verdict is Verdict.TAKEN

    def _needs(self, choice: Chosen) -> int:
        """Bytes on the card for the files of *choice* and what tells of them, but for folders."""
        card = self.card
        each = MANIFEST_BYTES_A_TRACK
        if self.profile.catalogue.present:
            each += 2 * CATALOGUE_BYTES_A_TRACK
        needs = 0
        for member in choice.members:
            member.size = self._size(member)
            needs += card.allocated(member.size) + each
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

    def _too_large(self, choice: Chosen) -> str:
        """What does not allow a file as large as one of *choice*, empty when all are allowed."""
        largest = max(member.size for member in choice.members)
        if largest > (self.card.largest_file_bytes or largest):
            return "the card's file system"
        return "the player" if largest > (self.profile.card.largest_file_bytes or largest) else ""

    def _no_room(self, choice: Chosen, needs: int, reason: str, telling: Telling | None) -> None:
        self.not_fitting.append(NotFitting(choice.group.title, len(choice.members), needs, reason))
        if telling is not None:
            telling.no_room(choice.clause, _not_taken(choice, needs, reason))

    def _size(self, member: Member) -> int:
        """Bytes on the card: exact if the very file is there, else an upper estimate."""
        current = member.current
        if current is not None and current.source.dress == member.dress:
            return current.size
        track = member.entry.track
        if self._lying_sizes is None:
            source = Source(track.audio_hash, member.recipe_key, member.dress)
            exact = self.card.arrived.get(source) or self.pressings.dressed.get(source)
        else:
            exact = self._lying_sizes.get((track.audio_hash, member.recipe_key))
        if exact is not None:
            return exact
        dressing = self._dressed_bytes if track.art is not None else self._plain_bytes
        if member.recipe.action == "carry":
            return track.size_bytes + dressing
        known = self.pressings.sizes.get((track.audio_hash, member.recipe_key))
        if known is not None:
            return known + dressing
        return member.recipe.estimate_bytes(track.audio.duration_s) + dressing


def _candidate(choice: Chosen, needs: int) -> Candidate:
    return Candidate(
        choice.clause,
        needs,
        sum(member.entry.track.audio.duration_s for member in choice.members),
        folders_of([fold(choice.members[0].wish)]),
        any(member.current is not None for member in choice.members),
    )


def _not_taken(choice: Chosen, needs: int, reason: str) -> NotTaken:
    return NotTaken(choice.group.title, len(choice.members), needs, reason)


def _holds_pressing(entry: ManifestEntry, member: Member) -> bool:
    source = entry.source
    return source.audio == member.entry.track.audio_hash and source.recipe == member.recipe_key


def _same_dress(entry: ManifestEntry, member: Member) -> bool:
    return entry.source.dress == member.dress


def _any_place(entry: ManifestEntry, member: Member) -> bool:
    return True
