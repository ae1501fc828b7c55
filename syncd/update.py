"""One card brought up to date, start to end: read, plan, press, plan again, apply.

What the commands and the daemon call. It joins the parts and decides nothing that they decide.
"""

import contextlib
import datetime
import tempfile
import threading
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import xxhash

from syncd.applier.ailing import is_rest
from syncd.applier.apply import Applied, CannotMake, CatalogueBuilder, Content, apply, sweep
from syncd.applier.identity import CARD_FILE
from syncd.applier.reading import CardReading, read_card
from syncd.applier.reckoning import folders_met, reckon
from syncd.applier.verify import Verified, disbelieved
from syncd.applier.volume import FolderVolume, Volume, content_hash, read_only
from syncd.catalogue.build import FORM, build
from syncd.catalogue.from_plan import entries_of
from syncd.errors import CardBusy, CardProblem, ItemProblem
from syncd.model import AudioHash, CardPath, LibrarySnapshot, Track
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.planner.choosing import RESERVE_BYTES
from syncd.planner.gain import NOTHING_HEARD, Heard, LevelKey, Levels, level_key
from syncd.planner.names import fold
from syncd.planner.ordering import folders_played, in_directory_order
from syncd.planner.pictures import PICTURE
from syncd.planner.plan import Action, Placement, Plan, Pressings, Step, pressing_id
from syncd.planner.planning import make_plan
from syncd.planner.programme import EVERYTHING, Programme
from syncd.profile import Profile
from syncd.transcoder.artwork import PictureForm, scaled_art
from syncd.transcoder.dress import DamagedPressing, dress, undressed
from syncd.transcoder.dressed_sizes import DressedSizes
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.measurements import Measurements
from syncd.transcoder.pool import Pressed, check_all, measure_all, press_all
from syncd.transcoder.store import PressingKey, Store

MOST_TRIES = 5
"""Plans that are made before one has to do, where the estimates of a nearly full card were low."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an update is. ``stage`` is "check", "measure", "press", "write" or "compare".

    ``item`` names what was just done.
    """

    stage: str
    done: int
    total: int
    bytes_done: int
    bytes_total: int
    item: str


Report = Callable[[Progress], None]


@dataclass(slots=True)
class Outcome:
    """What an update did. ``plan`` is the one that was carried out at the end."""

    plan: Plan
    applied: Applied = field(default_factory=Applied)
    pressed: int = 0
    from_store: int = 0
    seconds: float = 0.0
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Target:
    """A card at hand: where it is, what it is for, and the limits of its file system.

    With *read_back* what is written to it is read again and compared.
    """

    volume: Volume
    profile: Profile
    programme: Programme = EVERYTHING
    largest_file_bytes: int | None = None
    read_back: bool = True


class Updater:
    """Plans and updates cards from one library snapshot, with one store.

    *scratch* is a folder at home for what is made on the way. Damaged masters are left out but for
    those that it *forgives*; without *checks* nobody looks for damage, and all are used. Raises
    SetupProblem when the store cannot be used.

    *needed_elsewhere* tells which pressings other cards that are plugged in hold; it raises
    CardProblem where that cannot be known, and then nothing goes out of the store.
    """

    def __init__(
        self,
        library: LibrarySnapshot,
        store: Store,
        tool: Ffmpeg,
        scratch: Path,
        *,
        workers: int | None = None,
        stop: threading.Event | None = None,
        report: Report | None = None,
        store_limit_bytes: int | None = None,
        forgives: Callable[[Track], bool] | None = None,
        checks: bool = True,
        needed_elsewhere: Callable[[], Collection[PressingKey]] | None = None,
    ) -> None:
        self.library = library
        self.forgives = forgives or (lambda track: False)
        self.checks = checks
        self.today = (datetime.date.today() - datetime.date(1970, 1, 1)).days
        self.store_limit_bytes = store_limit_bytes
        self.needed_elsewhere = needed_elsewhere or (lambda: ())
        self.store = store
        self.tool = tool
        self.scratch = scratch
        self.workers = workers
        self.stop = stop
        self.report = report or (lambda progress: None)
        self.failed: dict[PressingKey, str] = {}
        self.dressed = _KnownSizes(library, store)
        self.notices: list[str] = []
        self._unmeasurable: set[LevelKey] = set()
        self._uncheckable: set[PressingKey] = set()
        self._damaged_before: set[PressingKey] = set()

    def plan(self, target: Target) -> tuple[Plan, CardReading]:
        """What an update of *target* would do, and the card as it is. Writes nothing to it."""
        reading = self._read(target, None)
        plan = self._plan(target, reading)
        if plan.steps and not plan.presses and not plan.measures and self._sizes_known(plan):
            with tempfile.TemporaryDirectory(dir=self._made_scratch()) as folder:
                spare = 0
                for _ in range(MOST_TRIES):
                    plan, short = self._reckoned(target, plan, reading, Path(folder))
                    spare += short
                    if not short:
                        break
                    plan = self._plan(target, reading, spare)
                    if plan.presses or plan.measures or not self._sizes_known(plan):
                        break
        return plan, reading

    def _read(self, target: Target, found: Verified | None) -> CardReading:
        reading = read_card(target.volume, largest_file_bytes=target.largest_file_bytes)
        if reading.manifest_lost or (reading.manifest_absent and reading.state.foreign):
            reading = self._adopted(target, reading)
        if reading.overwritten:
            reading = self._known_as_cut(target, reading)
        return reading if found is None else disbelieved(reading, found)

    def _plan(self, target: Target, reading: CardReading, spare: int = 0) -> Plan:
        """The plan for the card of *reading*, of whose free bytes *spare* stay out of it."""
        if spare:
            state = reading.state
            reading = replace(reading, state=replace(state, bytes_free=state.bytes_free - spare))
        plan = self._made_plan(target, reading)
        if target.profile.card.order == "directory":
            geometry = target.volume.geometry(folders_played(plan, reading.state))
            plan = in_directory_order(plan, reading.state, geometry, reading.debris)
        return plan

    def _made_plan(self, target: Target, reading: CardReading) -> Plan:
        return make_plan(
            self.library,
            reading.state,
            target.profile,
            target.programme,
            Pressings(
                self.store.sizes(),
                self._failed(target),
                self.dressed,
                self._levels(target),
                self._damaged(),
            ),
            catalogue_form=f"{FORM} {target.profile.card.charset}",
            today=self.today,
        )

    def _damaged(self) -> dict[AudioHash, str]:
        """The damaged masters that are not to be used, with the reason."""
        known = self.store.checks().damaged() if self.checks else {}
        if not known:
            return {}
        tracks = [entry.track for entry in self.library.tracks if entry.track.audio_hash in known]
        forgiven = {track.audio_hash for track in tracks if self.forgives(track)}
        return {
            track.audio_hash: known[track.audio_hash].sentence(_printable(track.address))
            for track in tracks
            if track.audio_hash not in forgiven
        }

    def _failed(self, target: Target) -> Mapping[PressingKey, str]:
        """What could not be made, with the pictures that are known to be none."""
        writing = target.profile.tags
        if writing.art != "file":
            return self.failed
        useless = self.store.useless_art(PictureForm.of(writing).name)
        return self.failed | {
            (AudioHash(digest), PICTURE): "It cannot be read as a picture." for digest in useless
        }

    def update(self, target: Target, found: Verified | None = None) -> Outcome:
        """Bring *target* up to date. May be interrupted at any time; the next update goes on.

        *found* is what a verification found: what it says is damaged is not believed, and made
        anew. Raises CardProblem when the card fails, SetupProblem when the store does.
        """
        started = time.monotonic()
        reading = self._read(target, found)
        self.notices.extend(reading.notices)
        if not target.volume.space().read_only and sweep(target.volume, reading):
            reading = self._read(target, found)
        plan = self._plan(target, reading)
        if not plan.steps:
            return self._ended(target, plan, Applied(), set(), started)
        with tempfile.TemporaryDirectory(dir=self._made_scratch()) as folder:
            return self._updated(target, found, reading, plan, Path(folder), started)

    def _updated(
        self,
        target: Target,
        found: Verified | None,
        reading: CardReading,
        plan: Plan,
        scratch: Path,
        started: float,
    ) -> Outcome:
        """Carry out *plan*, and those that take its place when more is known."""
        total: Applied | None = None
        spare = tries = 0
        made: set[PressingKey] = set()
        if target.volume.space().read_only:
            raise read_only(target.volume.name)  # said before anything is encoded for it
        while True:
            if self._check(plan):
                plan = self._plan(target, reading, spare)
                continue
            if plan.measures and self._listen(target.profile, plan):
                plan = self._plan(target, reading, spare)
                continue
            if plan.presses:
                made |= self._press(plan, self._sink(target.profile))
                if reading.manifest_absent or reading.manifest_lost:
                    # With its pressing at hand, more of what is on the card may be known again.
                    reading = self._read(target, found)
                plan = self._plan(target, reading, spare)
                if plan.presses or plan.measures:
                    continue  # what failed is left out now; something else may have moved up
            if self._measure(target.profile, plan, scratch):
                plan = self._plan(target, reading, spare)  # estimates are above: more may fit
                continue
            plan, short = self._reckoned(target, plan, reading, scratch)
            if short and tries < MOST_TRIES:
                tries += 1  # the estimates of folders and catalogue were low: less has to do
                spare += short
                plan = self._plan(target, reading, spare)
                continue
            try:
                applied = self._apply(target, plan, reading, scratch)
            except CannotMake as fault:
                self._take_note(fault)
                total = fault.done if total is None else total.and_then(fault.done)
                reading = self._read(target, found)
                plan = self._plan(target, reading, spare)
                continue
            total = applied if total is None else total.and_then(applied)
            return self._ended(target, plan, total, made, started)

    def prepare(self, target: Target, state: CardState) -> int:
        """Make what an update of *target* would need, were it as *state* says; how many pressings.

        Nothing of the card itself is asked: it may be away. Stops where the store is full, since
        what is pressed next would push out what was pressed before.
        """
        reading = CardReading(state)
        made: set[PressingKey] = set()
        with tempfile.TemporaryDirectory(dir=self._made_scratch()) as folder:
            while True:
                plan = self._plan(target, reading)
                if self._check(plan) or (plan.measures and self._listen(target.profile, plan)):
                    continue
                fitting = self._fitting_the_store(plan)
                if fitting:
                    made |= self._press(replace(plan, presses=fitting), self._sink(target.profile))
                    if len(fitting) == len(plan.presses):
                        continue  # what failed is left out now; something else may have moved up
                # How large they are once they are dressed: else the card would wait for that.
                self._measure(target.profile, plan, Path(folder))
                return len(made)

    def _fitting_the_store(self, plan: Plan) -> tuple[Placement, ...]:
        """Those that *plan* presses, as far as the store's limit allows."""
        if self.store_limit_bytes is None or not plan.presses:
            return plan.presses
        room = self.store_limit_bytes - sum(self.store.sizes().values())
        fitting = []
        for placement in plan.presses:
            room -= placement.size
            if room < 0:
                break
            fitting.append(placement)
        return tuple(fitting)

    def _ended(
        self, target: Target, plan: Plan, total: Applied, made: set[PressingKey], started: float
    ) -> Outcome:
        self._trim(plan)
        if (measured := self._sink(target.profile)) is not None:
            measured.trim()
        from_store = sum(key not in made for key in _written(plan))
        return Outcome(
            plan, total, len(made), from_store, time.monotonic() - started, self._all_notices()
        )

    def _trim(self, plan: Plan) -> None:
        """Keep the store within its limit, but for what cards need that are plugged in."""
        if self.store_limit_bytes is None:
            return
        size = self.store.size()
        if size.pressing_bytes + size.picture_bytes <= self.store_limit_bytes:
            return
        needed = {
            pressing_id(placement)
            for placement in plan.end
            if placement.recipe is not None and placement.recipe.action != "carry"
        }
        try:
            needed.update(self.needed_elsewhere())
        except CardProblem as problem:
            self.notices.append(f"Nothing was removed from the store. {problem}")
            return
        self.store.trim(self.store_limit_bytes, needed)

    def _all_notices(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys([*self.notices, *self.store.notices]))

    def _take_note(self, fault: CannotMake) -> None:
        """Remember what could not be made, so that the next plan is made without it."""
        key = pressing_id(fault.placement)
        if isinstance(fault.__cause__, DamagedPressing):
            damaged = self.store.get(*key)
            if damaged is not None:
                self.store.set_aside(damaged)
            if damaged is not None and key not in self._damaged_before:
                self._damaged_before.add(key)  # once: a store on a failing disk must not go round
                self.notices.append(fault.reason)
                return
        self.failed[key] = fault.reason

    # -- pressing -----------------------------------------------------------------------------

    def _press(self, plan: Plan, sink: Measurements | None) -> set[PressingKey]:
        """Make the pressings that *plan* lacks; returns those that were made."""
        items = [
            (placement.track.track, placement.recipe)
            for placement in plan.presses
            if placement.track is not None and placement.recipe is not None
        ]
        made: set[PressingKey] = set()
        total = len(items)
        total_s = sum(track.audio.duration_s for track, _ in items)
        done_s = 0.0
        outcomes = press_all(
            items,
            self.store,
            self.tool,
            workers=self.workers,
            stop=self.stop,
            sink=sink,
            forgiven=self.forgives if self.checks else lambda track: True,
        )
        for done, outcome in enumerate(outcomes, 1):
            key = (outcome.track.audio_hash, outcome.recipe.key)
            if outcome.problem is not None:
                self.failed[key] = outcome.problem.reason
            elif outcome.made:
                made.add(key)
            done_s += outcome.track.audio.duration_s
            self.report(Progress("press", done, total, int(done_s), int(total_s), _shown(outcome)))
        if self.stop is not None and self.stop.is_set():
            raise KeyboardInterrupt
        return made

    # -- soundness --------------------------------------------------------------------------

    def _check(self, plan: Plan) -> bool:
        """Decode what *plan* carries over and nobody has decoded yet; whether there was any.

        What is damaged is not passed on: the plan is made again without it.
        """
        if not self.checks:
            return False
        written = {step.target for step in plan.steps if step.action is Action.WRITE}
        known = self.store.checks()
        items = [
            (placement.track.track, placement.recipe)
            for placement in plan.end
            if placement.path in written
            and placement.track is not None
            and placement.recipe is not None
            and placement.recipe.action == "carry"
            and pressing_id(placement) not in self._uncheckable
            and not known.known(placement.track.track.audio_hash)
        ]
        if not items:
            return False
        total = sum(track.audio.duration_s for track, _ in items)
        done_s = 0.0
        outcomes = check_all(items, known, self.tool, workers=self.workers, stop=self.stop)
        for done, outcome in enumerate(outcomes, 1):
            if outcome.problem is not None:
                key = (outcome.track.audio_hash, outcome.recipe.key)
                self._uncheckable.add(key)
                if not self.forgives(outcome.track):
                    self.failed[key] = outcome.problem.reason
            done_s += outcome.track.audio.duration_s
            self.report(
                Progress("check", done, len(items), int(done_s), int(total), _shown(outcome))
            )
        if self.stop is not None and self.stop.is_set():
            raise KeyboardInterrupt
        return True

    # -- loudness -----------------------------------------------------------------------------

    def _sink(self, profile: Profile) -> Measurements | None:
        return self.store.measurements() if profile.loudness.mode != "off" else None

    def _levels(self, target: Target) -> Levels | None:
        known = self._sink(target.profile)
        return None if known is None else _Levels(known, self._unmeasurable)

    def _listen(self, profile: Profile, plan: Plan) -> bool:
        """Measure what *plan* lacks; whether anything was to be done.

        What is about to be encoded is measured there, unless the encoder needs the gain itself.
        """
        sink = self._sink(profile)
        later = {
            level_key(placement.track.track.audio_hash, placement.recipe)
            for placement in plan.presses
            if placement.track is not None
            and placement.recipe is not None
            and placement.recipe.action == "encode"
        }
        if profile.loudness.mode == "baked":
            later = set()
        items = [
            (track, recipe)
            for track, recipe in plan.measures
            if level_key(track.audio_hash, recipe) not in later
        ]
        if sink is None or not items:
            return False
        total = sum(track.audio.duration_s for track, _ in items)
        done_s = 0.0
        outcomes = measure_all(items, sink, self.tool, workers=self.workers, stop=self.stop)
        for done, outcome in enumerate(outcomes, 1):
            if outcome.problem is not None:
                self._unmeasurable.add(level_key(outcome.track.audio_hash, outcome.recipe))
                self.notices.append(
                    f"The loudness of {_shown(outcome)} cannot be measured, so it gets no gain, "
                    f"and its recording or album has none: {outcome.problem.reason}"
                )
            done_s += outcome.track.audio.duration_s
            self.report(
                Progress("measure", done, len(items), int(done_s), int(total), _shown(outcome))
            )
        if self.stop is not None and self.stop.is_set():
            raise KeyboardInterrupt
        return True

    def _measure(self, profile: Profile, plan: Plan, scratch: Path) -> bool:
        """Find out exactly how large the files will be that *plan* writes; whether that was news.

        It costs as much as putting on the tags once more, and is kept for the next time.
        """
        writes = {step.target for step in plan.steps if step.action is Action.WRITE}
        news = False
        measured: list[tuple[Source, int, int]] = []
        for placement in plan.end:
            if placement.path not in writes or placement.source in self.dressed:
                continue
            # What cannot be made is found out, and told, when it is written.
            with (
                contextlib.suppress(ItemProblem),
                self._dressed(profile, placement, scratch) as content,
            ):
                self.dressed.sizes[placement.source] = content.size
                news = news or content.size != placement.size
                of_bytes = self.dressed.bytes_of(pressing_id(placement))
                if placement.recipe is not None and of_bytes is not None:
                    measured.append((placement.source, of_bytes, content.size))
            if self.stop is not None and self.stop.is_set():
                raise KeyboardInterrupt
        self.dressed.kept.keep(measured)
        return news

    def _sizes_known(self, plan: Plan) -> bool:
        """Whether it is known exactly how large the files will be that *plan* writes."""
        writes = {step.target for step in plan.steps if step.action is Action.WRITE}
        return all(
            placement.path not in writes
            or (placement.track is None and placement.art is None)
            or placement.source in self.dressed
            for placement in plan.end
        )

    def _reckoned(
        self, target: Target, plan: Plan, reading: CardReading, scratch: Path
    ) -> tuple[Plan, int]:
        """*plan* with the free bytes to the cluster; and the bytes by which it takes too much.

        Needs the exact sizes of all that is written. On a file system whose rules are not known,
        *plan* stays as it is.
        """
        if not plan.steps:
            return plan, 0
        geometry = target.volume.geometry(folders_met(plan, reading))
        if not geometry.system.known:
            return plan, 0
        found = reckon(plan, geometry, reading, self._builder(target, plan, scratch))
        before = reading.state.bytes_free
        # The reserve is kept, unless something else has taken of it already.
        lacking = min(RESERVE_BYTES, before) - found.free_after
        exact = replace(
            plan,
            bytes_free_before=before,
            bytes_free_after=found.free_after,
            free_is_exact=found.exact,
        )
        return exact, max(0, -found.free_least, lacking)

    # -- applying -----------------------------------------------------------------------------

    def _apply(self, target: Target, plan: Plan, reading: CardReading, scratch: Path) -> Applied:
        at_home = (Action.MEASURE, Action.PRESS)
        steps = [step for step in plan.steps if step.action not in at_home]
        total_bytes = sum(step.bytes for step in steps if step.action is Action.WRITE)
        done = 0
        done_bytes = 0

        def told(step: Step, written: int) -> None:
            nonlocal done, done_bytes
            done += 1
            done_bytes += step.bytes if step.action is Action.WRITE else 0
            self.report(Progress("write", done, len(steps), done_bytes, total_bytes, step.target))
            if self.stop is not None and self.stop.is_set():
                raise KeyboardInterrupt

        files = sum(step.action is Action.WRITE for step in steps)
        compared = 0
        compared_bytes = 0

        def told_compared(path: CardPath, size: int) -> None:
            nonlocal compared, compared_bytes
            compared = min(compared + 1, files)
            compared_bytes = min(compared_bytes + size, total_bytes)
            self.report(Progress("compare", compared, files, compared_bytes, total_bytes, path))
            if self.stop is not None and self.stop.is_set():
                raise KeyboardInterrupt

        applied = apply(
            plan,
            target.volume,
            reading,
            lambda placement: self._dressed(target.profile, placement, scratch),
            self._builder(target, plan, scratch),
            told,
            read_back=target.read_back,
            compared=told_compared,
        )
        self._tell_of_reading(target.volume.name, applied)
        return applied

    def _tell_of_reading(self, card: str, applied: Applied) -> None:
        """What a person should know of how new files were read back."""
        if applied.from_memory:
            self.notices.append(
                f"Of {applied.read_back} new files on {card} that were read back, the system may "
                f"have given {applied.from_memory} from its memory instead of the card: its file "
                "system does not let us past that. To be sure, take the card out, put it in again "
                "and run 'syncd verify'."
            )
        if applied.mended:
            self.notices.append(
                f"{applied.mended} new files came back from {card} otherwise than written, and "
                "were written once more. If that comes again, replace the card."
            )

    def _builder(self, target: Target, plan: Plan, scratch: Path) -> CatalogueBuilder:
        """Builds catalogues in *scratch*, each once: for reckoning its size, then for the card."""

        def build_catalogue(placements: Sequence[tuple[Placement, int]]) -> Path:
            digest = xxhash.xxh3_128()
            for place, size in placements:
                digest.update(f"{place.path}\0{size}\0".encode("utf-8", "surrogatepass"))
            path = scratch / f"catalogue-{digest.hexdigest()}.db"
            if not path.exists():
                whole = len(placements) == sum(place.track is not None for place in plan.end)
                # An interim catalogue names no picture that is about to move or to go.
                end = [place for place in plan.end if whole or place.path in plan.staying]
                build(
                    entries_of(placements, end, target.profile), path, target.profile.card.charset
                )
            return path

        return build_catalogue

    @contextlib.contextmanager
    def _dressed(self, profile: Profile, placement: Placement, scratch: Path) -> Iterator[Content]:
        """The bytes of *placement*'s file."""
        if placement.track is None or placement.recipe is None:
            yield _Small(self._small(profile, placement))
            return
        track = placement.track.track
        art = None
        if placement.art is not None:
            form = PictureForm.of(profile.tags)
            art = scaled_art(placement.art, form, self.store, self.notices)
        if placement.recipe.action == "carry":
            master = Path(track.path)
            _check_unchanged(master, track.size_bytes)
            if not profile.tags.rewrite_carried:
                with undressed(master) as content:
                    yield content
                return
            made = dress(master, track.audio.container, placement.tags, art, profile.tags, scratch)
        else:
            pressing = self.store.get(*pressing_id(placement))
            if pressing is None:
                raise ItemProblem(
                    track.path, f"The pressing of {track.path} went out of the store meanwhile."
                )
            made = dress(
                pressing.path,
                placement.recipe.container,
                placement.tags,
                art,
                profile.tags,
                scratch,
                expect=pressing.hash,
            )
        with made as content:
            yield content

    def _small(self, profile: Profile, placement: Placement) -> bytes:
        """The content of a playlist or a picture file."""
        if placement.art is None:
            return placement.text.encode("utf-8", "replace")
        made = scaled_art(placement.art, PictureForm.of(profile.tags), self.store, self.notices)
        if made is None:
            raise ItemProblem(
                placement.art.path, f"No picture can be made from {placement.art.path}."
            )
        return made

    # -- a manifest that was lost -------------------------------------------------------------

    def _adopted(self, target: Target, reading: CardReading) -> CardReading:
        """Recognise files of ours by their content, where the manifest was lost or damaged.

        Where a file should lie that the plan for a card without it would put there, what lies
        there is compared with what would be written. Only what is equal byte for byte is ours.
        On a card that shows no other sign of an earlier update, a master carried over untouched
        is no sign of ours either: it may be the listener's own copy.
        """
        sizes = {file.path: file.size for file in target.volume.files()}
        known = {entry.path for entry in reading.state.entries}
        unlike: set[CardPath] = set()
        adopted: dict[CardPath, ManifestEntry] = {}
        with tempfile.TemporaryDirectory(dir=self._made_scratch()) as folder:
            while True:
                state = _without(reading.state, adopted, unlike, sizes)
                wished = self._plan(target, replace(reading, state=state))
                compare = [
                    placement
                    for placement in wished.end
                    if placement.path not in known
                    and placement.path not in adopted
                    and placement.path not in unlike
                    and target.volume.size(placement.path) is not None
                ]
                if not compare:
                    break
                for placement in compare:
                    entry = self._same(target, placement, Path(folder), reading.manifest_lost)
                    if entry is None:
                        unlike.add(placement.path)  # ours may lie beside it, under a number
                    else:
                        adopted[entry.path] = entry
        entries = (*reading.state.entries, *adopted.values())
        ours = {fold(path) for path in adopted}
        state = replace(
            reading.state,
            entries=tuple(sorted(entries, key=lambda entry: entry.path)),
            foreign=tuple(path for path in reading.state.foreign if fold(path) not in ours),
            unfinished=True,
        )
        return replace(reading, state=state)

    def _known_as_cut(self, target: Target, reading: CardReading) -> CardReading:
        """*reading* with those overwritten files as damaged ones of ours that are ours, but cut.

        Ours is what holds nothing but bytes of ours in their places, and zeros. All else may be
        the listener's: it stays, and ours goes beside it.
        """
        missing = {entry.path: entry for entry in reading.state.missing}
        of_source = {placement.source: placement for placement in self._plan(target, reading).end}
        cut: list[str] = []
        with tempfile.TemporaryDirectory(dir=self._made_scratch()) as folder:
            for path in reading.overwritten:
                entry = missing.get(CardPath(path))
                placement = of_source.get(entry.source) if entry is not None else None
                if placement is not None and self._is_cut(target, placement, path, Path(folder)):
                    cut.append(path)
        for path in reading.overwritten:
            if path not in cut:
                self.notices.append(
                    f"{path} on {target.volume.name} is not what syncd wrote there: it was written "
                    "over by something else, or is damaged. It stays as it is, and ours goes "
                    "beside it. Remove it if it is of no use."
                )
        state = reading.state
        own = sum(state.allocated(reading.sizes[path]) for path in cut)
        state = replace(
            state,
            foreign=tuple(path for path in state.foreign if path not in cut),
            own_bytes=state.own_bytes + own,
            unfinished=state.unfinished or bool(cut),
        )
        return replace(reading, state=state, debris=(*reading.debris, *cut))

    def _is_cut(self, target: Target, placement: Placement, path: str, scratch: Path) -> bool:
        """Whether what lies at *path* is *placement*'s file, cut or with zeros in it."""
        try:
            with self._dressed(target.profile, placement, scratch) as content:
                if (target.volume.size(path) or 0) >= content.size:
                    return False
                return is_rest(target.volume.chunks(path), content.chunks())
        except ItemProblem:
            return False

    def _same(
        self, target: Target, placement: Placement, scratch: Path, untouched_too: bool
    ) -> ManifestEntry | None:
        """The entry of what lies at *placement*'s path, if that is what would be written there."""
        recipe = placement.recipe
        carried = recipe is not None and recipe.action == "carry"
        if carried and not target.profile.tags.rewrite_carried and not untouched_too:
            return None
        try:
            with self._dressed(target.profile, placement, scratch) as content:
                if target.volume.size(placement.path) != content.size:
                    return None
                digest = content_hash(content.chunks())
        except ItemProblem:
            return None
        if content_hash(target.volume.chunks(placement.path)) != digest:
            return None
        return ManifestEntry(placement.path, content.size, digest, placement.source)

    def _made_scratch(self) -> Path:
        self.scratch.mkdir(parents=True, exist_ok=True)
        return self.scratch


class _KnownSizes(Mapping[Source, int]):
    """The exact sizes of dressed files: those kept at home, read when first asked, and new ones."""

    def __init__(self, library: LibrarySnapshot, store: Store) -> None:
        self.sizes: dict[Source, int] = {}
        self.kept = DressedSizes(store.folder)
        self._library = library
        self._store = store
        self._read = False
        self._masters: dict[AudioHash, int] = {}

    def bytes_of(self, key: PressingKey) -> int | None:
        """Bytes of what is dressed: the pressing, or the master that is carried over."""
        self._begin()
        return self._pressings.get(key) or self._masters.get(key[0])

    def _begin(self) -> None:
        if self._read:
            return
        self._read = True
        self._pressings = self._store.sizes()
        self._masters = {
            entry.track.audio_hash: entry.track.size_bytes for entry in self._library.tracks
        }
        self.sizes |= self.kept.known(self.bytes_of)

    def __getitem__(self, source: Source) -> int:
        self._begin()
        return self.sizes[source]

    def get(self, source: Source, default: int | None = None) -> int | None:  # type: ignore[override]
        self._begin()
        return self.sizes.get(source, default)

    def __iter__(self) -> Iterator[Source]:
        self._begin()
        return iter(self.sizes)

    def __len__(self) -> int:
        self._begin()
        return len(self.sizes)


class _Levels:
    """What was measured, and what cannot be: whatever holds such a track has no loudness."""

    def __init__(self, measured: Measurements, unmeasurable: set[LevelKey]) -> None:
        self._measured = measured
        self._unmeasurable = unmeasurable

    def known(self, key: LevelKey) -> bool:
        """Whether there is nothing left to measure."""
        return key in self._unmeasurable or self._measured.known(key)

    def of(self, keys: tuple[LevelKey, ...]) -> Heard | None:
        """What *keys* sound like in a row."""
        if not self._unmeasurable.isdisjoint(keys):
            return NOTHING_HEARD
        return self._measured.of(keys)


class _Small:
    """The content of a playlist or a picture."""

    def __init__(self, data: bytes) -> None:
        self._data = data

    @property
    def size(self) -> int:
        """Bytes."""
        return len(self._data)

    def chunks(self) -> Iterator[bytes]:
        """The whole at once."""
        yield self._data


def _without(
    state: CardState,
    adopted: Mapping[CardPath, ManifestEntry],
    unlike: Iterable[CardPath],
    sizes: Mapping[str, int],
) -> CardState:
    """*state* as if its unknown files were not there, but for those that are known to be foreign.

    The room that they take is counted as free: they may turn out to be ours.
    """
    foreign = tuple(sorted(unlike))
    hidden = sum(
        state.allocated(sizes.get(path, 0)) for path in {*state.foreign} - {*foreign, *adopted}
    )
    entries = {entry.path: entry for entry in state.entries} | dict(adopted)
    return replace(
        state,
        entries=tuple(entries.values()),
        missing=(),
        foreign=foreign,
        bytes_free=state.bytes_free + hidden,
    )


def _check_unchanged(master: Path, size: int) -> None:
    try:
        now = master.stat().st_size
    except OSError as error:
        raise ItemProblem(
            str(master), f"{master} cannot be read: {error.strerror}. Scan the library again."
        ) from error
    if now != size:
        raise ItemProblem(
            str(master), f"{master} changed since the last scan. Scan the library again."
        )


def _written(plan: Plan) -> Iterator[PressingKey]:
    """The pressing of each file that *plan* writes, where it needs one from the store."""
    written = {step.target for step in plan.steps if step.action is Action.WRITE}
    for placement in plan.end:
        recipe = placement.recipe
        if placement.path in written and recipe is not None and recipe.action != "carry":
            yield pressing_id(placement)


def _shown(outcome: Pressed) -> str:
    return _printable(outcome.track.path.rpartition("/")[2])


def _printable(path: str) -> str:
    return path.encode("utf-8", "replace").decode("utf-8")


def open_volume(mount: Path, name: str) -> FolderVolume:
    """The card at *mount*, locked for this process. Raises CardBusy if another holds it."""
    volume = FolderVolume(mount, name)
    if not volume.lock(CARD_FILE):
        volume.close()
        raise CardBusy(f"Another syncd is at work on the card {name}. Wait until it has finished.")
    return volume
