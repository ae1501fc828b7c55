"""The planner: library snapshot, card state, profile and programme in; a plan out. Pure.

It opens nothing, logs nothing and knows no clock. Equal inputs give equal plans, in whatever order
their parts come. What a step does to the card is the applier's affair; which steps there are, in
which order and why, is decided here:

0. measure    what loudness is not known of, where levels are evened
1. press      what the store does not have yet is made at home
2. write      new files are put on the card aside, named by nothing
3. publish    only if something that the catalogue names must change place, content or go first,
              or is damaged and written anew: a catalogue without it
4. remove / rename, and the new files take their places
5. publish    the catalogue of the end state
6. remove     what is not wanted any more (if it did not have to go before)
"""

from collections.abc import Iterable, Set
from dataclasses import replace

import xxhash

from syncd.collector import collector_resting
from syncd.model import CardPath, Credit, LibrarySnapshot, Track
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.choosing import Choosing
from syncd.planner.costing import (
    CATALOGUE_BYTES_A_TRACK,
    MANIFEST_BYTES_A_TRACK,
    RESERVE_BYTES,
)
from syncd.planner.fitting import fitting_profile
from syncd.planner.gain import CAUTION, told_gain
from syncd.planner.layout import group_tracks
from syncd.planner.names import fold
from syncd.planner.places import folders_of
from syncd.planner.placing import Placed, Placing
from syncd.planner.plan import Action, Placement, Plan, Pressings, Step, pressing_id
from syncd.planner.programme import EVERYTHING, Programme
from syncd.planner.recipe import Recipe
from syncd.planner.selecting import select
from syncd.profile import Levelling, Profile


def make_plan(
    library: LibrarySnapshot,
    card: CardState,
    profile: Profile,
    programme: Programme = EVERYTHING,
    pressings: Pressings | None = None,
    catalogue_form: str = "",
    today: int | None = None,
) -> Plan:
    """Return the steps that take *card* from what it is to what it should be.

    *catalogue_form* names the form in which the catalogue is built; another form is another
    catalogue, even of the same files. *today*, in days since 1970-01-01, is the day from which a
    programme counts. Nothing is chosen but whole recordings. What cannot be
    read, played or fitted is told in the plan. Equal inputs give equal plans, in whatever order
    their parts come.
    """
    with collector_resting():
        return _plan(
            library, card, profile, programme, pressings or Pressings(), catalogue_form, today
        )


def _plan(
    library: LibrarySnapshot,
    card: CardState,
    profile: Profile,
    programme: Programme,
    pressings: Pressings,
    catalogue_form: str,
    today: int | None,
) -> Plan:
    selection = select(programme, group_tracks(library.tracks), today)
    fit = ""
    if programme.fit is not None:
        profile, fit = fitting_profile(library, card, profile, programme, pressings, selection)
    choosing = Choosing(library, card, profile, programme, pressings, selection)
    chosen = choosing.chosen()
    told = choosing.told
    placing = Placing(card, profile, [clause.title for clause in programme.clause])
    end = placing.placed(chosen)
    stepping = _Stepping(card, profile, pressings, catalogue_form)
    plan = stepping.plan(end, choosing.crowded_out)
    in_the_way = placing.places.in_the_way
    measures = choosing.to_measure(chosen) if profile.loudness.mode != "off" else ()
    steps = (*map(_measure, measures), *plan.steps)
    raised_db = max((choice.raised_db for choice in chosen), default=0.0)
    return replace(
        plan,
        steps=steps,
        measures=measures,
        cautions=(CAUTION.format(gain=raised_db),) if steps and raised_db >= 0.5 else (),
        not_fitting=tuple(choosing.not_fitting),
        left_out=tuple(choosing.left_out),
        other_forms=choosing.other_forms(chosen),
        in_part=choosing.in_part(chosen),
        programme=replace(told, fit=fit) if told is not None and fit else told,
        room=choosing.room,
        slack=choosing.slack,
        coming=choosing.coming,
        goes_on=choosing.goes_on,
        keeps_reserve=choosing.keeps_reserve,
        foreign=tuple(
            path
            for path in sorted((*card.foreign, *card.empty_folders))
            if fold(path) in in_the_way
        ),
    )


class _Stepping:
    """From the end state to the steps that lead there."""

    def __init__(
        self, card: CardState, profile: Profile, pressings: Pressings, catalogue_form: str
    ) -> None:
        self.card = card
        self.profile = profile
        self.pressings = pressings
        self.catalogue_form = catalogue_form

    def plan(self, end: list[Placed], crowded_out: Set[CardPath]) -> Plan:
        """The plan, but for what was left out in choosing and placing.

        *crowded_out* are files on the card that are wanted and have no room.
        """
        card = self.card
        by_path = {entry.path: entry for entry in card.entries}
        staying: set[CardPath] = set()
        writes: list[Step] = []
        renames: list[Step] = []
        replaced: list[ManifestEntry] = []
        kept_files: set[CardPath] = set()
        presses: dict[tuple[str, str], Placement] = {}
        for placement, current in end:
            old = by_path.get(placement.path)
            if current is not None and (
                current.source is placement.source or current.source == placement.source
            ):
                kept_files.add(current.path)
                if current.path == placement.path:
                    staying.add(placement.path)
                else:
                    renames.append(_rename(placement, current))
                continue
            if old is not None:
                replaced.append(old)
            writes.append(_write(placement, current, old, card))
            if self._must_press(placement):
                presses.setdefault((placement.source.audio, placement.source.recipe), placement)
        stale = [entry for entry in card.entries if entry.path not in kept_files]
        stale.sort(key=lambda entry: entry.path)
        replaced_paths = {entry.path for entry in replaced}
        gone = [entry for entry in stale if entry.path not in replaced_paths]
        key = (
            _catalogue_key(
                (placement for placement, _ in end), self.catalogue_form, self.profile.loudness
            )
            if self.profile.catalogue.present
            else None
        )
        return self._ordered(
            end,
            writes,
            renames,
            replaced,
            gone,
            staying,
            tuple(presses.values()),
            key,
            crowded_out,
        )

    def _must_press(self, placement: Placement) -> bool:
        recipe = placement.recipe
        if recipe is None or recipe.action == "carry" or placement.source in self.card.arrived:
            return False
        return pressing_id(placement) not in self.pressings.sizes

    def _ordered(
        self,
        end: list[Placed],
        writes: list[Step],
        renames: list[Step],
        replaced: list[ManifestEntry],
        gone: list[ManifestEntry],
        staying: set[CardPath],
        presses: tuple[Placement, ...],
        key: str | None,
        crowded_out: Set[CardPath],
    ) -> Plan:
        card = self.card
        own_after = self._own_bytes(len(end), key is not None)
        new = sum(card.allocated(step.bytes) for step in writes)
        room = card.bytes_free - RESERVE_BYTES - max(0, own_after - card.own_bytes)
        tight = new > room
        withdrawn = (
            bool(renames or replaced or (tight and gone))
            or _meet(writes, gone)
            or _restores(writes, card.missing)
        )
        sounding = {(one.source.audio, one.source.recipe) for one, _ in end if one.source.audio}
        removes = [_remove(entry, entry.path in crowded_out, sounding) for entry in gone]
        if tight:
            removes += [
                Step(
                    Action.REMOVE,
                    entry.path,
                    entry.size,
                    "The card is nearly full: the old form makes room for the new one.",
                )
                for entry in replaced
            ]
        pressing = [_press(placement) for placement in presses]
        changed = bool(writes or renames or removes or card.missing)
        publishing: list[Step] = []
        if changed or key != card.catalogue_key or card.unfinished:
            publishing.append(publish_step(key, len(end), "What is on the card now."))
        interim: list[Step] = []
        if withdrawn and card.catalogue_key is not None:
            count = sum(placement.path in staying for placement, _ in end)
            why = "Before files that it names are moved or removed, it names only the others."
            interim.append(publish_step(key, count, why))
        if not withdrawn:
            steps = [*pressing, *writes, *publishing, *removes]
        elif tight:
            steps = [*pressing, *interim, *removes, *renames, *writes, *publishing]
        else:
            steps = [*pressing, *writes, *interim, *removes, *renames, *publishing]
        freed = sum(card.allocated(entry.size) for entry in (*gone, *replaced))
        after = card.bytes_free + freed - new - (own_after - card.own_bytes if steps else 0)
        return Plan(
            steps=tuple(steps),
            end=tuple(placement for placement, _ in end),
            staying=frozenset(staying),
            catalogue_key=key,
            bytes_free_before=card.bytes_free,
            bytes_free_after=after,
            presses=presses,
        )

    def _own_bytes(self, files: int, catalogue: bool) -> int:
        """About what syncd's own folder takes: manifest, and two catalogues where there are any."""
        a_file = MANIFEST_BYTES_A_TRACK + (2 * CATALOGUE_BYTES_A_TRACK if catalogue else 0)
        return files * a_file + 64 * 1024


def _meet(writes: list[Step], gone: list[ManifestEntry]) -> bool:
    """Whether a new file comes where one must go first: the same place, or a folder's."""
    if not writes or not gone:
        return False
    targets = {fold(step.target) for step in writes}
    going = {fold(entry.path) for entry in gone}
    return bool(targets & (going | folders_of(going)) or going & folders_of(targets))


def _restores(writes: list[Step], missing: tuple[ManifestEntry, ...]) -> bool:
    """Whether a new file comes where one was lost or damaged, which a catalogue may name."""
    lost = {fold(entry.path) for entry in missing}
    return bool(lost) and any(fold(step.target) in lost for step in writes)


def _measure(item: tuple[Track, Recipe]) -> Step:
    why = "Its loudness is not known yet; its gain follows from it."
    return Step(Action.MEASURE, item[0].path, 0, why)


def _press(placement: Placement) -> Step:
    recipe = placement.recipe
    why = "; ".join(recipe.reasons) if recipe is not None else ""
    return Step(
        Action.PRESS, placement.path, placement.size, why or "The player cannot play it as it is."
    )


def _write(
    placement: Placement, current: ManifestEntry | None, old: ManifestEntry | None, card: CardState
) -> Step:
    if placement.source in card.arrived:
        reason = "It came to the card in an update that was interrupted and only takes its place."
    elif current is not None:
        reason = "Its tags or its picture changed; the audio is as it was."
    elif old is not None:
        reason = "Its audio or its recipe changed."
    elif any(entry.path == placement.path for entry in card.missing):
        reason = "The manifest lists it, but it is not on the card, or not whole."
    elif placement.recipe is None:
        reason = "A picture." if placement.art is not None else "A playlist."
    else:
        reason = "It is wanted and not on the card."
    return Step(Action.WRITE, placement.path, placement.size, reason)


def _remove(entry: ManifestEntry, crowded_out: bool, sounding: Set[tuple[str, str]]) -> Step:
    """The removal of *entry*; *sounding* is the audio of the card's end state, with its recipe."""
    if crowded_out:
        reason = "It has no room on this card any more."
    elif (entry.source.audio, entry.source.recipe) in sounding:
        reason = "Another file with the same audio takes its place."
    else:
        reason = "It is not wanted on this card any more."
    return Step(Action.REMOVE, entry.path, entry.size, reason)


def _rename(placement: Placement, current: ManifestEntry) -> Step:
    reason = "The same file belongs to another place now."
    return Step(Action.RENAME, placement.path, placement.size, reason, origin=current.path)


def publish_step(key: str | None, files: int, reason: str) -> Step:
    """The step that publishes a catalogue, or a manifest alone, that names *files* files."""
    size = files * (MANIFEST_BYTES_A_TRACK + (CATALOGUE_BYTES_A_TRACK if key is not None else 0))
    return Step(Action.PUBLISH, "catalogue" if key is not None else "manifest", size, reason)


def _catalogue_key(end: Iterable[Placement], form: str, loudness: Levelling) -> str:
    """A digest of what the catalogue of *end* says: equal content, equal key."""
    evened = loudness if loudness.mode != "off" else None
    lines: list[str] = []
    credits: tuple[Credit, ...] | None = None
    roles = ""
    for placement in end:
        if placement.track is None:
            if placement.art is not None:
                lines.append(placement.path)
            continue
        track, identity = placement.track.track, placement.track.identity
        work = identity.work
        source = placement.source
        dress = placement.wished_dress or source.dress  # stands for all that is written as tags
        catalogue = ",".join(work.catalogue) if work is not None else ""
        key = (work.key or "") if work is not None else ""
        if identity.credits is not credits:
            credits = identity.credits
            roles = ",".join([credit.role for credit in credits])
        lines.append(
            f"{placement.path}\0{source.audio}\0{source.recipe}\0{dress}\0"
            f"{identity.kind}\0{identity.recording}\0{catalogue}\0{key}\0"
            # What the catalogue shows, but the file's tags do not hold:
            f"{track.album}\0{track.added}\0{track.disc_number}\0{roles}"
            + (f"\0{told_gain(placement.tags, evened)}" if evened else "")
        )
    lines.sort()
    lines.append(form)
    return xxhash.xxh3_128_hexdigest("\n".join(lines).encode("utf-8", "surrogatepass"))
