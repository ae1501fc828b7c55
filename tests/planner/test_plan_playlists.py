"""Playlists on a card: what they say depends on the tracks, not on what is on the card already."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import library, make, profile, song, update
from counting_volume import CountingVolume


def test_a_playlist_shows_the_same_titles_when_its_files_are_on_the_card_already() -> None:
    wanted = profile(playlists=True)
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)])
    card = CountingVolume()
    update(card, snapshot, wanted)
    playlist = card.read("Music/Marnesund Five/Low Tide/Low Tide.m3u8")
    assert playlist is not None
    assert b"#EXTINF:60,Song 1\r\n" in playlist
    assert make(card, snapshot, wanted)[0].steps == ()
