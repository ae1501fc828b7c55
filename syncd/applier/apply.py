"""Carrying out a plan on a card, so that at every instant a player finds a whole card.

The order of deeds (what a crash after each leaves is in DEVELOPERS.md's table):

- new files are written aside, in ``SYNCD/incoming``, and told in the journal; then a barrier
- if something that the catalogue names must change: a catalogue without it is published
- what must go is removed, what moves is taken aside
- what was written aside is read back and compared, past the system's memory; what differs is
  written once more, and if that differs too, the card stops here
- everything aside takes its place; a barrier
- the catalogue of the end state is published: into the idle slot, barrier, its record, barrier
- what is no longer wanted is removed
- the manifest of the end state is written twice, the second time over the old one: one of the two
  is always whole; then the journal goes

Catalogue, record and manifest are read back as well, each after the barrier that it passes anyway.

A publishing never touches the catalogue that a player would open.
"""

from collections.abc import Iterable, Iterator, Sequence

import xxhash

from syncd.applier import manifest
from syncd.applier.applied import (
    Applied,
    CannotMake,
    CatalogueBuilder,
    Compared,
    Dresser,
    Report,
)
from syncd.applier.free_clusters import refuse_free
from syncd.applier.manifest import INCOMING, JOURNAL, MANIFEST, MANIFEST_NEW, JournalLine
from syncd.applier.publishing import OwnFiles
from syncd.applier.readback import failing, in_groups, unlike
from syncd.applier.reading import CardReading
from syncd.applier.shared_clusters import refuse_linked
from syncd.applier.volume import CHUNK, Volume
from syncd.errors import CardProblem, ItemProblem
from syncd.model import CardPath
from syncd.planner.card_state import ManifestEntry, Source
from syncd.planner.plan import Action, Placement, Plan, Step

BATCH_BYTES = 512 << 20
"""Bytes written between two barriers: so much, at most, must be written again after a cut."""


def apply(
    plan: Plan,
    volume: Volume,
    reading: CardReading,
    dresser: Dresser,
    build_catalogue: CatalogueBuilder,
    report: Report | None = None,
    *,
    read_back: bool = True,
    compared: Compared | None = None,
) -> Applied:
    """Carry out *plan* on *volume*, whose state is *reading*. A plan without steps writes nothing.

    May be interrupted anywhere; the next reading, plan and apply end in the same card. Raises
    CardProblem, and CannotMake when a file cannot be made after all; CardFailing when what was
    written twice does not come back (never without *read_back*).
    """
    if not plan.steps:
        return Applied()
    applying = _Applying(
        plan, volume, reading, dresser, build_catalogue, report, compared, read_back=read_back
    )
    try:
        return applying.run()
    except CannotMake as fault:
        fault.done = applying.done
        raise


def sweep(volume: Volume, reading: CardReading) -> bool:
    """Remove the folders that an interrupted update left empty; whether there may have been some.

    They take room that no plan reckons with: read the card again before planning.
    """
    if not reading.state.unfinished:
        return False
    refuse_free(volume, reading)
    volume.barrier()  # what an ended process wrote is compared with the card, not with memory
    folders = {path.rpartition("/")[0] for path in (*reading.vacated, *reading.debris)}
    for folder in sorted(folders | {INCOMING}, key=len, reverse=True):
        if folder:
            volume.remove_empty_folders(folder)
    volume.barrier()  # until then they take their room, on FAT
    return True


class _Applying:
    def __init__(
        self,
        plan: Plan,
        volume: Volume,
        reading: CardReading,
        dresser: Dresser,
        build_catalogue: CatalogueBuilder,
        report: Report | None,
        compared: Compared | None,
        *,
        read_back: bool,
    ) -> None:
        self.plan = plan
        self.volume = volume
        self.reading = reading
        self.dresser = dresser
        self.build_catalogue = build_catalogue
        self.report = report or (lambda step, size: None)
        self.read_back = read_back
        self.compared = compared or (lambda path, size: None)
        self.done = Applied()
        self.own = OwnFiles(volume, reading.slots, self.done, read_back=read_back)
        self.placement = {placement.path: placement for placement in plan.end}
        self.entries = {entry.path: entry for entry in reading.state.entries}
        state = reading.state
        self.ours = {entry.path for entry in (*state.entries, *state.missing)} - {*state.foreign}
        self.asides: dict[CardPath, tuple[str, ManifestEntry]] = {}
        self.moved: set[CardPath] = set()
        self.taken: set[str] = set()
        self.left_folders: set[str] = set()

    def run(self) -> Applied:
        refuse_free(self.volume, self.reading)
        self._tidy()
        self._begin()
        last = max(
            index for index, step in enumerate(self.plan.steps) if step.action is Action.PUBLISH
        )
        for action, steps in _runs(self.plan.steps):
            match action:
                case Action.WRITE:
                    self._write(steps)
                case Action.REMOVE:
                    self._remove(steps)
                case Action.RENAME:
                    self._take_aside(steps)
                case Action.PUBLISH if steps[0] is self.plan.steps[last]:
                    self._place_all()
                    self._publish(self.plan.end)
                    self.report(steps[0], 0)
                case Action.PUBLISH:
                    staying = self.plan.staying
                    self._publish([place for place in self.plan.end if place.path in staying])
                    self.report(steps[0], 0)
                case Action.MEASURE | Action.PRESS:
                    pass
        self._close()
        return self.done

    def _begin(self) -> None:
        """Tell that an update begins; and what was chosen, where room is short.

        Then nothing else is done before that is sure: what is on the card when the update goes on
        must not change what is chosen.
        """
        plan = self.plan
        if plan.room is None:
            self._journal([JournalLine("begin")])
            return
        self._journal([JournalLine("begin", room=plan.room, coming=plan.coming)])
        self.volume.barrier()

    # -- what an interruption left ------------------------------------------------------------

    def _tidy(self) -> None:
        """Take over files that wait aside from an interrupted update; remove what is of no use."""
        wanted: dict[Source, list[CardPath]] = {}
        for step in self.plan.steps:
            if step.action is Action.WRITE:
                placement = self.placement[CardPath(step.target)]
                wanted.setdefault(placement.source, []).append(placement.path)
        useless: list[str] = list(self.reading.debris)
        rest: list[tuple[str, ManifestEntry]] = []
        for aside, entry in sorted(self.reading.waiting.items()):
            targets = wanted.get(entry.source, [])
            if entry.path in targets:
                targets.remove(entry.path)
                self._take_over(aside, entry, entry.path)
            else:
                rest.append((aside, entry))
        for aside, entry in rest:
            if targets := wanted.get(entry.source, []):
                self._take_over(aside, entry, targets.pop(0))
            else:
                useless.append(aside)
        refuse_linked(self.volume, self.reading, [*useless, *self.reading.waiting])
        for useless_path in useless:
            self.volume.remove(useless_path)
        if useless:
            # On exFAT their clusters may be free already: before anything is written into those.
            self.volume.barrier()
        # A folder that an interrupted update emptied, or made and did not fill, is left over.
        for path in (*useless, *self.reading.vacated):
            self.left_folders.add(path.rpartition("/")[0])

    def _take_over(self, aside: str, entry: ManifestEntry, path: CardPath) -> None:
        moved = ManifestEntry(path, entry.size, entry.xxh3_128, entry.source)
        self.asides[path] = (aside, moved)
        self.taken.add(aside)
        self.done.kept_from_before += 1

    def _new_aside(self, prefix: str, name: str) -> str:
        """A path aside that belongs to nothing which waits there."""
        digest = xxhash.xxh3_64_hexdigest(name.encode("utf-8", "surrogatepass"))
        aside = f"{INCOMING}/{prefix}{digest}"
        while aside in self.taken:
            aside += "x"
        self.taken.add(aside)
        return aside

    # -- steps --------------------------------------------------------------------------------

    def _write(self, steps: Sequence[Step]) -> None:
        lines = [  # a waiting file may be bound for another path than the interrupted plan said
            JournalLine("put", entry, aside)
            for aside, entry in self.asides.values()
            if self.reading.waiting.get(aside) != entry
        ]
        since_barrier = 0
        try:
            for step in steps:
                path = CardPath(step.target)
                written = 0
                if path not in self.asides:
                    aside, entry = self._bring(self.placement[path])
                    self.asides[path] = (aside, entry)
                    lines.append(JournalLine("put", entry, aside))
                    written = entry.size
                    since_barrier += written
                    self.done.written += 1
                self.report(step, written)
                if since_barrier >= BATCH_BYTES:
                    self._make_sure(lines)
                    lines, since_barrier = [], 0
        except (KeyboardInterrupt, ItemProblem):
            # The card is well: what was written so far is kept for the next update.
            self._make_sure(lines)
            raise
        self._make_sure(lines)

    def _bring(self, placement: Placement) -> tuple[str, ManifestEntry]:
        """Write the file of *placement* aside."""
        source = placement.source
        name = f"{placement.path}\0{source.audio}\0{source.recipe}\0{source.dress}"
        aside = self._new_aside("", name)
        try:
            with self.dresser(placement) as content:
                size, digest = self.volume.write(aside, content.chunks())
        except ItemProblem as problem:
            self.volume.remove(aside)
            raise CannotMake(placement, problem) from problem
        self.done.bytes_written += size
        return aside, ManifestEntry(placement.path, size, digest, source)

    def _read_back(self) -> None:
        """Compare what lies aside with what was written; what differs is written once more.

        After all was written: a card that is smaller than it says loses earlier files to later
        ones, so all are compared again after that, too. Before anything takes its place: what is
        not well is named by no catalogue.
        """
        written = [path for path in self.asides if path not in self.moved]
        bad = self._unlike(written)
        self.done.read_back += len(written)
        if not bad:
            return
        mended = 0
        if sum(self.asides[path][1].size for path in bad) < BATCH_BYTES:  # else there is no hope
            for path in bad:
                self.volume.remove(self.asides.pop(path)[0])
            self.volume.barrier()
            for path in bad:
                self.asides[path] = self._bring(self.placement[path])
            lying = [self.asides[path] for path in bad]
            self._make_sure(JournalLine("put", entry, aside) for aside, entry in lying)
            mended, bad = len(bad), self._unlike(written)
        if bad:
            for path in bad:
                self.volume.remove(self.asides[path][0])
            self.volume.barrier()
            raise failing(self.volume.name, bad)
        self.done.mended += mended

    def _unlike(self, paths: Iterable[CardPath]) -> list[CardPath]:
        """Those of *paths* whose files aside do not come back as they were written."""
        found = []
        from_memory = 0
        for group in in_groups((path, self.asides[path][1].size) for path in paths):
            from_memory += self.volume.forget([self.asides[path][0] for path in group])
            for path in group:
                aside, entry = self.asides[path]
                if unlike(self.volume, aside, entry):
                    found.append(path)
                self.compared(path, entry.size)
        self.done.from_memory = max(self.done.from_memory, from_memory)
        return found

    def _remove(self, steps: Sequence[Step]) -> None:
        for step in steps:
            self.volume.remove(step.target)
            self.entries.pop(CardPath(step.target), None)
            self.left_folders.add(step.target.rpartition("/")[0])
            self.done.removed += 1
            self.report(step, 0)
        self.volume.barrier()

    def _take_aside(self, steps: Sequence[Step]) -> None:
        """Files that change their place go aside first: two of them may change places."""
        lines = []
        moves = []
        for step in steps:
            if step.origin is None:
                continue
            old = self.entries.pop(step.origin)
            path = CardPath(step.target)
            entry = ManifestEntry(path, old.size, old.xxh3_128, old.source)
            aside = self._new_aside("m", path)
            self.asides[path] = (aside, entry)
            self.moved.add(path)
            lines.append(JournalLine("put", entry, aside))
            moves.append((step, step.origin, aside))
        self._journal(lines)
        self.volume.barrier()
        for step, origin, aside in moves:
            self.volume.rename(origin, aside)
            self.left_folders.add(origin.rpartition("/")[0])
            self.done.renamed += 1
            self.report(step, 0)
        self._make_sure([])

    def _place_all(self) -> None:
        """Every file aside takes its place, in playing order."""
        if not self.asides:
            return
        if self.read_back:
            self._read_back()
        for path in self.asides:  # before the journal names it as a place of ours
            self._is_there(path)
        self._journal([JournalLine("placing")])
        self.volume.barrier()
        emptied = {
            folder[:end]
            for folder in self.left_folders
            for end in (*(at for at, letter in enumerate(folder) if letter == "/"), len(folder))
        }
        if self.plan.ordered:  # what was emptied is made anew, in its turn
            for folder in sorted(self.left_folders, key=len, reverse=True):
                if folder:
                    self.volume.remove_empty_folders(folder)
        for placement in self.plan.end:
            found = self.asides.get(placement.path)
            if found is None:
                continue
            aside, entry = found
            if placement.path in emptied:  # a file comes where a folder of ours was
                self.volume.remove_empty_folders(placement.path)
            if self._is_there(placement.path):
                self.volume.remove(placement.path)
            self.volume.rename(aside, placement.path)
            self.entries[placement.path] = entry
        self._make_sure([])

    def _is_there(self, path: CardPath) -> bool:
        """Whether a file of ours lies at *path*. Raises CardProblem for one that is not ours."""
        if self.volume.size(path) is None:
            return False
        if path not in self.ours:
            raise CardProblem(
                f"{path} came to the card {self.volume.name} during the update, and not by it. "
                "It stays; update again."
            )
        return True

    # -- catalogue ----------------------------------------------------------------------------

    def _publish(self, placements: Sequence[Placement]) -> None:
        """Put the catalogue of *placements* into the idle slot, and let players choose it."""
        if self.plan.catalogue_key is None:
            self.own.retire_both()
            return
        sized = [
            (placement, self.entries[placement.path].size)
            for placement in placements
            if placement.track is not None
        ]
        final = len(placements) == len(self.plan.end)
        # An interim catalogue says less than any plan's end: it must never be taken for one.
        key = self.plan.catalogue_key if final else "0" * 32
        self.own.publish(self.build_catalogue(sized), key)

    # -- the end ------------------------------------------------------------------------------

    def _close(self) -> None:
        """Tidy up, put the manifest of the end state in place, and let the journal go."""
        for folder in sorted(self.left_folders, key=len, reverse=True):
            if folder:
                self.volume.remove_empty_folders(folder)
        self.volume.remove_empty_folders(INCOMING)
        if self.plan.catalogue_key is not None:
            # The older catalogue names what may be gone by now, and its bytes depend on the past.
            self.own.retire_older()
        data = manifest.encode_manifest(self.entries[path] for path in self.placement)
        for path in (MANIFEST_NEW, MANIFEST):
            self.own.write(path, lambda: _pieces(data))
        self.volume.remove(MANIFEST_NEW)
        self.volume.remove(JOURNAL)
        self.volume.barrier()

    def _journal(self, lines: Iterable[JournalLine]) -> None:
        data = b"".join(manifest.encode_line(line) for line in lines)
        if data:
            self.volume.append(JOURNAL, data)
            self.done.bytes_written += len(data)

    def _make_sure(self, lines: Iterable[JournalLine]) -> None:
        """Tell *lines*, pass a barrier, and tell that it was passed."""
        self._journal(lines)
        self.volume.barrier()
        self._journal([JournalLine("sure")])


def _pieces(data: bytes) -> Iterator[bytes]:
    for start in range(0, len(data), CHUNK):
        yield data[start : start + CHUNK]


def _runs(steps: Sequence[Step]) -> Iterator[tuple[Action, list[Step]]]:
    """Neighbouring steps of one kind together; every publish by itself."""
    run: list[Step] = []
    for step in steps:
        if run and (step.action is not run[0].action or step.action is Action.PUBLISH):
            yield run[0].action, run
            run = []
        run.append(step)
    if run:
        yield run[0].action, run
