"""Folders with a limit: the player's, and FAT's (65 536 entries, FAT specification 1.03)."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "applier"))

from card_world import library, movement, profile, song

from syncd.model import CardPath, CataloguedTrack, ContentHash
from syncd.planner.capacity import FAT32
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.plan import Action, Plan
from syncd.planner.planning import make_plan
from syncd.planner.spreading import MOST_ENTRIES, Wish, spread
from syncd.profile import Profile


def player(limit: int | None = 16, **layout: object) -> Profile:
    one = profile(playlists=bool(layout.pop("playlists", False)))
    card = one.card.model_copy(update={"entries_a_folder": limit, **layout})
    return one.model_copy(update={"card": card})


def after(plan: Plan) -> CardState:
    entries = tuple(
        ManifestEntry(place.path, place.size, ContentHash("0" * 32), place.source)
        for place in plan.end
    )
    return CardState(entries, catalogue_key=plan.catalogue_key, bytes_free=1 << 40)


def fullest(plan: Plan) -> int:
    inside: dict[str, set[str]] = {}
    for placement in plan.end:
        path: str = placement.path
        while path:
            above, _, name = path.rpartition("/")
            inside.setdefault(above, set()).add(name)
            path = above
    return max(map(len, inside.values()))


EMPTY = CardState(bytes_free=1 << 40)
BANDS = [song(f"Band {n:03}", f"Album {n}", 1, "One") for n in range(40)]
LONG = [song("Band", "Long", n, f"Song {n}") for n in range(1, 41)]


def plan_of(
    tracks: list[CataloguedTrack], card: CardState = EMPTY, one: Profile | None = None
) -> Plan:
    return make_plan(library(*tracks), card, one or player())


def test_more_artists_than_a_player_shows_go_into_numbered_folders() -> None:
    plan = plan_of(BANDS)
    assert fullest(plan) <= 16
    tops = {placement.path.split("/")[0] for placement in plan.end}
    assert tops == {"Music", "Music (2)", "Music (3)"}


def test_an_album_that_is_longer_than_a_folder_goes_on_in_the_next() -> None:
    plan = plan_of(LONG, one=player(playlists=True))
    assert fullest(plan) <= 16
    (listed,) = [placement for placement in plan.end if placement.track is None]
    folder = listed.path.rpartition("/")[0]
    entries = [line for line in listed.text.splitlines() if line and not line.startswith("#")]
    assert len(entries) == 40
    paths = {placement.path for placement in plan.end}
    for entry in entries:
        parts = folder.split("/")
        for part in entry.split("/"):
            parts = parts[:-1] if part == ".." else [*parts, part]
        assert "/".join(parts) in paths, "each entry leads to a file"


def test_a_newcomer_moves_nothing_and_what_lies_well_stays() -> None:
    card = after(plan_of(BANDS))
    assert plan_of(BANDS, card).steps == ()
    more = [song("Another Band", "First", 1, "One"), *BANDS]
    plan = plan_of(more, card)
    assert plan.count(Action.RENAME) == plan.count(Action.REMOVE) == 0
    assert plan.count(Action.WRITE) == 1
    assert fullest(plan) <= 16


def test_long_albums_stay_where_they_are() -> None:
    one = player(playlists=True)
    card = after(plan_of(LONG, one=one))
    assert plan_of(LONG, card, one).steps == ()


def test_the_listeners_own_files_count() -> None:
    foreign = tuple(CardPath(f"Music/note {n}.txt") for n in range(12))
    plan = make_plan(library(*BANDS[:8]), CardState(foreign=foreign, bytes_free=1 << 40), player())
    in_music = {p.path.split("/")[1] for p in plan.end if p.path.startswith("Music/")}
    assert len(in_music) + 12 <= 16


def test_without_a_limit_a_folder_never_has_more_entries_than_fat_holds() -> None:
    names = [f"{n:05} " + "x" * 94 for n in range(9_000)]  # 100 units: 9 entries each
    (parts,) = spread([Wish("Music", names)], (), None)
    assert len(parts) > 1
    start = 0
    for part in parts:
        some = names[start : start + part.count]
        assert sum(map(FAT32.entries, some)) <= MOST_ENTRIES
        start += part.count
    assert start == len(names)


def test_a_recording_stays_in_one_folder_where_it_can() -> None:
    flat = player(work_layout="{composer}/{work} {number} {movement}")
    works = [movement(f"Sonata {n // 4}", n % 4 + 1, "Allegro") for n in range(28)]
    plan = plan_of(works, one=flat)
    assert fullest(plan) <= 16
    of_work: dict[str, set[str]] = {}
    for placement in plan.end:
        assert placement.track is not None and placement.track.identity.work is not None
        of_work.setdefault(placement.track.identity.work.title, set()).add(
            placement.path.rpartition("/")[0]
        )
    assert all(len(folders) == 1 for folders in of_work.values())
