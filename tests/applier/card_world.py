"""What the applier's tests share: an invented library, files made from it, and what must hold.

The files are not audio: what a file is made of does not matter to a card. All names are invented.
"""

import contextlib
import json
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import xxhash
from counting_volume import CountingVolume

from syncd.applier.applied import Applied, Report
from syncd.applier.apply import apply
from syncd.applier.reading import CardReading, read_card
from syncd.applier.volume import Volume, content_hash
from syncd.catalogue import slots
from syncd.model import (
    AudioFacts,
    AudioHash,
    CataloguedTrack,
    Codec,
    Composer,
    Credit,
    Identity,
    Kind,
    LibraryPath,
    LibrarySnapshot,
    Movement,
    Track,
    Work,
)
from syncd.planner.names import fold
from syncd.planner.plan import Placement, Plan
from syncd.planner.planning import make_plan
from syncd.planner.programme import EVERYTHING, Programme
from syncd.profile import CardLayout, CatalogueWanted, Encode, Plays, Profile, TagWriting

MP3 = AudioFacts("mp3", Codec.MP3, 44100, 2, 60.0, None, 128_000)


def profile(
    *, catalogue: bool = True, playlists: bool = False, root: str = "Music", work: str | None = None
) -> Profile:
    """A player that plays MP3, so that everything is carried over."""
    layout = CardLayout(root=root, playlists=playlists)
    if work is not None:
        layout = CardLayout(root=root, playlists=playlists, work_layout=work)
    return Profile(
        name="test",
        plays=(Plays(codec="mp3"),),
        encode=Encode(codec="mp3", quality=2),
        card=layout,
        tags=TagWriting(art="none"),
        catalogue=CatalogueWanted(present=catalogue),
    )


def audio_hash(name: str) -> AudioHash:
    return AudioHash(xxhash.xxh3_128_hexdigest(name.encode("utf-8", "replace")))


def song(
    artist: str,
    album: str,
    number: int,
    title: str,
    *,
    audio: str | None = None,
    size: int = 20_000,
    genre: str = "",
    path: str | None = None,
) -> CataloguedTrack:
    track = Track(
        path=LibraryPath(path or f"/library/{artist}/{album}/{number:02} {title}.mp3"),
        audio_hash=audio_hash(audio or f"{artist}/{album}/{title}"),
        audio=MP3,
        size_bytes=size,
        title=title,
        artist=artist,
        album=album,
        album_artist=artist,
        genre=genre,
        track_number=number,
    )
    return CataloguedTrack(track, Identity(Kind.POPULAR, artist=artist, album=album))


def movement(
    work: str,
    number: int,
    title: str,
    *,
    player: str = "Quirin Ostrowald",
    audio: str | None = None,
    size: int = 20_000,
    genre: str = "",
    composer: str = "Aldona Viremsk",
    path: str | None = None,
) -> CataloguedTrack:
    track = Track(
        path=LibraryPath(path or f"/library/{composer}/{work}/{player}/{number:02}.mp3"),
        audio_hash=audio_hash(audio or f"{composer}/{work}/{player}/{number}"),
        audio=MP3,
        size_bytes=size,
        title=f"{work}: {title}",
        genre=genre,
        track_number=number,
    )
    family = composer.rpartition(" ")[2]
    identity = Identity(
        Kind.WORK,
        composer=Composer(composer, f"{family}, {composer.rpartition(' ')[0]}"),
        work=Work(work),
        recording=xxhash.xxh3_64_hexdigest(
            f"{composer}/{work}/{player}".encode("utf-8", "surrogatepass")
        ),
        movement=Movement(number, title),
        credits=(Credit(player, "soloist", "piano"),),
    )
    return CataloguedTrack(track, identity)


def library(*tracks: CataloguedTrack) -> LibrarySnapshot:
    return LibrarySnapshot(tuple(tracks))


def retagged(entry: CataloguedTrack, **changes: object) -> CataloguedTrack:
    """The same audio with other tags."""
    return replace(entry, track=replace(entry.track, **changes))  # type: ignore[arg-type]


class Bytes:
    """The content of a file: made from its source, so that any other byte shows."""

    def __init__(self, placement: Placement) -> None:
        if placement.track is None:
            self.data = placement.text.encode("utf-8", "replace")
            return
        source = placement.source
        seed = f"{source.audio} {source.recipe} {source.dress} ".encode()
        size = placement.track.track.size_bytes + 300
        self.data = (seed * (size // len(seed) + 1))[:size]

    @property
    def size(self) -> int:
        return len(self.data)

    def chunks(self) -> Iterator[bytes]:
        half = len(self.data) // 2
        yield self.data[:half]
        yield self.data[half:]


@contextlib.contextmanager
def dressed(placement: Placement) -> Iterator[Bytes]:
    yield Bytes(placement)


def build_catalogue(placements: Sequence[tuple[Placement, int]]) -> Path:
    """A catalogue in plain JSON: which file names what is all that counts here."""
    with tempfile.NamedTemporaryFile(prefix="cat", delete=False) as file:
        listed = sorted([placement.path, size] for placement, size in placements)
        file.write(json.dumps(listed).encode())
    return Path(file.name)


@contextlib.contextmanager
def built() -> Iterator[Callable[[Sequence[tuple[Placement, int]]], Path]]:
    """What builds catalogues; they are removed afterwards."""
    made: list[Path] = []

    def build(placements: Sequence[tuple[Placement, int]]) -> Path:
        made.append(build_catalogue(placements))
        return made[-1]

    try:
        yield build
    finally:
        for path in made:
            path.unlink()


def make(
    volume: Volume,
    snapshot: LibrarySnapshot,
    wanted: Profile,
    programme: Programme = EVERYTHING,
) -> tuple[Plan, CardReading]:
    reading = read_card(volume)
    return make_plan(snapshot, reading.state, wanted, programme), reading


def update(
    volume: Volume,
    snapshot: LibrarySnapshot,
    wanted: Profile,
    report: Report | None = None,
    programme: Programme = EVERYTHING,
) -> tuple[Plan, Applied]:
    plan, reading = make(volume, snapshot, wanted, programme)
    with built() as build:
        return plan, apply(plan, volume, reading, dressed, build, report)


# -- what must hold -------------------------------------------------------------------------------


def slot_states(volume: Volume) -> tuple[slots.SlotState, slots.SlotState]:
    def one(slot: slots.Slot) -> slots.SlotState:
        raw = volume.read(slots.record_path(slot))
        record = None if raw is None else slots.decode(raw)
        return slots.SlotState(record, volume.size(slots.catalogue_path(slot)))

    return one("a"), one("b")


def named_by_catalogue(volume: Volume) -> list[tuple[str, int]] | None:
    """Paths and sizes in the catalogue that a player opens, None if there is none."""
    used = slots.newest(*slot_states(volume))
    if used is None:
        return None
    data = volume.read(slots.catalogue_path(used))
    assert data is not None
    return [(path, size) for path, size in json.loads(data)]


def assert_whole_or_absent(volume: Volume, blind: bool = False) -> None:
    """I1 by the player's own rule, with the hashes that manifest and journal give."""
    named = named_by_catalogue(volume)
    if named is None:
        return
    key = fold if blind else str
    given = {key(entry.path): entry for entry in read_card(volume).state.entries}
    for path, size in named:
        entry = given.get(key(path))
        assert volume.size(path) is not None, f"the catalogue names {path}, which is not there"
        assert entry is not None, f"the catalogue names {path}, which the manifest does not know"
        assert volume.size(path) == size == entry.size
        assert content_hash(volume.chunks(path)) == entry.xxh3_128, f"{path} is not whole"


@dataclass
class End:
    """A card's content but for slot letter and generation."""

    files: dict[str, bytes]
    folders: set[str]
    catalogue: bytes | None
    key: str | None


def end_of(volume: CountingVolume) -> End:
    states = slot_states(volume)
    used = slots.newest(*states)
    files = volume.content()
    catalogue = None
    key = None
    if used is not None:
        record = states[0 if used == "a" else 1].record
        assert record is not None
        key = record.content_key
        catalogue = files.pop(slots.catalogue_path(used))
        del files[slots.record_path(used)]
    assert not [path for path in files if path.startswith("SYNCD/cat-")]
    return End(files, volume.folders(), catalogue, key)


def assert_same_end(found: End, wanted: End) -> None:
    """I3, with a message that names what differs."""
    assert sorted(found.files) == sorted(wanted.files)
    for path, data in wanted.files.items():
        if path == "SYNCD/manifest.gz":
            continue
        assert found.files[path] == data, f"{path} differs"
    assert found.files["SYNCD/manifest.gz"] == wanted.files["SYNCD/manifest.gz"]
    assert found.folders == wanted.folders
    assert (found.catalogue, found.key) == (wanted.catalogue, wanted.key)


def assert_foreign_stays(volume: Volume, foreign: dict[str, bytes]) -> None:
    """I2."""
    for path, data in foreign.items():
        assert volume.read(path) == data, f"the listener's {path} changed"


# -- scenes ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Scene:
    """A card as it was, and the update that is interrupted."""

    name: str
    before: LibrarySnapshot | None
    after: LibrarySnapshot
    profile_before: Profile = field(default_factory=profile)
    profile_after: Profile = field(default_factory=profile)
    foreign: dict[str, bytes] = field(default_factory=dict)
    tight: bool = False
    room: int = 0
    case_blind: bool = False

    def volume(self) -> CountingVolume:
        """The card before the update."""
        volume = CountingVolume(case_blind=self.case_blind)
        volume.put("SYNCD/card.json", b"{}")
        for path, data in self.foreign.items():
            volume.put(path, data)
        if self.before is not None:
            update(volume, self.before, self.profile_before)
        if self.tight:
            trial = self.updated(volume)
            # Own room, manifest and catalogues as the planner reckons them, and its reserve.
            volume.capacity = max(volume.used(), trial.used()) + (1 << 20) + (96 << 10)
        if self.room:
            volume.capacity = volume.used() + (1 << 20) + (96 << 10) + self.room
        return self.clone(volume)

    def update(self, volume: CountingVolume, report: Report | None = None) -> tuple[Plan, Applied]:
        """The update of *volume* that the scene is about."""
        return update(volume, self.after, self.profile_after, report)

    def updated(self, start: CountingVolume) -> CountingVolume:
        """A copy of *start* after an update that nothing interrupted."""
        clean = self.clone(start)
        self.update(clean)
        return clean

    def assert_ends_alike(self, left: CountingVolume, wanted: End) -> None:
        """What an interruption *left* keeps every promise, and the next update ends in *wanted*."""
        assert_whole_or_absent(left, self.case_blind)
        assert_foreign_stays(left, self.foreign)
        self.update(left)
        assert_whole_or_absent(left, self.case_blind)
        assert_foreign_stays(left, self.foreign)
        assert_same_end(end_of(left), wanted)

    @staticmethod
    def clone(volume: CountingVolume) -> CountingVolume:
        from counting_volume import Severity

        return volume.after_cut(Severity.ALL)


def _scenes() -> list[Scene]:
    a = [song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2, 3)]
    b = [movement("Sonata", n, t) for n, t in ((1, "Allegro"), (2, "Lento"), (3, "Presto"))]
    c = [movement("Suite", n, f"Part {n}", player="Ilse Torvald") for n in (1, 2)]
    big = [song("Big Band", "Loud", n, f"Loud {n}", size=700_000) for n in (1, 2)]
    other = [song("Other Band", "Quiet", n, f"Quiet {n}", size=700_000) for n in (1, 2)]
    regenred = [retagged(entry, genre="Folk") for entry in a]
    renamed = [retagged(a[0], title="First"), *a[1:]]
    swapped = [
        song("Marnesund Five", "Low Tide", 1, "Same", audio="x"),
        song("Marnesund Five", "Low Tide", 2, "Same", audio="y"),
    ]
    swapped_after = [
        song("Marnesund Five", "Low Tide", 2, "Same", audio="x"),
        song("Marnesund Five", "Low Tide", 1, "Same", audio="y"),
    ]
    shouted = [retagged(entry, title=entry.track.title.upper()) for entry in a]
    loud_album = [retagged(entry, album="LOW TIDE") for entry in a]
    loud_album = [
        replace(entry, identity=replace(entry.identity, album="LOW TIDE")) for entry in loud_album
    ]
    twins = [
        song("Twin", "One", 1, "Same", audio="twin", path="/library/t1.mp3"),
        song("Twin", "One", 1, "Same", audio="twin", path="/library/t2.mp3"),
        song("Twin", "One", 1, "Same", audio="twin", path="/library/t3.mp3"),
    ]
    rerip = [song("Marnesund Five", "Low Tide", n, f"Song {n}", audio=f"again {n}") for n in (1, 2)]
    named = f"Music/{a[0].track.artist}/{a[0].track.album}"
    foreign = {
        f"{named}/01 Song 1.mp3": b"the listener's own",
        f"{named}/01 Song 1 (2).mp3": b"and another",
        "Music/notes.txt": b"notes",
        "DCIM/0001.jpg": b"photo" * 100,
    }
    both = library(*a, *b)
    return [
        Scene("fresh", None, both),
        Scene("nothing wanted", None, library()),
        Scene("add", library(*a), both),
        Scene("remove", both, library(*a)),
        Scene("remove all", both, library()),
        Scene("retag in place", library(*a, *b), library(*regenred, *b)),
        Scene("rerip in place", library(*a), library(*rerip, a[2])),
        Scene("rename", library(*a, *b), library(*renamed, *b)),
        Scene("change places", library(*swapped, *b), library(*swapped_after, *b)),
        Scene("case of names", library(*a), library(*shouted), case_blind=False),
        Scene("case of names, blind", library(*a), library(*shouted), case_blind=True),
        Scene("case of folder, blind", library(*a), library(*loud_album), case_blind=True),
        Scene("tight", library(*big, *a), library(*other, *a), tight=True),
        Scene(
            "tight retag",
            library(*big),
            library(*[retagged(entry, genre="Rock") for entry in big]),
            tight=True,
        ),
        # Room for one of the two loud ones only: which one must not depend on an interruption.
        Scene("no room for all", library(*a), library(*a, *big, *other), room=1_500_000),
        Scene("catalogue dropped", both, library(*a, *c), profile(), profile(catalogue=False)),
        Scene("no catalogue", both, library(*a, *c), *[profile(catalogue=False)] * 2),
        Scene("catalogue wanted", both, library(*a, *c), profile(catalogue=False), profile()),
        Scene("twins", None, library(*twins, *b)),
        Scene("twins less", library(*twins, *b), library(*twins[1:], *b)),
        Scene("playlists", both, library(*renamed, *c), *[profile(playlists=True)] * 2),
        Scene("in the way", None, both, foreign=foreign),
        Scene("in the way later", library(*b), both, foreign=foreign),
        Scene(
            "all at once",
            library(*a, *b, *twins),
            library(*shouted[:2], regenred[2], *c, *twins[:2], *swapped),
            foreign={"Music/notes.txt": b"notes"},
            case_blind=True,
        ),
        Scene(
            "other root",
            both,
            library(*regenred, *b),
            profile(playlists=True),
            profile(playlists=True, root="Sound"),
        ),
    ]


SCENES = {scene.name: scene for scene in _scenes()}

Check = Callable[[CountingVolume], None]
