"""Entries for the catalogue's tests. All performers are invented."""

from dataclasses import dataclass, field
from pathlib import Path

from hypothesis import strategies as st

from syncd.catalogue.belonging import CatalogueEntry
from syncd.catalogue.build import build
from syncd.catalogue.reader import Catalogue, EntryRow, GroupRow, pages
from syncd.model import (
    AudioFacts,
    AudioHash,
    CardPath,
    Codec,
    Composer,
    Credit,
    Identity,
    Kind,
    LibraryPath,
    Movement,
    Track,
    Work,
)

BEETHOVEN = Composer("Ludwig van Beethoven", "Beethoven, Ludwig van")
CONDUCTOR = Credit("Teodor Vasslin", "conductor")
ENSEMBLE = Credit("Marnesund Philharmonic", "ensemble")
PIANIST = Credit("Quirin Ostrowald", "soloist", "piano")


@dataclass
class Shelf:
    """Collects entries, giving each a path of its own."""

    entries: list[CatalogueEntry] = field(default_factory=list)

    def track(
        self,
        identity: Identity,
        *,
        title: str = "A title",
        artist: str = "",
        album: str = "",
        album_artist: str = "",
        date: str = "",
        number: int | None = None,
        disc: int | None = None,
        seconds: float = 61.5,
        size: int = 1000,
        path: str | None = None,
    ) -> CatalogueEntry:
        place = path or f"Music/{len(self.entries):05}.flac"
        track = Track(
            path=LibraryPath(f"/library/{place}"),
            audio_hash=AudioHash("0" * 32),
            audio=AudioFacts("flac", Codec.FLAC, 44100, 2, seconds),
            size_bytes=size,
            title=title,
            artist=artist,
            album=album,
            album_artist=album_artist,
            date=date,
            track_number=number,
            disc_number=disc,
        )
        entry = CatalogueEntry(CardPath(place), track, identity, size)
        self.entries.append(entry)
        return entry

    def recording(
        self,
        work: Work,
        movements: int = 1,
        *,
        composer: Composer | None = BEETHOVEN,
        credits: tuple[Credit, ...] = (CONDUCTOR, ENSEMBLE),
        recording: str | None = None,
        date: str = "",
    ) -> str:
        ident = recording or f"recording {len(self.entries)}"
        for number in range(1, movements + 1):
            self.track(
                Identity(
                    Kind.WORK,
                    composer,
                    work,
                    ident,
                    Movement(number, f"Movement {number}"),
                    credits,
                ),
                number=number,
                date=date,
            )
        return ident

    def popular(self, artist: str, album: str, *titles: str, **more: str) -> None:
        for number, title in enumerate(titles, start=1):
            self.track(
                Identity(Kind.POPULAR, artist=artist, album=album),
                title=title,
                number=number,
                artist=more.get("track_artist", artist),
                date=more.get("date", ""),
            )

    def built(self, folder: Path, charset: str = "unicode") -> Path:
        target = folder / f"catalogue-{charset}.db"
        build(self.entries, target, "ascii" if charset == "ascii" else "unicode")
        return target


def mixed() -> Shelf:
    """A small library with a little of everything."""
    shelf = Shelf()
    fifth = Work("Symphony No. 5", ("Op. 67",), "C minor")
    shelf.recording(fifth, 4, date="2011-03-01")
    shelf.recording(fifth, 4, credits=(Credit("Ilvana Brandtner-Koss", "conductor"),), date="1987")
    shelf.recording(Work("Piano Sonata No. 14", ("Op. 27 No. 2",)), 3, credits=(PIANIST,))
    shelf.recording(
        Work("Nocturne", ("Op. 9 No. 2",)),
        composer=Composer("Frédéric Chopin", "Chopin, Frédéric"),
        credits=(PIANIST,),
    )
    shelf.popular("The Thursday Kilns", "Harbour of Small Lamps", "Chalk", "Interlude", "Ferry")
    shelf.popular("Saffi Brandeluna", "Slow Tram Home", "Window Seat", date="2020")
    shelf.track(Identity(Kind.UNKNOWN), title="", path="Music/unknown thing.mp3")
    return shelf


def hostile(kind: str) -> Shelf:
    """The libraries of which the size of one thing is beyond all measure."""
    shelf = Shelf()
    if kind == "5,000 composers of one letter":
        for number in range(5_000):
            name = f"B{number}, A"
            shelf.recording(Work("Sonata"), composer=Composer(name, name))
    elif kind == "a composer with 20,000 works":
        for number in range(20_000):
            shelf.recording(Work(f"Cantata No. {number}", (f"BWV {number}",)))
    elif kind == "a work with 1,000 movements":
        shelf.recording(Work("Vexations"), 1_000)
    elif kind == "a recording with 200 credits":
        players = tuple(Credit(f"Player {n} {'x' * 90}", "soloist", "horn") for n in range(200))
        shelf.recording(Work("Gathering"), 8, credits=players)
    elif kind == "names of 10,000 characters":
        long = "Ä" * 10_000
        for number in range(20):
            shelf.recording(Work(f"{long} {number}"), 2, composer=Composer(long, long))
            shelf.popular(long, f"{long} {number}", long)
    elif kind == "9 names alike for 24 letters":
        for number in range(9):
            name = f"{'n' * 40} {number}"
            shelf.popular(name, name, name)
    return shelf


def catalogue_of(shelf: Shelf, folder: Path, charset: str = "unicode") -> Catalogue:
    return Catalogue(shelf.built(folder, charset))


def listed(catalogue: Catalogue, name: str) -> list[EntryRow]:
    """The rows of a list or range of home."""
    return list(catalogue.children(catalogue.list_named(name)))


def labels(shelf: Shelf, folder: Path, name: str) -> list[str]:
    with catalogue_of(shelf, folder) as catalogue:
        if name == "tracks":
            return [row.label for row in catalogue.tracks(1, 1000)]
        return [row.label for row in listed(catalogue, name)]


def only_group(catalogue: Catalogue, name: str = "recordings") -> GroupRow:
    """Of a catalogue with one recording, or one album, that one."""
    (entry,) = listed(catalogue, name)
    return catalogue.group(entry.id)


def reached_tracks(catalogue: Catalogue) -> list[str]:
    """Paths of all tracks, by the ways of composers and artists, in the order met."""
    paths: list[str] = []
    for composer in catalogue.children(catalogue.list_named("composers")):
        for work in catalogue.children(composer):
            for recording in catalogue.children(work):
                group = catalogue.group(recording.id)
                assert (group.composer, group.parent) == (composer.id, work.id)
                paths += paths_under(catalogue, recording)
    for artist in catalogue.children(catalogue.list_named("artists")):
        for album in catalogue.children(artist):
            assert catalogue.group(album.id).parent == artist.id
            paths += paths_under(catalogue, album)
    return paths


def paths_under(catalogue: Catalogue, group: EntryRow) -> list[str]:
    """Paths of the tracks of a recording or an album."""
    tracks = list(pages(catalogue.tracks, group.first, group.count))
    assert {track.parent for track in tracks} == {group.item or group.id}
    return [track.path for track in tracks]


# -- libraries at random ---------------------------------------------------------------------------

NAMES = st.sampled_from(["", "Ada", "ada", "Łucja", "Symphony No. 2", "Symphony No. 10", "шум"]) | (
    st.text(st.characters(codec="utf-8"), max_size=8)
)
CREDITS = st.builds(
    Credit,
    NAMES,
    st.sampled_from(["conductor", "soloist", "ensemble", "choir", "arranger"]),
    st.none() | NAMES,
)
IDENTITIES = st.builds(
    Identity,
    kind=st.sampled_from(Kind),
    composer=st.none() | st.builds(Composer, NAMES, NAMES),
    work=st.none()
    | st.builds(Work, NAMES, st.lists(NAMES, max_size=2).map(tuple), st.none() | NAMES),
    recording=st.none() | st.sampled_from(["r1", "r2", "r3"]),
    movement=st.none() | st.builds(Movement, st.none() | st.integers(0, 9), st.none() | NAMES),
    credits=st.lists(CREDITS, max_size=3).map(tuple),
    artist=st.none() | NAMES,
    album=st.none() | NAMES,
)


def shelf_of(identities: list[Identity]) -> Shelf:
    shelf = Shelf()
    for identity in identities:
        shelf.track(identity)
    return shelf
