"""What of a plan the catalogue tells: gain, picture, place, size."""

from dataclasses import replace

import pytest
from catalogue_samples import BEETHOVEN, Shelf

from syncd.catalogue.from_plan import entries_of, gain_of
from syncd.model import Art, CardPath, CataloguedTrack, ContentHash, LibraryPath, Work
from syncd.planner.card_state import Source
from syncd.planner.gain import r128_text
from syncd.planner.plan import Placement
from syncd.profile import Levelling, Profile, read_profile, sample_profiles

ART = Art(ContentHash("a" * 32), LibraryPath("/library/cover.jpg"), False)


def placements(shelf: Shelf, folder: str) -> list[Placement]:
    return [
        Placement(
            CardPath(f"{folder}/{entry.identity.recording} {number}.mp3"),
            Source("x", "y", "z"),
            5_000 + number,
            CataloguedTrack(entry.track, entry.identity),
        )
        for number, entry in enumerate(shelf.entries)
    ]


def picture(path: str) -> Placement:
    return Placement(CardPath(path), Source("p", "picture", ""), 100, art=ART)


def profile(art: str) -> Profile:
    known = read_profile(sample_profiles()["mcu-mp3"])
    return known.model_copy(update={"tags": known.tags.model_copy(update={"art": art})})


def test_a_picture_belongs_to_the_recording_that_it_follows() -> None:
    one, other = Shelf(), Shelf()
    one.recording(Work("A"), 2, recording="one")
    other.recording(Work("B"), 2, recording="other", composer=BEETHOVEN)
    end = [*placements(one, "M"), *placements(other, "M"), picture("M/B.jpg")]
    files = [(place, place.size) for place in end if place.track is not None]
    assert [e.art for e in entries_of(files, end, profile("file"))] == [
        None,
        None,
        "B.jpg",
        "B.jpg",
    ]
    assert {e.art for e in entries_of(files, end, profile("none"))} == {None}


def test_a_picture_elsewhere_is_not_beside_the_tracks() -> None:
    shelf = Shelf()
    shelf.recording(Work("A"), 2, recording="one")
    end = [*placements(shelf, "M/A"), picture("M/cover.jpg")]
    files = [(place, place.size) for place in end if place.track is not None]
    assert {entry.art for entry in entries_of(files, end, profile("file"))} == {None}


def test_pictures_in_the_files_and_sizes_are_told() -> None:
    shelf = Shelf()
    shelf.recording(Work("A"), 2)
    first, second = placements(shelf, "M")
    end = [replace(first, art=ART), second]
    entries = entries_of([(end[0], 7), (end[1], 8)], end, profile("embedded"))
    assert [(entry.art, entry.size) for entry in entries] == [("", 7), (None, 8)]
    assert [entry.path for entry in entries] == ["M/recording 0 0.mp3", "M/recording 0 1.mp3"]


@pytest.mark.parametrize(
    ("tags", "wanted", "gain"),
    [
        ((("REPLAYGAIN_ALBUM_GAIN", "-7.63 dB"),), Levelling(mode="tags"), -763),
        ((("REPLAYGAIN_ALBUM_GAIN", "+5.00 dB"),), Levelling(mode="tags"), 500),
        ((("REPLAYGAIN_ALBUM_GAIN", "-7.63 dB"),), Levelling(mode="off"), None),
        ((), Levelling(mode="tags"), None),
        ((), Levelling(mode="baked"), 0),
        # -10 LUFS: 13 dB below to reach -23, by RFC 7845 section 5.2.1; 8 dB to reach -18
        ((("R128_ALBUM_GAIN", "-3328"),), Levelling(mode="tags"), -800),
        ((("R128_ALBUM_GAIN", r128_text(-10.0)),), Levelling(mode="tags", target_lufs=-23), -1300),
    ],
)
def test_the_gain_is_that_of_the_recording_towards_the_profile_s_loudness(
    tags: tuple[tuple[str, str], ...], wanted: Levelling, gain: int | None
) -> None:
    shelf = Shelf()
    shelf.recording(Work("A"))
    (place,) = placements(shelf, "M")
    assert gain_of(replace(place, tags=tags), wanted) == gain
