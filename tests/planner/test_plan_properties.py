"""What holds of every plan, whatever the tags, the card and the room: drawn by hypothesis.

The rules for names are those of the FAT specification 1.03, the exFAT specification (Table 35) and
"Naming Files, Paths, and Namespaces". Deterministic; ``SYNCD_DEEP=1`` draws more.
"""

import os
import random
import sys
import unicodedata
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import (
    assert_foreign_stays,
    assert_whole_or_absent,
    library,
    make,
    movement,
    profile,
    retagged,
    song,
    update,
)
from counting_volume import CountingVolume

from syncd.applier.manifest import is_card_path
from syncd.applier.reading import read_card
from syncd.model import CataloguedTrack, LibraryPath, LibrarySnapshot
from syncd.planner.names import fold, utf16_units
from syncd.planner.plan import Action
from syncd.planner.planning import make_plan
from syncd.planner.programme import EVERYTHING, Clause, Programme
from syncd.profile import Profile

DEEP = os.environ.get("SYNCD_DEEP") == "1"
drawn = settings(
    max_examples=1500 if DEEP else 40,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)

HOSTILE = [
    "A", "a", "Ä", "A\u0308", "ä", "SYNCD", "syncd", "Syncd.", "ſyncd", "..", "../../x", "CON",
    "con", "nul.txt", "COM1", "x.", "x ", " x", "\0", "a\nb", "\u202egnp.3pm", "x" * 10_000,
    "e?\u0301", "\U0001d11e" * 300, "ß", "ss", "SS", "01 A.mp3", "A (2)", "A (3)", "", "a/b",
    "C:\\x", "~", "\ud800", "İ", "i\u0307", "\u212b", "ﬁ", "FI", "*?<>|\"", ".hidden", "A.m3u8",
]  # fmt: skip
texts = st.sampled_from(HOSTILE) | st.text(max_size=8)
few = st.sampled_from(["A", "a", "B", "SYNCD", "A (2)"]) | texts


@st.composite
def tracks(draw: st.DrawFn) -> list[CataloguedTrack]:
    """Up to a dozen tracks with tags that collide and bite, some of equal audio."""
    found = []
    for number in range(draw(st.integers(0, 12))):
        path = f"/library/{number}.mp3"
        audio = draw(st.sampled_from(["one", "two", str(number), str(number)]))
        size = draw(st.sampled_from([1, 5_000, 90_000]))
        if draw(st.booleans()):
            entry = song(
                draw(few), draw(few), draw(st.integers(0, 3)), draw(texts), audio=audio, path=path,
                size=size,
            )  # fmt: skip
        else:
            entry = movement(
                draw(few), draw(st.integers(1, 3)), draw(texts), player=draw(few), audio=audio,
                composer=draw(st.sampled_from(["Aldona Viremsk", "SYNCD", "x y"])), path=path,
                size=size,
            )  # fmt: skip
        found.append(entry)
    return found


profiles = st.builds(
    profile,
    catalogue=st.booleans(),
    playlists=st.booleans(),
    root=st.sampled_from(["", "Music"]),
    work=st.sampled_from(
        [None, "{composer}/{work} - {recording}/{number} {movement}", "{movement}"]
    ),
)
foreign_paths = st.lists(
    st.sampled_from(
        [
            "A", "a/A/01 A.mp3", "A/A/00 A.mp3", "A/a/01 a (2).mp3", "Music/A",
            "Music/B/A/02 x.mp3", "A/A/01 A.mp3/inside.txt", "Music/A/A/00 A.mp3/inside.txt",
            "Viremsk, Aldona", "A.mp3", "a.mp3/below", "Music/Viremsk, Aldona/A",
        ]
    ),
    max_size=4,
    unique=True,
)  # fmt: skip


def card_with(
    paths: list[str], *, case_blind: bool = False, capacity: int = 1 << 40
) -> CountingVolume:
    """A card with the listener's own files, as far as they can be there at once."""
    volume = CountingVolume(case_blind=case_blind, capacity=capacity)
    volume.put("SYNCD/card.json", b"{}")
    for path in paths:
        there = {fold(file.path) for file in volume.listing().files}
        folders = {fold(folder) for folder in volume.folders()}
        parts = fold(path).split("/")
        above = {"/".join(parts[:count]) for count in range(1, len(parts))}
        if fold(path) not in there | folders and not above & there:
            volume.put(path, f"the listener's {path}".encode())
    return volume


def listener_files(volume: CountingVolume) -> dict[str, bytes]:
    return {path: data for path, data in volume.content().items() if not path.startswith("SYNCD/")}


@drawn
@given(tracks(), tracks(), profiles, foreign_paths, st.booleans())
def test_a_plan_that_was_carried_out_leaves_no_steps(
    before: list[CataloguedTrack],
    after: list[CataloguedTrack],
    wanted: Profile,
    foreign: list[str],
    case_blind: bool,
) -> None:
    volume = card_with(foreign, case_blind=case_blind)
    own = listener_files(volume)
    for entries in (before, after):
        update(volume, library(*entries), wanted)
        assert_whole_or_absent(volume, case_blind)
        assert_foreign_stays(volume, own)
        plan, reading = make(volume, library(*entries), wanted)
        assert plan.steps == ()
        assert len(reading.state.entries) == len(plan.end)


@drawn
@given(tracks(), tracks(), profiles, foreign_paths, st.randoms(use_true_random=False))
def test_equal_inputs_in_any_order_give_equal_plans(
    before: list[CataloguedTrack],
    after: list[CataloguedTrack],
    wanted: Profile,
    foreign: list[str],
    order: random.Random,
) -> None:
    volume = card_with(foreign)
    update(volume, library(*before), wanted)
    state = read_card(volume).state
    plan = make_plan(library(*after), state, wanted)
    order.shuffle(after)
    entries, files = list(state.entries), list(state.foreign)
    order.shuffle(entries)
    order.shuffle(files)
    shuffled = replace(state, entries=tuple(entries), foreign=tuple(files))
    assert make_plan(library(*after), shuffled, wanted) == plan


@drawn
@given(tracks(), tracks(), profiles, foreign_paths)
def test_targets_meet_neither_each_other_nor_what_is_foreign(
    before: list[CataloguedTrack],
    after: list[CataloguedTrack],
    wanted: Profile,
    foreign: list[str],
) -> None:
    volume = card_with(foreign)
    update(volume, library(*before), wanted)
    state = read_card(volume).state
    plan = make_plan(library(*after), state, wanted)
    targets = [fold(placement.path) for placement in plan.end]
    assert len(set(targets)) == len(targets)
    files = set(targets) | {fold(path) for path in state.foreign}
    for path in files:
        parts = path.split("/")
        for count in range(1, len(parts)):
            above = "/".join(parts[:count])
            assert above not in files, f"{above} would be a file and a folder"
    assert not set(targets) & {fold(path) for path in state.foreign}
    ours = {entry.path for entry in (*state.entries, *state.missing)}
    for step in plan.steps:
        if step.action is Action.REMOVE:
            assert step.target in ours
        if step.action is Action.RENAME:
            assert step.origin in ours
        assert step.reason.endswith(".")


RESERVED = set('"*/:<>?\\|') | {chr(code) for code in range(32)}
DEVICES = {"CON", "PRN", "AUX", "NUL", *(f"{n}{d}" for n in ("COM", "LPT") for d in range(1, 10))}


@drawn
@given(tracks(), profiles, st.booleans(), st.sampled_from([(64, 180), (255, 259), (12, 64)]))
def test_every_path_is_one_that_fat_exfat_and_desktop_systems_take(
    entries: list[CataloguedTrack], wanted: Profile, ascii_only: bool, longest: tuple[int, int]
) -> None:
    card = wanted.card.model_copy(
        update={
            "charset": "ascii" if ascii_only else "unicode",
            "longest_name": longest[0],
            "longest_path": longest[1],
        }
    )
    wanted = wanted.model_copy(update={"card": card})
    plan, _ = make(card_with([]), library(*entries), wanted)
    for placement in plan.end:
        path = placement.path
        assert is_card_path(path), "it would lie in syncd's own folder or outside the card"
        assert fold(path.split("/")[0]) != "syncd"
        assert utf16_units(path) <= longest[1]
        assert unicodedata.is_normalized("NFC", path)
        assert path.isascii() or not ascii_only
        for part in path.split("/"):
            assert part
            assert not RESERVED & set(part)
            assert utf16_units(part) <= longest[0]
            assert not part.endswith((".", " "))
            assert part.split(".")[0].rstrip(" ").upper() not in DEVICES
            part.encode("utf-8")


@drawn
@given(tracks(), profiles, foreign_paths, few, few, few)
def test_an_added_group_moves_nothing_that_was_there(
    entries: list[CataloguedTrack],
    wanted: Profile,
    foreign: list[str],
    artist: str,
    album: str,
    title: str,
) -> None:
    volume = card_with(foreign)
    update(volume, library(*entries), wanted)
    groups = {
        (e.track.album_artist.casefold() or "unknown artist", e.track.album.casefold())
        for e in entries
    }
    for added in (
        song(artist or "N", album or "N", 1, title, audio="added", path="/library/added.mp3"),
        movement(album or "N", 1, title, player="Added " + artist, path="/library/added.mp3"),
    ):
        if (added.track.album_artist.casefold(), added.track.album.casefold()) in groups:
            continue
        plan, reading = make(volume, library(*entries, added), wanted)
        kept = {e.path: e.source for e in reading.state.entries if e.source.audio}
        end = {placement.path: placement.source for placement in plan.end}
        assert {path: end.get(path) for path in kept} == kept
        assert not plan.count(Action.RENAME)
        assert not plan.count(Action.REMOVE)


@drawn
@given(tracks(), tracks(), profiles, st.integers(0, 900_000), st.sampled_from([512, 4096, 32768]))
def test_no_step_overfills_the_card_and_recordings_are_on_it_whole_or_not_at_all(
    before: list[CataloguedTrack],
    after: list[CataloguedTrack],
    wanted: Profile,
    room: int,
    cluster: int,
) -> None:
    volume = card_with([], capacity=(1 << 20) + (512 << 10) + room)
    volume.cluster = cluster
    for entries in (before, after):
        plan, _ = update(volume, library(*entries), wanted)  # CardFull if a step overfills it
        assert volume.fullest <= volume.capacity
        assert_whole_or_absent(volume)
        lying = {placement.track.track.path for placement in plan.end if placement.track}
        gathered: dict[str, set[str]] = {}
        for entry in entries:
            if entry.identity.recording:
                gathered.setdefault(entry.identity.recording, set()).add(str(entry.track.path))
        for members in gathered.values():
            assert members <= lying or not members & lying
        told = sum(item.tracks for item in plan.not_fitting) + len(plan.left_out)
        assert len(lying) + told == len(entries)


@drawn
@given(tracks(), tracks(), profiles)
def test_a_root_that_is_away_keeps_all_that_is_on_the_card(
    before: list[CataloguedTrack], after: list[CataloguedTrack], wanted: Profile
) -> None:
    """Its tracks are still known; nothing of them can be read, and nothing new of them appears."""
    volume = card_with([])
    update(volume, library(*before), wanted)
    away = LibrarySnapshot(tuple(before), away=(LibraryPath("/library"),))
    plan, _ = make(volume, away, wanted)
    assert plan.steps == ()
    assert plan.left_out == ()
    elsewhere = [
        retagged(entry, path=LibraryPath(f"/other{entry.track.path}"), title="Other")
        for entry in after
    ]
    both = LibrarySnapshot((*before, *elsewhere), away=(LibraryPath("/library"),))
    plan, reading = make(volume, both, wanted)
    tracks_there = {e.source.audio for e in reading.state.entries if e.source.audio}
    assert tracks_there <= {placement.source.audio for placement in plan.end}


def test_a_root_that_is_away_leaves_out_what_was_never_on_the_card() -> None:
    entries = [movement("Sonata", n, f"Part {n}") for n in (1, 2)]
    away = LibrarySnapshot(tuple(entries), away=(LibraryPath("/library"),))
    plan, _ = make(card_with([]), away, profile())
    assert plan.end == ()
    assert [item.path for item in plan.left_out] == [entry.track.path for entry in entries]
    # A root is a folder, not a beginning of a text.
    near = LibrarySnapshot(tuple(entries), away=(LibraryPath("/lib"),))
    assert len(make(card_with([]), near, profile())[0].end) == 2


def test_what_has_no_room_is_told_by_clause_and_the_first_clause_wins() -> None:
    first = [song("First", "One", n, f"S{n}", size=200_000) for n in (1, 2)]
    second = [song("Second", "Two", n, f"S{n}", size=200_000) for n in (1, 2)]
    volume = card_with([], capacity=(1 << 20) + 550_000)
    state = read_card(volume).state
    programme = Programme(clause=(Clause(artist="second"), Clause(everything=True)))
    plan = make_plan(library(*first, *second), state, profile(), programme)
    assert {p.track.track.artist for p in plan.end if p.track} == {"Second"}
    (item,) = plan.not_fitting
    assert (item.title, item.tracks) == ("First: One", 2)
    assert " kB, and " in item.reason
    other = make_plan(library(*first, *second), state, profile(), EVERYTHING)
    assert {p.track.track.artist for p in other.end if p.track} == {"First"}


@pytest.mark.parametrize("size", [(1 << 32) - 1, 1 << 32])
def test_a_file_that_the_file_system_cannot_hold_is_told(size: int) -> None:
    """FAT specification 1.03: 4,294,967,295 bytes at most. The tags count with the file."""
    volume = card_with([])
    snapshot = library(song("A", "B", 1, "Long", size=size - 300))
    state = read_card(volume, largest_file_bytes=(1 << 32) - 1).state
    plan = make_plan(snapshot, state, profile())
    assert plan.end == ()
    assert "larger than the card's file system allows" in plan.not_fitting[0].reason
    small = library(song("A", "B", 1, "Long", size=(1 << 32) - 10_000))
    assert len(make_plan(small, state, profile()).end) == 1
