"""No catalogue is larger than the bound that is derived from counts and lengths.

Its first step, what rows take in a table that is written in order, is held against SQLite itself
with rows of the worst lengths, where half the bound would not do.
"""

import os
import random
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syncd.catalogue.build import CatalogueEntry, build
from syncd.catalogue.contract import PAGE_BYTES
from syncd.catalogue.largest import largest_catalogue, row_bytes
from syncd.model import (
    AudioFacts,
    AudioHash,
    CardPath,
    CataloguedTrack,
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

DEEP = os.environ.get("SYNCD_DEEP") == "1"
MP3 = AudioFacts("mp3", Codec.MP3, 44100, 2, 60.0, None, 128_000)
drawn = settings(
    max_examples=400 if DEEP else 40,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)


def table_bytes(path: Path, sizes: list[int]) -> int:
    """What SQLite takes for a table of one blob a row, of *sizes*, written in order."""
    path.unlink(missing_ok=True)
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        db.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, content)")
        db.executemany("INSERT INTO t VALUES (NULL, ?)", [(bytes(size),) for size in sizes])
    db.close()
    return path.stat().st_size


@drawn
@given(
    st.lists(
        st.sampled_from([0, 1, 30, 120, 330, 336, 500, 501, 502, 503, 504, 980, 985, 990, 4000])
        | st.integers(0, 3000),
        min_size=1,
        max_size=60,
    ),
    st.integers(1, 20),
)
def test_rows_take_no_more_in_a_table_than_is_said(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[int], times: int
) -> None:
    path = tmp_path_factory.getbasetemp() / "rows.db"
    sizes = sizes * times
    bound = sum(row_bytes(size + 10) for size in sizes) * 1.06 + 4 * PAGE_BYTES
    assert table_bytes(path, sizes) <= bound


def test_half_of_what_is_said_would_not_do(tmp_path: Path) -> None:
    """Rows of a little more than half a page lie one on a page each."""
    sizes = [510] * 2000
    half = sum(row_bytes(size) / 2 for size in sizes) * 1.06
    assert table_bytes(tmp_path / "rows.db", sizes) > 1.5 * half


TEXTS = st.sampled_from(
    [
        "", "A", "Sonata", "Mass in B minor", "a b c d e f g h i j k l m n o p", "x" * 500,
        "Ä" * 300, "漢字" * 60, "\U0001f3bb" * 40, "ß" * 200, "ﷺ" * 90, "\u0344" * 120, "\0\n\t",
        " ".join("abcdefghijklmnopqrstuvwxyz"[n:] for n in range(14)), "Duo Trio Air Mass " * 30,
        "nr. the of and", "-/-/-/-", "Quartet, Op. 5", "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa",
    ]
) | st.text(max_size=60)  # fmt: skip
NAMES = TEXTS.filter(str.strip)
CREDITS = st.lists(
    st.builds(
        Credit,
        NAMES,
        st.sampled_from(["soloist", "conductor", "ensemble", "choir", "arranger", "guest"]),
        st.none() | TEXTS,
    ),
    max_size=5,
).map(tuple)


@st.composite
def tracks(draw: st.DrawFn, number: int) -> CataloguedTrack:
    title, artist, album = draw(TEXTS), draw(TEXTS), draw(TEXTS)
    track = Track(
        path=LibraryPath(f"/library/{number}.mp3"),
        audio_hash=AudioHash(f"{number:032x}"),
        audio=MP3,
        size_bytes=1,
        title=title,
        artist=artist,
        album=album,
        album_artist=draw(TEXTS),
        track_number=draw(st.none() | st.integers(1, 99)),
        added=draw(st.none() | st.integers(1, 30_000)),
    )
    if draw(st.booleans()):
        return CataloguedTrack(track, Identity(Kind.POPULAR, artist=artist, album=album))
    composer = draw(st.none() | st.builds(Composer, NAMES, NAMES))
    work = draw(
        st.none()
        | st.builds(
            Work,
            NAMES,
            catalogue=st.lists(NAMES, max_size=3).map(tuple),
            key=st.none() | TEXTS,
        )
    )
    recording = draw(st.none() | st.sampled_from(["1", "2", "3", f"own {number}"]))
    movement = draw(
        st.none() | st.builds(Movement, st.none() | st.integers(1, 9), st.none() | TEXTS)
    )
    return CataloguedTrack(
        track,
        Identity(
            Kind.WORK,
            composer=composer,
            work=work,
            recording=recording,
            movement=movement,
            credits=draw(CREDITS),
        ),
    )


def size_of(found: list[tuple[str, CataloguedTrack]], target: Path, charset: str) -> int:
    entries = [
        CatalogueEntry(CardPath(path), one.track, one.identity, 1 << 40, -1234, "n" * 255 + ".jpg")
        for path, one in found
    ]
    build(entries, target, charset)  # type: ignore[arg-type]
    return target.stat().st_size


@drawn
@given(st.data(), st.integers(1, 6), st.integers(1, 30), st.sampled_from(["unicode", "ascii"]))
def test_no_catalogue_is_larger_than_the_bound(
    tmp_path_factory: pytest.TempPathFactory,
    data: st.DataObject,
    kinds: int,
    times: int,
    charset: str,
) -> None:
    """A few tracks drawn at random, and many like them with other words in their names."""
    draw = random.Random(times)
    some = [data.draw(tracks(number)) for number in range(kinds)]
    found: list[tuple[str, CataloguedTrack]] = []
    for number in range(times):
        for one in some:
            word = "".join(draw.choice("ab") for _ in range(draw.randint(1, 30)))
            track = replace(
                one.track, title=f"{word} {one.track.title}", artist=f"{one.track.artist} {word}"
            )
            identity = one.identity
            if identity.work is not None:
                work = replace(identity.work, title=f"{identity.work.title} {word}")
                identity = replace(identity, work=work, recording=f"{identity.recording} {number}")
            elif identity.kind is Kind.POPULAR:
                identity = replace(identity, album=f"{identity.album} {word}")
            found.append(
                (f"Music/{number % 3}/{len(found)} {word}.mp3", CataloguedTrack(track, identity))
            )
    size = size_of(found, tmp_path_factory.getbasetemp() / "drawn.db", charset)
    assert size <= largest_catalogue(found)


@pytest.mark.parametrize("letters", ["a", "ab", "abcdefgh"])
def test_a_wheel_that_is_as_large_as_names_can_make_it_is_within_the_bound(
    tmp_path: Path, letters: str
) -> None:
    """Nine names for each prefix of long words, so that each has a list of its best."""
    draw = random.Random(letters)
    stems = ["".join(draw.choice(letters) for _ in range(24)) for _ in range(60)]
    found = []
    for number in range(540):
        words = " ".join(draw.choice(stems)[: draw.randint(12, 24)] for _ in range(12))
        track = Track(
            path=LibraryPath(f"/library/{number}.mp3"),
            audio_hash=AudioHash(f"{number:032x}"),
            audio=MP3,
            size_bytes=1,
            title="S",
            artist=f"{words} {number}",
            album=f"{words[::-1]} {number}",
            added=number + 1,
        )
        identity = Identity(Kind.POPULAR, artist=track.artist, album=track.album)
        found.append((f"M/{number}.mp3", CataloguedTrack(track, identity)))
    size = size_of(found, tmp_path / "wheel.db", "unicode")
    bound = largest_catalogue(found)
    assert size <= bound
    assert size > 540 * 3 * 1024, "this is a large wheel"


def test_the_bound_is_of_use_for_an_ordinary_library(tmp_path: Path) -> None:
    found = []
    for number in range(2000):
        composer = Composer(f"Aldona Viremsk{number % 60}", f"Viremsk{number % 60}, Aldona")
        track = Track(
            path=LibraryPath(f"/library/{number}.mp3"),
            audio_hash=AudioHash(f"{number:032x}"),
            audio=MP3,
            size_bytes=1,
            title=f"Sonata No. {number // 4}: Allegro",
            artist="Ilse Torvald",
            album=f"Sonatas {number // 20}",
        )
        identity = Identity(
            Kind.WORK,
            composer=composer,
            work=Work(f"Sonata No. {number // 4}"),
            recording=f"{number // 4}",
            movement=Movement(number % 4 + 1, "Allegro"),
            credits=(Credit("Ilse Torvald", "soloist", "piano"),),
        )
        found.append((f"Music/{number}.mp3", CataloguedTrack(track, identity)))
    size = size_of(found, tmp_path / "plain.db", "unicode")
    bound = largest_catalogue(found)
    assert size <= bound <= 100 * size
    print(f"{size} bytes, bound {bound}: {bound / size:.1f} times")
