"""Whole updates of a card in memory that is FAT and full to within a cluster, as ``updating`` does.

Sizes are exact from the start, so that nothing has to be pressed and measured; all else is the
update's own: sweeping, choosing, reckoning, choosing again with less.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from card_world import Bytes, built, dressed, library, movement, profile, retagged, song
from counting_volume import CountingVolume, Severity

from syncd.applier.applied import Report
from syncd.applier.apply import apply, sweep
from syncd.applier.reading import CardReading, read_card
from syncd.applier.volume import Volume
from syncd.errors import CardFull
from syncd.model import AudioHash, LibrarySnapshot
from syncd.planner.capacity import FAT32
from syncd.planner.card_state import Source
from syncd.planner.plan import Placement, Plan, Pressings
from syncd.planner.planning import make_plan
from syncd.planner.programme import EVERYTHING, Clause, Programme
from syncd.profile import Profile
from syncd.updating.exact import no_room_to_work, reckoned
from syncd.updating.updater import MOST_TRIES


class ExactSizes(Mapping[Source, int]):
    """How large each file will be, by its audio."""

    def __init__(self, wanted: LibrarySnapshot) -> None:
        self._sizes = {
            entry.track.audio_hash: Bytes(
                Placement(entry.track.path, Source(entry.track.audio_hash, "", ""), 0, entry)  # type: ignore[arg-type]
            ).size
            for entry in wanted.tracks
        }

    def __getitem__(self, source: Source) -> int:
        return self._sizes[AudioHash(source.audio)]

    def __iter__(self) -> Iterator[Source]:
        return iter(())

    def __len__(self) -> int:
        return len(self._sizes)


@dataclass(frozen=True)
class Edge:
    """A library on a card, and the one that is wanted there."""

    before: LibrarySnapshot
    after: LibrarySnapshot
    programme: Programme = EVERYTHING
    profile: Profile = field(default_factory=profile)
    cluster: int = 512
    filled: int | None = None
    """The bytes that the listener's own files leave free before the update, None for no such."""

    def card(self, capacity: int) -> CountingVolume:
        """The card before the update."""
        volume = CountingVolume(capacity=capacity, cluster=self.cluster, system=FAT32)
        volume.put("SYNCD/card.json", b"{}")
        if self.before.tracks:
            whole_update(volume, self.before, self)
        if self.filled is not None:
            volume.put("PHOTOS.BIN", bytes(volume.space().free - self.filled))
        return clone(volume)


def clone(volume: CountingVolume) -> CountingVolume:
    return volume.after_cut(Severity.ALL)


def planned(volume: Volume, wanted: LibrarySnapshot, edge: Edge) -> tuple[Plan, CardReading]:
    """The plan that an update would carry out, the card as it is. Raises CardFull as that does."""
    reading = read_card(volume)
    sizes = Pressings(dressed=ExactSizes(wanted))
    spare = 0
    for tries in range(MOST_TRIES + 1):
        state = reading.state.with_less(spare)
        plan = make_plan(wanted, state, edge.profile, edge.programme, sizes)
        with built() as build:
            room = reckoned(volume, plan, reading, build)
        if not room.short or tries == MOST_TRIES:
            break
        spare += room.short
    if room.lacking and room.plan.free_is_exact:
        raise CardFull(no_room_to_work(volume.name, room))
    return room.plan, reading


def whole_update(
    volume: Volume, wanted: LibrarySnapshot, edge: Edge, report: Report | None = None
) -> Plan:
    """Bring *volume* up to date; the plan that was carried out."""
    sweep(volume, read_card(volume))
    plan, reading = planned(volume, wanted, edge)
    with built() as build:
        apply(plan, volume, reading, dressed, build, report)
    if plan.steps and plan.free_is_exact:
        assert volume.space().free == plan.bytes_free_after
    return plan


def with_free(edge: Edge, free: int) -> Edge:
    return replace(edge, filled=free)


TIDE = [song("Marnesund Five", "Low Tide", n, f"Song {n}", size=9_000 + n) for n in (1, 2, 3)]
LONG = [
    song("The Band with a Rather Long Name", "An Album with a Name that is Longer", n,
         f"Song {n}, of which the title takes up several entries", size=4_000)
    for n in range(1, 8)
]  # fmt: skip
SONATA = [movement("Sonata", n, f"Part {n}", size=11_000) for n in (1, 2, 3)]
SUITE = [movement("Suite", n, f"Part {n}", player="Ilse Torvald", size=7_000) for n in (1, 2)]
FOLK = [retagged(entry, genre="Folk") for entry in LONG]
ORDERED = Programme(clause=(Clause(kind="work"), Clause(everything=True)))

EDGES = {
    "comes": Edge(library(*TIDE), library(*TIDE, *SONATA, *SUITE, *LONG)),
    "comes in order": Edge(library(*TIDE, *LONG), library(*TIDE, *LONG, *SONATA), ORDERED),
    "comes and goes": Edge(library(*TIDE, *LONG), library(*LONG[:4], *SONATA, *SUITE)),
    "changes": Edge(library(*TIDE, *LONG), library(*TIDE, *FOLK)),
    "changes and comes": Edge(library(*TIDE, *LONG), library(*TIDE, *FOLK, *SUITE)),
}


def least(edge: Edge) -> int:
    """The fewest free bytes with which all that is wanted has room."""

    def has_room(clusters: int) -> bool:
        volume = with_free(edge, clusters * edge.cluster).card(16 << 20)
        try:
            plan, _ = planned(volume, edge.after, edge)
        except CardFull:
            return False
        return not plan.not_fitting

    low, high = 0, (2 << 20) // edge.cluster
    assert has_room(high)
    while low + 1 < high:
        middle = (low + high) // 2
        low, high = (low, middle) if has_room(middle) else (middle, high)
    return high * edge.cluster
