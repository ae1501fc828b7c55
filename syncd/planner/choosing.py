"""Choosing what goes on a card: whole recordings, by the programme, as far as they fit.

Pure. From library snapshot, card state, profile and programme to groups of tracks, each with its
recipe, its tags, and the file on the card that it may already be. What clauses find is
``selecting.py``'s affair, what has room ``filling.py``'s, where it goes ``placing.py``'s.
"""

from collections.abc import Iterable, Mapping, Set

import xxhash

from syncd.model import CardPath, LeftOut, LibrarySnapshot, Track
from syncd.planner.amounts import needs_and_left
from syncd.planner.card_state import CardState
from syncd.planner.chosen import Chosen, SourceKey
from syncd.planner.clauses import NotTaken, ProgrammeTold, Telling
from syncd.planner.costing import RESERVE_BYTES, Costing
from syncd.planner.filling import Candidate, Judged, Rule, Verdict, fill
from syncd.planner.lying import Lying
from syncd.planner.names import fold
from syncd.planner.pictures import Pictures
from syncd.planner.places import folders_of
from syncd.planner.plan import NotFitting, Pressings
from syncd.planner.playable import Playable
from syncd.planner.programme import EVERYTHING, Programme
from syncd.planner.recipe import Recipe
from syncd.planner.selecting import Selection
from syncd.profile import Profile

_NO_END = 1 << 62


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
        self.crowded_out: set[CardPath] = set()
        self.room: int | None = None
        """The bytes that music was chosen for, where they were counted."""
        self.slack = 0
        """What of those was not taken."""
        self.coming: tuple[str, ...] = ()
        """Digests of the keys of what was chosen then and was not on the card."""
        self.goes_on = False
        """Whether that was what an interrupted update had."""
        self.keeps_reserve = True
        """Whether anything comes to the card that was not there before."""
        self._playable = Playable(profile, pressings, self.left_out)
        self._lying = Lying(library, card, profile, pressings, self.left_out)
        pictures = None
        if profile.tags.art == "file":
            pictures = Pictures(profile.tags, card, pressings, self._lying.beyond_reach)
        self._costing = Costing(card, profile, pressings, len(programme.clause), pictures)

    def chosen(self) -> list[Chosen]:
        """The groups that shall be on the card, in order of priority."""
        telling = None
        if self.programme is not EVERYTHING:
            telling = Telling(self.programme, self.selection)
        playable = self._playable.of(self.selection.wanted)
        self._lying.find_current(playable)
        if self._lying.beyond_reach:
            self._lying.stay_in_another_form(playable)
        playable = [choice for choice in playable if self._lying.has_sources(choice)]
        chosen = self._fitting(playable, telling)
        if telling is not None:
            self.told = telling.told()
        return chosen

    def all_fits(self, folders: Mapping[str, Set[str]], lying: Mapping[SourceKey, int]) -> bool:
        """Whether all that is wanted would have room, by sizes that are known without tags.

        *folders* has those of each group's wish by its key, *lying* the sizes of the card's files.
        A limit in bytes that keeps something out counts as want of room.
        """
        self._costing.lying = lying
        candidates = []
        for choice in self._playable.of(self.selection.wanted):
            needs = self._costing.needs(choice)
            seconds, there = 0.0, 0
            for member in choice.members:
                track = member.entry.track
                seconds += track.audio.duration_s
                if lying:
                    there += (track.audio_hash, member.recipe_key) in lying
            lies, stays = there > 0, there == len(choice.members)
            where = folders[choice.group.key]
            candidates.append(Candidate(choice.clause, needs, seconds, where, lies, stays))
        rules = self._rules()
        unsized = [
            Rule(rule.limit and rule.limit.model_copy(update={"size": None}), rule.ordered)
            for rule in rules
        ]
        budget = self._costing.room()
        if all(one.stays for one in candidates):  # then it fits
            budget = _NO_END
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

    def to_measure(self, chosen: Iterable[Chosen]) -> tuple[tuple[Track, Recipe], ...]:
        """Of what was chosen, the tracks whose loudness must be known and is not."""
        return tuple(
            (member.entry.track, member.recipe)
            for choice in chosen
            for member in choice.members
            if member.unmeasured and not self._lying.out_of_reach(member)
        )

    def other_forms(self, chosen: Iterable[Chosen]) -> tuple[LeftOut, ...]:
        """Of what was chosen, the files that stay as another profile had them made."""
        if not self._lying.other_forms:
            return ()
        paths = {
            member.current.path
            for choice in chosen
            for member in choice.members
            if member.current is not None
        }
        return tuple(item for item in self._lying.other_forms if item.path in paths)

    def in_part(self, chosen: Iterable[Chosen]) -> tuple[str, ...]:
        """Of what was chosen, the recordings that are on the card without some of their tracks."""
        return tuple(
            f"{choice.group.title}: {choice.lacking} of {choice.lacking + len(choice.members)} "
            "tracks cannot be made now."
            for choice in chosen
            if choice.lacking and choice.group.is_recording
        )

    # -- fitting ----------------------------------------------------------------------------

    def _fitting(self, wanted: list[Chosen], telling: Telling | None) -> list[Chosen]:
        """The groups that fit, clause by clause (see ``filling.py`` for the rules)."""
        card = self.card
        budget = self._costing.budget()
        needed = [self._costing.needs(choice) for choice in wanted]
        most = sum(needed) + sum(
            card.cluster_bytes * choice.members[0].wish.count("/") for choice in wanted
        )
        rules = self._rules()
        # Folders take room as well: counted one by one only where room is short, since it costs.
        # Nearly short is short: clusters that an interruption takes must not change what is chosen.
        short = most + RESERVE_BYTES > budget or any(rule.limit for rule in rules)
        small: list[Chosen] = []
        candidates: list[Candidate] = []
        for choice, needs in zip(wanted, needed, strict=True):
            limit = self._costing.too_large(choice)
            if limit:
                reason = f"One of its files is larger than {limit} allows."
                self._no_room(choice, needs, reason, telling)
                continue
            small.append(choice)
            if short:
                candidates.append(_candidate(choice, needs))
        if short:
            self.room = self._costing.room()
            self._mark_lying(small, candidates)
            grace = self._grace(small, candidates, self.room)
            judged = fill(candidates, rules, self.room, card.cluster_bytes, grace)
            self.goes_on = self._costing.goes_on
            self.slack = self.room - sum(
                found.needs for found in judged if found.verdict is Verdict.TAKEN
            )
            self.coming = tuple(
                sorted(
                    _digest(choice)
                    for choice, one, found in zip(small, candidates, judged, strict=True)
                    if found.verdict is Verdict.TAKEN and not one.stays
                )
            )
            self.keeps_reserve = not self.goes_on and bool(self.coming)
            small = [
                choice
                for choice, found in zip(small, judged, strict=True)
                if self._has_room(choice, found, telling)
            ]
        if telling is not None:
            for choice in small:
                telling.taken(choice.clause, choice.members)
        return small

    def _mark_lying(self, choices: list[Chosen], candidates: list[Candidate]) -> None:
        """Mark what is on the card.

        What an interrupted update had chosen to bring there comes first as well, but is new.
        """
        costing = self._costing
        for choice, one in zip(choices, candidates, strict=True):
            chosen = bool(self.card.coming) and _digest(choice) in self.card.coming
            one.lies = chosen or costing.lies(choice)
            one.stays = not chosen and costing.lies_whole(choice)

    def _grace(self, choices: list[Chosen], candidates: list[Candidate], room: int) -> int:
        """By how much what stays on the card may go beyond *room*."""
        both = zip(choices, candidates, strict=True)
        staying = [(choice, one) for choice, one in both if one.stays]
        folders = set[str]().union(*(one.folders for _, one in staying))
        needs = sum(one.bytes for _, one in staying) + self.card.cluster_bytes * len(folders)
        if needs <= room:
            return 0
        return self._costing.grace((choice for choice, _ in staying), needs, room)

    def _rules(self) -> list[Rule]:
        return [Rule(clause.limit, clause.order is not None) for clause in self.programme.clause]

    def _has_room(self, choice: Chosen, judged: Judged, telling: Telling | None) -> bool:
        """Whether *choice* was taken; if not, that is told."""
        if judged.verdict is Verdict.ROOM:
            reason = needs_and_left(judged.needs, judged.left, RESERVE_BYTES)
            self._no_room(choice, judged.needs, reason, telling)
        elif judged.verdict is Verdict.LIMIT and telling is not None:
            telling.beyond(
                choice.clause, _not_taken(choice, judged.needs, telling.limit(choice.clause))
            )
        return judged.verdict is Verdict.TAKEN

    def _no_room(self, choice: Chosen, needs: int, reason: str, telling: Telling | None) -> None:
        self.crowded_out.update(
            member.current.path for member in choice.members if member.current is not None
        )
        self.not_fitting.append(NotFitting(choice.group.title, len(choice.members), needs, reason))
        if telling is not None:
            telling.no_room(choice.clause, _not_taken(choice, needs, reason))


def _digest(choice: Chosen) -> str:
    return xxhash.xxh3_64_hexdigest(choice.group.key.encode("utf-8", "surrogatepass"))


def _candidate(choice: Chosen, needs: int) -> Candidate:
    return Candidate(
        choice.clause,
        needs,
        sum(member.entry.track.audio.duration_s for member in choice.members),
        folders_of([fold(choice.members[0].wish)]),
    )


def _not_taken(choice: Chosen, needs: int, reason: str) -> NotTaken:
    return NotTaken(choice.group.title, len(choice.members), needs, reason)
