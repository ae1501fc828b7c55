"""Equal keys, equal catalogues: whatever a catalogue shows of a track changes its key.

Else an update would find nothing to do, and ``verify`` call the catalogue damaged.
"""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from syncd.catalogue.arrange import arrange
from syncd.catalogue.from_plan import entries_of
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
from syncd.planner.card_state import CardState
from syncd.planner.planning import make_plan
from syncd.profile import read_profile, sample_profiles

PROFILE = read_profile(sample_profiles()["mcu-mp3"])
CREDITS = (
    Credit("Ilse Torvald", "conductor"),
    Credit("Lowlands Ensemble", "ensemble"),
    Credit("Ove Lindqvist", "soloist"),
    Credit("Marn Ester", "soloist", "violin"),
)
WORK = Identity(
    Kind.WORK,
    Composer("Ludwig van Beethoven", "Beethoven, Ludwig van"),
    Work("Violin Concerto", ("Op. 61",), "D major"),
    "00ff",
    Movement(1, "Allegro"),
    CREDITS,
    confidence=0.9,
)
POPULAR = Identity(Kind.POPULAR, artist="Marnesund Five", album="Low Tide", confidence=0.9)
UNKNOWN = Identity(Kind.UNKNOWN, confidence=0.1)


def track(number: int) -> Track:
    return Track(
        LibraryPath(f"/music/{number}.flac"),
        AudioHash(f"{number}" * 32),
        AudioFacts("flac", Codec.FLAC, 44100, 2, 200.0 + number, 16),
        1_000_000,
        title=f"Song {number}",
        artist="Marnesund Five",
        album="Low Tide",
        album_artist="Marnesund Five",
        date="1999",
        genre="Pop",
        label="Tern",
        track_number=number,
        disc_number=1,
        added=20_000,
    )


def unnumbered(number: int) -> Identity:
    return replace(WORK, recording="00fe", movement=Movement(None, f"Movement {number}"))


LIBRARY = [
    CataloguedTrack(track(1), WORK),
    CataloguedTrack(track(2), replace(WORK, movement=Movement(2, "Larghetto"))),
    CataloguedTrack(track(3), unnumbered(3)),
    CataloguedTrack(track(4), unnumbered(4)),
    CataloguedTrack(track(5), POPULAR),
    CataloguedTrack(track(6), POPULAR),
    CataloguedTrack(track(7), UNKNOWN),
]


def changed(one: CataloguedTrack) -> Iterator[tuple[str, CataloguedTrack]]:
    """The same track with another value in one place."""
    texts = ("title", "artist", "album", "album_artist", "genre", "label")
    values = [(name, "Something Else") for name in texts]
    values += [(name, "") for name in texts]
    more = [("date", "2001"), ("date", ""), ("added", 20_001), ("added", None), ("rating", 80)]
    more += [(name, value) for name in ("track_number", "disc_number") for value in (2, 9, None)]
    for name, value in [*values, *more]:
        yield name, replace(one, track=replace(one.track, **{name: value}))
    identity = one.identity
    for at, credit in enumerate(identity.credits):
        for other in (
            replace(credit, role="choir"),
            replace(credit, role="chorus master"),
            replace(credit, role="soloist", instrument="flute"),
            replace(credit, name="Asta Quell"),
        ):
            credits = (*identity.credits[:at], other, *identity.credits[at + 1 :])
            yield f"{credit} {other}", replace(one, identity=replace(identity, credits=credits))
    others: list[Identity] = [
        replace(identity, credits=identity.credits[::-1]),
        replace(identity, credits=()),
        replace(identity, artist="Asta Quell"),
        replace(identity, album="High Tide"),
        replace(identity, movement=Movement(7, "Rondo")),
        replace(identity, movement=Movement(None, None)),
        replace(identity, movement=None),
        replace(identity, kind=Kind.UNKNOWN),
        replace(identity, recording="00fd"),
        replace(identity, tags=("quiet",)),
    ]
    if identity.work is not None and identity.composer is not None:
        others += [
            replace(identity, work=replace(identity.work, title="Romance")),
            replace(identity, work=replace(identity.work, key=None)),
            replace(identity, work=replace(identity.work, catalogue=())),
            replace(identity, work=None),
            replace(identity, composer=None),
            replace(identity, composer=replace(identity.composer, name="L. v. B.")),
            replace(identity, composer=replace(identity.composer, sort="Van Beethoven, L.")),
        ]
    for other_identity in others:
        yield f"{other_identity}", replace(one, identity=other_identity)


def told(library: list[CataloguedTrack]) -> tuple[str | None, str]:
    """The key of the catalogue of *library* on a card, and its rows."""
    plan = make_plan(LibrarySnapshot(tuple(library)), CardState(bytes_free=1 << 40), PROFILE)
    files = [(place, 5_000) for place in plan.end if place.track is not None]
    return plan.catalogue_key, repr(arrange(entries_of(files, plan.end, PROFILE), "unicode"))


@pytest.mark.parametrize("at", range(len(LIBRARY)))
def test_no_two_catalogues_that_differ_have_one_key(at: int) -> None:
    rows_of: dict[str | None, str] = {}
    alike = []
    for what, one in [("as it is", LIBRARY[at]), *changed(LIBRARY[at])]:
        key, rows = told([*LIBRARY[:at], one, *LIBRARY[at + 1 :]])
        if rows_of.setdefault(key, rows) != rows:
            alike.append(what)
    assert not alike
    assert len(rows_of) > 10
