"""Paths of players that take short ones only: within their length, a group's files together."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "applier"))

from card_world import movement, profile, song
from hypothesis import given
from hypothesis import strategies as st

from syncd.model import CataloguedTrack
from syncd.planner.layout import Layout, group_tracks
from syncd.planner.names import utf16_units

words = st.text("abcdefghij éß 0123456789(),.", min_size=1, max_size=120).filter(str.strip)


def wished(*entries: CataloguedTrack, name: int, path: int) -> list[str]:
    one = profile()
    card = one.card.model_copy(update={"longest_name": name, "longest_path": path})
    layout = Layout(one.model_copy(update={"card": card}))
    (group,) = group_tracks(entries)
    return list(layout.wished(group, ["mp3"] * len(group.members)))


@given(
    st.tuples(words, words, words),
    st.lists(words, min_size=1, max_size=6),
    st.integers(24, 255),
    st.integers(80, 300),
    st.booleans(),
)
def test_every_path_is_within_the_players_length_and_leaves_room_for_numbers(
    texts: tuple[str, str, str], titles: list[str], name: int, path: int, is_work: bool
) -> None:
    one, two, three = texts
    entries = [
        movement(one, number, title, player=two, composer=three)
        if is_work
        else song(one, two, number, title)
        for number, title in enumerate(titles, 1)
    ]
    found = wished(*entries, name=name, path=path)
    assert len({file.rpartition("/")[0] for file in found}) == 1
    for file in found:
        assert utf16_units(file) + len(" (12)") * 2 <= path
        assert all(utf16_units(part) <= name for part in file.split("/"))


def test_a_short_movement_and_a_long_one_lie_in_one_folder() -> None:
    """The long one's folders cut, and the short one's not, the path was longer than allowed."""
    work = "Variations on a Theme of the Harbour Bell Ringers for Viola and Strings"
    player = "Orchestra of the Velde Concerts and Friends"
    titles = ["Air", "Allegro molto moderato e sempre un poco sostenuto ma non troppo"]
    entries = [
        movement(work, number, title, player=player) for number, title in enumerate(titles, 1)
    ]
    for path in range(100, 200):
        found = wished(*entries, name=64, path=path)
        assert len({file.rpartition("/")[0] for file in found}) == 1, found
        assert all(utf16_units(file) + 10 <= path for file in found)


def test_what_is_short_is_not_cut_for_what_is_long() -> None:
    long = "Piano Sonata No. 14 as it was written down for the harbour bells"
    (found,) = wished(movement(long, 1, "Adagio", player="Ludo Harnisch"), name=64, path=80)
    assert found == "Music/Viremsk, Aldona/Piano Sonata No. 14/Ludo Harnisch/01 Adagio.mp3"
