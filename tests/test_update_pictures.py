"""Pictures as files of their own, from the picture in the library to the file on the card.

Read back by Pillow; RGB565 by its head (``syncd.transcoder.artwork`` says how it is laid out).
"""

import io
from pathlib import Path
from typing import Any

import mutagen
import pytest
from PIL import Image
from update_kit import Place, make_library, tag

from syncd.profile import Profile, TagWriting, read_profile, sample_profiles


def profile(**tags: Any) -> Profile:
    base = read_profile(sample_profiles()["mcu-mp3"])
    writing = TagWriting(id3_version="2.3", art="file", art_longest_side_px=64, **tags)
    return base.model_copy(update={"tags": writing})


def picture(path: Path, colour: tuple[int, int, int], size: tuple[int, int] = (120, 60)) -> None:
    Image.new("RGB", size, colour).save(path)


@pytest.fixture
def place(tmp_path: Path) -> Place:
    made = Place(tmp_path, profile())
    make_library(made.music)
    picture(made.music / "Popular" / "Low Tide" / "cover.jpg", (200, 10, 10))
    picture(made.music / "Classical" / "Ilse Torvald" / "folder.png", (10, 10, 200))
    made.new_card()
    return made


def pictures(place: Place, suffix: str) -> dict[str, bytes]:
    return {path: data for path, data in place.files().items() if path.endswith(suffix)}


def test_each_recording_and_album_with_a_picture_has_one_file_beside_its_tracks(
    place: Place,
) -> None:
    outcome = place.update()
    found = pictures(place, ".jpg")
    assert len(found) == 2  # one recording of two has none in the library
    for path, data in found.items():
        assert path.endswith("/cover.jpg")
        folder = path.rpartition("/")[0]
        assert any(other.startswith(folder + "/") for other in pictures(place, ".mp3"))
        with Image.open(io.BytesIO(data)) as image:
            assert (image.format, image.size) == ("JPEG", (64, 32))
    for path in pictures(place, ".mp3"):
        tags: Any = mutagen.File(place.card / path)
        assert not tags.tags.getall("APIC")
    assert outcome.applied.written == 6 + 2
    again = place.update()
    assert again.plan.steps == ()
    place.check()


def test_a_changed_picture_is_written_anew_and_no_track_with_it(place: Place) -> None:
    place.update()
    picture(place.music / "Popular" / "Low Tide" / "cover.jpg", (10, 200, 10))
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written) == (0, 1)
    [red] = [data for path, data in pictures(place, ".jpg").items() if "Low Tide" in path]
    with Image.open(io.BytesIO(red)) as image:
        assert image.convert("RGB").getpixel((5, 5))[1] > 150


def test_a_picture_that_is_not_wanted_any_more_is_removed(place: Place) -> None:
    place.update()
    (place.music / "Popular" / "Low Tide" / "cover.jpg").unlink()
    outcome = place.update()
    assert (outcome.applied.written, outcome.applied.removed) == (0, 1)
    assert len(pictures(place, ".jpg")) == 1
    place.profile = profile().model_copy(update={"tags": TagWriting(id3_version="2.3", art="none")})
    place.update()
    assert not pictures(place, ".jpg")


def test_raw_pixels_for_a_display_have_the_name_and_size_that_the_profile_asks_for(
    place: Place,
) -> None:
    place.profile = profile(
        art_format="rgb565", art_fit="square", art_byte_order="big", art_name="art"
    )
    place.update()
    found = pictures(place, "/art.565")
    assert len(found) == 2
    for data in found.values():
        assert data[:8] == b"565B\x40\x00\x40\x00"
        assert len(data) == 8 + 64 * 64 * 2
    place.profile = profile(art_format="rgb565", art_fit="square", art_name="art")
    outcome = place.update()  # another order of bytes is another file
    assert outcome.applied.written == 2
    assert all(data[:4] == b"565L" for data in pictures(place, "/art.565").values())


def test_a_listeners_own_picture_keeps_its_place(place: Place) -> None:
    place.update()
    [path] = [path for path in pictures(place, ".jpg") if "Low Tide" in path]
    place.new_card()
    own = place.card / path
    own.parent.mkdir(parents=True)
    own.write_bytes(b"mine")
    place.update()
    assert own.read_bytes() == b"mine"
    beside = [name for name in pictures(place, ".jpg") if "Low Tide" in name and name != path]
    assert len(beside) == 1


def test_a_picture_that_cannot_be_read_holds_nothing_else_up(place: Place) -> None:
    (place.music / "Popular" / "Low Tide" / "cover.jpg").write_bytes(b"\xff\xd8\xff no picture")
    outcome = place.update()
    assert outcome.applied.written == 6 + 1
    assert any("cannot be used: it is cut off" in notice for notice in outcome.notices)
    again = place.update()
    assert again.plan.steps == ()
    assert sum("cover.jpg cannot be used" in notice for notice in again.notices) == 1


def test_a_lost_manifest_is_made_anew_with_the_pictures(place: Place) -> None:
    place.update()
    before = place.files()
    (place.card / "SYNCD" / "manifest.gz").unlink()
    place.update()
    assert place.files() == before


def test_two_works_in_one_folder_have_pictures_of_their_own_names(place: Place) -> None:
    tag(place.music / "Popular" / "Low Tide" / "01.flac", artist="Someone", album="Ebb Alone")
    layout = place.profile.card.model_copy(update={"popular_layout": "{artist} {title}"})
    place.profile = place.profile.model_copy(update={"card": layout})
    place.update()
    names = [path.rpartition("/")[2] for path in pictures(place, ".jpg")]
    assert len(names) == len(set(names)) == 3
    assert sum(name == "cover.jpg" for name in names) == 1  # the recording has its own folder
