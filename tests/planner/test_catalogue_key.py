"""The key by which the planner sees that a catalogue is current, without building it."""

from dataclasses import replace

from syncd.model import (
    AudioFacts,
    AudioHash,
    CataloguedTrack,
    Codec,
    Composer,
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
TRACK = Track(
    LibraryPath("/music/1.flac"),
    AudioHash("1" * 32),
    AudioFacts("flac", Codec.FLAC, 44100, 2, 200.0, 16),
    1_000_000,
    title="Allegro",
    artist="Quirin Ostrowald",
    album="Sonatas",
    date="1999",
)
IDENTITY = Identity(
    Kind.WORK,
    Composer("Ludwig van Beethoven", "Beethoven, Ludwig van"),
    Work("Piano Sonata No. 1", ("Op. 2 No. 1",), "F minor"),
    "00ff",
    Movement(1, "Allegro"),
    confidence=0.9,
)


def key_of(track: Track, identity: Identity) -> str | None:
    library = LibrarySnapshot((CataloguedTrack(track, identity),))
    return make_plan(library, CardState(bytes_free=1 << 40), PROFILE).catalogue_key


def test_whatever_the_catalogue_shows_of_a_recording_is_in_its_key() -> None:
    assert IDENTITY.work is not None and IDENTITY.composer is not None
    keys = {
        key_of(TRACK, IDENTITY),
        key_of(replace(TRACK, album="Sonatas, remastered"), IDENTITY),
        key_of(replace(TRACK, date="2001"), IDENTITY),
        key_of(replace(TRACK, audio_hash=AudioHash("2" * 32)), IDENTITY),
        key_of(TRACK, replace(IDENTITY, work=replace(IDENTITY.work, key="F major"))),
        key_of(TRACK, replace(IDENTITY, work=replace(IDENTITY.work, catalogue=("Op. 2",)))),
        key_of(TRACK, replace(IDENTITY, composer=replace(IDENTITY.composer, name="L. v. B."))),
        key_of(TRACK, replace(IDENTITY, movement=Movement(2, "Allegro"))),
        key_of(TRACK, replace(IDENTITY, recording="00fe")),
    }
    assert len(keys) == 9


def test_how_sure_the_engine_is_changes_no_key() -> None:
    surer = replace(IDENTITY, confidence=1.0, reasons=("errata",))
    assert key_of(TRACK, surer) == key_of(TRACK, IDENTITY)
