"""What a real update tells the player in the catalogue: gain, pictures, days; nothing untrue."""

import mutagen
import pytest
from even_kit import make_music, player
from update_kit import Place, make_library

from syncd.catalogue.reader import Catalogue, TrackRow, find_catalogue, pages
from syncd.catalogue.verify import check_itself
from syncd.profile import Levelling, TagWriting, read_profile, sample_profiles


def tracks(place: Place) -> list[tuple[TrackRow, str | None, int | None]]:
    """Each track of the card's catalogue, with the picture and the day of its group."""
    with Catalogue(find_catalogue(place.card).path) as catalogue:
        home = catalogue.list_named("tracks")
        rows = list(pages(catalogue.tracks, home.first, home.count))
        groups = {row.parent: catalogue.group(row.parent) for row in rows}
    return [(row, groups[row.parent].art, groups[row.parent].added) for row in rows]


@pytest.mark.parametrize("codec", ["mp3", "opus"])
def test_the_gain_in_the_catalogue_is_that_of_the_files_tags(
    tmp_path_factory: pytest.TempPathFactory, codec: str
) -> None:
    base = tmp_path_factory.mktemp("gain")
    place = Place(base, player(codec, Levelling(mode="tags"), bitrate_kbps=96))
    make_music(place.music)
    place.new_card()
    place.update()
    found = tracks(place)
    assert len(found) == 5
    for row, _, added in found:
        tags = mutagen.File(place.card / row.path).tags
        if codec == "opus":  # RFC 7845 section 5.2.1: Q7.8 towards -23 LUFS; ours towards -18
            told = int(tags["R128_ALBUM_GAIN"][0]) / 256 + 5
        else:
            told = float(tags["TXXX:REPLAYGAIN_ALBUM_GAIN"].text[0].removesuffix(" dB"))
        assert row.gain is not None
        assert row.gain / 100 == pytest.approx(told, abs=0.006)
        assert row.size == (place.card / row.path).stat().st_size
        assert added is not None
    assert len({row.gain for row, _, _ in found}) == 2, "one for the recording, one for the album"


def test_pictures_are_where_the_catalogue_says(tmp_path_factory: pytest.TempPathFactory) -> None:
    from PIL import Image

    base = read_profile(sample_profiles()["mcu-mp3"])
    writing = TagWriting(id3_version="2.3", art="file", art_longest_side_px=64)
    place = Place(tmp_path_factory.mktemp("art"), base.model_copy(update={"tags": writing}))
    make_library(place.music)
    Image.new("RGB", (90, 90), (9, 9, 200)).save(place.music / "Popular" / "Low Tide" / "cover.jpg")
    place.new_card()
    place.update()
    named = {row.path: art for row, art, _ in tracks(place)}
    with_art = {path for path, art in named.items() if art is not None}
    assert with_art == {path for path in named if "Low Tide" in path}
    for path in with_art:
        folder = (place.card / path).parent
        assert (folder / str(named[path])).is_file()
    assert {row.gain for row, _, _ in tracks(place)} == {None}, "levels are not evened"
    on_card = [str(path) for path in place.files()]
    assert check_itself(find_catalogue(place.card).path, on_card) == []
