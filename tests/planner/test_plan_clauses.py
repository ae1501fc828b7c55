"""What a plan tells of each clause, and the playlists of clauses."""

import sys
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import assert_whole_or_absent, library, make, movement, profile, song, update
from counting_volume import CountingVolume

from syncd.applier.reading import read_card
from syncd.model import AudioFacts, CataloguedTrack, Codec
from syncd.planner.layout import group_tracks
from syncd.planner.plan import Plan
from syncd.planner.planning import make_plan
from syncd.planner.programme import Clause, Limit, Programme
from syncd.profile import Profile

SONATA = [movement("Sonata", n, f"Part {n}", size=100_000) for n in (1, 2)]
TRIO = [movement("Trio", n, f"Part {n}", size=100_000) for n in (1, 2)]
TIDE = [song("Marnesund Five", "Low Tide", n, f"Song {n}", size=100_000) for n in (1, 2, 3)]
ALL = [*SONATA, *TRIO, *TIDE]


def planned(
    programme: Programme, room: int = 1 << 30, entries: list[CataloguedTrack] = ALL
) -> Plan:
    volume = CountingVolume(capacity=(1 << 20) + room)
    volume.put("SYNCD/card.json", b"{}")
    return make_plan(library(*entries), read_card(volume).state, profile(), programme)


def test_a_plan_without_a_programme_tells_of_no_clause() -> None:
    volume = CountingVolume()
    assert make(volume, library(*ALL), profile())[0].programme is None


def test_each_clause_tells_what_it_took_and_what_its_limit_kept_out() -> None:
    programme = Programme(
        clause=(
            Clause(name="Works", kind="work", limit=Limit(recordings=1)),
            Clause(composer="Beethofen"),
            Clause(kind="work"),
            Clause(artist="Marnesund Five"),
        )
    )
    plan = planned(programme)
    assert plan.programme is not None
    works, wrong, again, tide = plan.programme.clauses
    assert (works.title, works.fitting, works.taken, works.tracks) == ("Works", 2, 1, 2)
    assert works.hours == 2 * 60 / 3600
    assert works.bytes == sum(p.size for p in plan.end if p.track in SONATA)
    (beyond,) = works.beyond_limit
    assert beyond.title.startswith("Viremsk, Aldona: Trio")
    assert beyond.reason == "Its clause is limited to 1 recording or album."
    assert wrong.taken == wrong.fitting == 0
    assert len(wrong.notes) == 1
    assert (again.fitting, again.earlier, again.taken) == (2, 2, 0)
    assert (tide.taken, tide.tracks) == (1, 3)
    assert plan.not_fitting == (), "a limit is a wish, not want of room"
    assert {p.track.identity.work.title for p in plan.end if p.track and p.track.identity.work} == {
        "Sonata"
    }, "what a limit keeps out no later clause takes"


def test_a_limit_in_bytes_is_told_in_units_that_people_read() -> None:
    programme = Programme(
        clause=(Clause(kind="popular", limit=Limit(size=200_000)), Clause(kind="work"))
    )
    told = planned(programme).programme
    assert told is not None
    (beyond,) = told.clauses[0].beyond_limit
    assert beyond.reason == "Its clause is limited to 200.0 kB."


def test_what_has_no_room_is_told_under_its_clause_with_the_figures() -> None:
    programme = Programme(clause=(Clause(kind="popular"), Clause(kind="work")))
    plan = planned(programme, 700_000)
    assert plan.programme is not None
    popular, works = plan.programme.clauses
    assert (popular.taken, works.taken) == (1, 1)
    (item,) = works.no_room
    assert (item.title, item.reason) == (plan.not_fitting[0].title, plan.not_fitting[0].reason)
    assert " kB, and " in item.reason


def test_what_cannot_be_played_counts_as_left_out_of_its_clause() -> None:
    odd = AudioFacts("mp3", Codec.MP3, 44100, 2, 60.0, None, 128_000)
    strange = replace(odd, codec=Codec.OPUS, container="ogg", bitrate_bps=4_000)
    bad = CataloguedTrack(replace(SONATA[1].track, audio=strange), SONATA[1].identity)
    plan = planned(Programme(clause=(Clause(kind="work"),)), entries=[SONATA[0], bad, *TRIO])
    assert plan.programme is not None
    (clause,) = plan.programme.clauses
    assert len(plan.left_out) == 2
    assert (clause.fitting, clause.taken, clause.unplayable) == (2, 1, 1)


def with_lists(wanted: Profile) -> Profile:
    return wanted.model_copy(
        update={"card": wanted.card.model_copy(update={"clause_playlists": True})}
    )


def test_each_clause_has_a_playlist_with_paths_from_where_it_lies() -> None:
    tide = Clause(name='Tide: "low"', kind="popular")
    programme = Programme(clause=(tide, Clause(artist="Nobody"), Clause(kind="work")))
    wanted = with_lists(profile())
    card = CountingVolume()
    update(card, library(*ALL), wanted, programme=programme)
    lists = [path for path in card.content() if path.endswith(".m3u8")]
    assert sorted(path.partition(" ")[0] for path in lists) == ["Music/1", "Music/3"]
    for path in lists:
        lines = card.content()[path].decode().split("\r\n")
        assert lines[0] == "#EXTM3U"
        files = [line for line in lines[1:] if line and not line.startswith("#")]
        assert files
        assert all(card.read(f"Music/{file}") is not None for file in files)
    assert b"#EXTINF:60,Song 1\r\nMarnesund Five/Low Tide/01 Song 1.mp3\r\n" in next(
        data for path, data in card.content().items() if path.startswith("Music/1 ")
    )
    assert make(card, library(*ALL), wanted, programme)[0].steps == ()


clauses = st.sampled_from(
    [
        Clause(kind="popular"),
        Clause(work="Sonata", limit=Limit(size=250_000)),
        Clause(kind="work", limit=Limit(recordings=2), order="title"),
        Clause(performer="Quirin Ostrowald", order="newest"),
        Clause(artist="Marnesund Five", limit=Limit(hours=0.06)),
        Clause(everything=True),
    ]
)
groups = st.lists(
    st.tuples(st.sampled_from("ABCDE"), st.booleans(), st.integers(1, 3), st.integers(1, 300_000)),
    max_size=6,
)


def entries_of(drawn_groups: list[tuple[str, bool, int, int]]) -> list[CataloguedTrack]:
    made: dict[str, CataloguedTrack] = {}
    for name, is_work, count, size in drawn_groups:
        for number in range(1, count + 1):
            entry = (
                movement(f"Sonata {name}", number, f"Part {number}", size=size)
                if is_work
                else song("Marnesund Five", f"Album {name}", number, f"Song {number}", size=size)
            )
            made[entry.track.path] = entry
    return list(made.values())


@settings(max_examples=60, derandomize=True, deadline=None, database=None)
@given(
    groups,
    groups,
    st.lists(clauses, min_size=1, max_size=3),
    st.integers(0, 1_500_000),
    st.booleans(),
)
def test_updates_by_a_programme_never_overfill_a_card_and_put_whole_recordings_on_it(
    before: list[tuple[str, bool, int, int]],
    after: list[tuple[str, bool, int, int]],
    said: list[Clause],
    room: int,
    lists: bool,
) -> None:
    programme = Programme(clause=tuple(said))
    wanted = with_lists(profile()) if lists else profile()
    volume = CountingVolume(capacity=(1 << 20) + (512 << 10) + room)
    volume.put("SYNCD/card.json", b"{}")
    for drawn_groups in (before, after):
        entries = entries_of(drawn_groups)
        plan, _ = update(volume, library(*entries), wanted, programme=programme)
        assert volume.fullest <= volume.capacity
        assert_whole_or_absent(volume)
        assert plan.programme is not None
        lying = {p.track.track.path for p in plan.end if p.track}
        for group in group_tracks(entries):
            members = {member.track.path for member in group.members}
            assert members <= lying or not members & lying
        told = plan.programme
        assert sum(clause.tracks for clause in told.clauses) == len(lying)
        groups_told = sum(
            clause.taken + len(clause.beyond_limit) + len(clause.no_room) for clause in told.clauses
        )
        assert groups_told + told.unchosen == len(group_tracks(entries))
    assert make(volume, library(*entries), wanted, programme)[0].steps == ()
