"""Directories in playing order: what is taken aside for it, and the power going in between."""

import random

import pytest
from card_world import (
    assert_foreign_stays,
    assert_same_end,
    assert_whole_or_absent,
    end_of,
    movement,
    profile,
    song,
)
from counting_volume import CountingVolume, PowerCut, Severity
from ordered_world import Library, entries_in_order, ordered_plan, ordered_update

from syncd.planner.capacity import FAT32, UNKNOWN
from syncd.planner.plan import Action

SONGS = [song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in range(1, 7)]
SUITE = [movement("Suite", n, f"Part {n}") for n in (1, 2, 3)]
PLAYER = profile(playlists=True)


def card(*, foreign: dict[str, bytes] | None = None) -> CountingVolume:
    volume = CountingVolume(case_blind=True, system=FAT32)
    volume.put("SYNCD/card.json", b"{}")
    for path, data in (foreign or {}).items():
        volume.put(path, data)
    return volume


def listed(volume: CountingVolume) -> dict[str, list[str]]:
    """The names of each folder of music, in the order of its entries."""
    folders = {"", *volume.folders()}
    seen = volume.geometry(folders).folders
    return {
        folder.lower(): [name for name in one.names if name != "SYNCD"]
        for folder, one in seen.items()
        if not folder.startswith("SYNCD")
    }


def in_order(volume: CountingVolume, wanted: Library) -> bool:
    plan, _ = ordered_plan(volume, wanted, PLAYER)
    return listed(volume) == entries_in_order([placement.path for placement in plan.end])


def test_a_song_that_comes_in_the_middle_is_put_there_by_renames_of_those_behind_it() -> None:
    volume = card()
    ordered_update(volume, [SONGS[0], SONGS[1], *SONGS[3:]], PLAYER)
    plan, done = ordered_update(volume, SONGS, PLAYER)
    assert in_order(volume, SONGS)
    renamed = [
        step.target.rpartition("/")[2] for step in plan.steps if step.action is Action.RENAME
    ]
    assert renamed == [f"{n:02} Song {n}.mp3" for n in (4, 5, 6)], "those before it stay"
    assert done.written == 2, "the song and the playlist"


def test_what_comes_at_the_end_moves_nothing() -> None:
    volume = card()
    player = profile()
    ordered_update(volume, SONGS[:4], player)
    plan, _ = ordered_update(volume, SONGS, player)
    assert plan.count(Action.RENAME) == 0
    assert plan.count(Action.WRITE) == 2


def test_a_card_in_order_is_left_alone() -> None:
    volume = card()
    ordered_update(volume, [*SONGS, *SUITE], PLAYER)
    before = volume.changes
    plan, _ = ordered_update(volume, [*SONGS, *SUITE], PLAYER)
    assert plan.steps == ()
    assert volume.changes == before


def test_folders_are_in_playing_order_too() -> None:
    volume = card()
    ordered_update(volume, SONGS, PLAYER)
    ordered_update(volume, [*SONGS, *SUITE], PLAYER)  # the composer's folder plays first
    assert in_order(volume, [*SONGS, *SUITE])
    assert listed(volume)["music"] == ["Viremsk, Aldona", "Marnesund Five"]


def test_where_the_order_of_entries_is_not_known_nothing_is_moved_for_it() -> None:
    volume = card()
    volume.system = UNKNOWN
    ordered_update(volume, [SONGS[0], *SONGS[2:]], PLAYER)
    plan, _ = ordered_update(volume, SONGS, PLAYER)
    assert plan.count(Action.RENAME) == 0


def test_the_power_may_go_at_every_change_while_order_is_made() -> None:
    foreign = {"Music/Marnesund Five/notes.txt": b"notes"}
    before, after = [SONGS[1], *SONGS[3:], *SUITE[1:]], [*SONGS, *SUITE]
    start = card(foreign=foreign)
    ordered_update(start, before, PLAYER)
    whole = start.after_cut(Severity.ALL)
    at_first = whole.changes
    ordered_update(whole, after, PLAYER)
    wanted = end_of(whole)
    changes = whole.changes - at_first
    assert changes > 40
    for at in range(changes):
        cut = start.after_cut(Severity.ALL)
        cut.cut_at = cut.changes + at
        with pytest.raises(PowerCut):
            ordered_update(cut, after, PLAYER)
        seed = random.Random(at).randrange(1 << 30)
        for severity in Severity:
            left = cut.after_cut(severity, seed)
            assert_whole_or_absent(left, blind=True)
            assert_foreign_stays(left, foreign)
            ordered_update(left, after, PLAYER)
            assert_same_end(end_of(left), wanted)
            again, _ = ordered_plan(left, after, PLAYER)
            assert again.steps == (), "and in order"
