"""A card that fails, fills or goes at any change, a person who stops, a library that changes."""

import os
import random
from collections.abc import Callable

import pytest
from card_world import (
    SCENES,
    Bytes,
    Scene,
    assert_foreign_stays,
    assert_same_end,
    assert_whole_or_absent,
    built,
    dressed,
    end_of,
    library,
    make,
    movement,
    profile,
    song,
    update,
)
from counting_volume import CountingVolume, PowerCut, Severity

from syncd.applier import apply as applying
from syncd.applier.applied import CannotMake
from syncd.applier.apply import apply
from syncd.applier.reading import read_card
from syncd.errors import CardFull, CardGone, CardProblem, ItemProblem
from syncd.planner.plan import Placement, Step

DEEP = os.environ.get("SYNCD_DEEP") == "1"
DRAWN = 300 if DEEP else 12

FAULTS: dict[str, Callable[[], CardProblem]] = {
    "full": lambda: CardFull("The card MEMORY is full."),
    "gone": lambda: CardGone("The card MEMORY went away."),
    "failing": lambda: CardProblem("The card MEMORY gives an input/output error."),
}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", SCENES)
def test_a_fault_at_any_change_stops_the_update_and_the_next_one_ends_alike(
    name: str, fault: str
) -> None:
    scene = SCENES[name]
    start = scene.volume()
    clean = scene.updated(start)
    wanted = end_of(clean)
    for changes in range(clean.changes):
        volume = Scene.clone(start)
        volume.fault_at, volume.fault = changes, FAULTS[fault]
        with pytest.raises(type(FAULTS[fault]())):
            scene.update(volume)
        scene.assert_ends_alike(volume, wanted)


class Stopping:
    """Ctrl-C after so many steps."""

    def __init__(self, after: int) -> None:
        self.left = after

    def __call__(self, step: Step, size: int) -> None:
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt


@pytest.mark.parametrize("name", SCENES)
def test_a_stop_after_any_step_ends_alike_and_writes_nothing_twice(name: str) -> None:
    scene = SCENES[name]
    start = scene.volume()
    clean = Scene.clone(start)
    plan, done = scene.update(clean)
    wanted = end_of(clean)
    steps = sum(step.action != "press" for step in plan.steps)
    for after in range(steps):
        volume = Scene.clone(start)
        with pytest.raises(KeyboardInterrupt):
            scene.update(volume, Stopping(after))
        scene.assert_ends_alike(volume, wanted)
        brought = [what for what in volume.log if what.startswith("write SYNCD/incoming/")]
        assert len(brought) == done.written


def test_what_was_written_before_a_file_could_not_be_made_is_not_written_again() -> None:
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in range(1, 6)])
    volume = CountingVolume()
    plan, reading = make(volume, snapshot, profile())
    bad = [placement for placement in plan.end if placement.track is not None][3]

    def dresser(placement: Placement):  # type: ignore[no-untyped-def]
        if placement == bad:
            raise ItemProblem(placement.path, "It cannot be read. Rip it again.")
        return dressed(placement)

    with built() as build, pytest.raises(CannotMake) as caught:
        apply(plan, volume, reading, dresser, build)
    assert caught.value.placement == bad
    assert len(read_card(volume).waiting) == 3
    _, done = update(volume, snapshot, profile())
    assert done.kept_from_before == 3
    assert done.written == 2


def test_a_short_write_leaves_nothing_that_counts_as_whole() -> None:
    snapshot = library(song("Marnesund Five", "Low Tide", 1, "Song 1"))
    clean = CountingVolume()
    update(clean, snapshot, profile())
    at = next(n for n, what in enumerate(clean.log) if what.startswith("more of SYNCD/incoming/"))
    volume = CountingVolume()
    volume.fault_at, volume.fault = at + 1, FAULTS["full"]  # after the first half
    with pytest.raises(CardFull):
        update(volume, snapshot, profile())
    assert read_card(volume).waiting == {}
    update(volume, snapshot, profile())
    assert_same_end(end_of(volume), end_of(clean))


@pytest.mark.parametrize("name", SCENES)
def test_a_library_that_changes_between_a_cut_and_the_next_update_wins(name: str) -> None:
    scene = SCENES[name]
    start = scene.volume()
    clean = scene.updated(start)
    draw = random.Random(name)
    thirds = [
        (scene.before or library(), scene.profile_before),
        (library(*[movement("Sonata", 1, "Allegro")]), profile()),
        (
            library(
                song("Marnesund Five", "Low Tide", 1, "Same", audio="y"),
                song("Marnesund Five", "Low Tide", 2, "Same", audio="z"),
            ),
            profile(),
        ),
    ]
    for _ in range(DRAWN):
        snapshot, wanted = draw.choice(thirds)
        straight = Scene.clone(start)
        update(straight, snapshot, wanted)
        at = draw.randrange(clean.changes)
        volume = Scene.clone(start)
        volume.cut_at = at
        with pytest.raises(PowerCut):
            scene.update(volume)
        left = volume.after_cut(draw.choice(list(Severity)), at)
        update(left, snapshot, wanted)
        assert_whole_or_absent(left, scene.case_blind)
        assert_foreign_stays(left, scene.foreign)
        found, expected = end_of(left), end_of(straight)
        if scene.foreign or scene.case_blind:
            # Which number in brackets a file got, and a folder's case, depend on the past.
            assert sorted(map(len, found.files.values())) == sorted(
                map(len, expected.files.values())
            ) or len(found.files) == len(expected.files)
        else:
            assert_same_end(found, expected)
        assert make(left, snapshot, wanted)[0].steps == ()


def test_a_file_put_where_an_interrupted_update_was_going_stays() -> None:
    """The journal names a path before anything of ours lies there."""
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)])
    clean = CountingVolume()
    update(clean, snapshot, profile())
    placing = next(n for n, what in enumerate(clean.log) if what.startswith("rename SYNCD/inc"))
    volume = CountingVolume()
    volume.cut_at = placing - 3  # everything waits aside, nothing is being placed yet
    with pytest.raises(PowerCut):
        update(volume, snapshot, profile())
    volume = volume.after_cut(Severity.ALL)
    assert len(read_card(volume).waiting) == 2
    path = "Music/Marnesund Five/Low Tide/01 Song 1.mp3"
    volume.put(path, b"the listener's own")
    plan, _ = update(volume, snapshot, profile())
    assert volume.read(path) == b"the listener's own"
    assert list(plan.foreign) == [path]
    assert volume.size("Music/Marnesund Five/Low Tide/01 Song 1 (2).mp3") is not None


def test_a_move_never_takes_the_place_aside_of_a_file_that_waits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An interrupted move waits aside under its target's name; another file moves there now."""
    one = song("Marnesund Five", "Low Tide", 1, "One", audio="one")
    two = song("Marnesund Five", "Low Tide", 2, "Two", audio="two")
    start = library(one, two)
    first = library(song("Marnesund Five", "Low Tide", 5, "New", audio="one"), two)
    second = library(
        song("Marnesund Five", "Low Tide", 5, "New", audio="two"),
        song("Marnesund Five", "Low Tide", 6, "Other", audio="one"),
    )
    same = monkeypatch  # equal dresses, so that files move instead of being written anew
    same.setattr("syncd.planner.dress_key.DressKey.of", lambda self, member: "same")
    clean = CountingVolume()
    update(clean, start, profile())
    straight = Scene.clone(clean)
    update(straight, first, profile())
    moves = [n for n, what in enumerate(straight.log) if what.startswith("rename Music/")]
    assert moves
    for at in range(moves[0], straight.changes):
        volume = Scene.clone(clean)
        volume.cut_at = at
        with pytest.raises(PowerCut):
            update(volume, first, profile())
        left = volume.after_cut(Severity.ALL)
        update(left, second, profile())
        assert_whole_or_absent(left)
        sources = {entry.path: entry.source.audio for entry in read_card(left).state.entries}
        assert sorted(sources) == [
            "Music/Marnesund Five/Low Tide/05 New.mp3",
            "Music/Marnesund Five/Low Tide/06 Other.mp3",
        ]
        for entry in read_card(left).state.entries:
            data = left.read(entry.path)
            assert data is not None and data.startswith(entry.source.audio.encode())


def test_a_barrier_stands_between_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between two barriers no more than a batch is written, so no more is lost to a cut."""
    monkeypatch.setattr(applying, "BATCH_BYTES", 50_000)
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in range(1, 10)])
    volume = CountingVolume()
    update(volume, snapshot, profile())
    since = 0
    most = 0
    for what in volume.log:
        since = 0 if what == "barrier" else since + what.startswith("write SYNCD/incoming")
        most = max(most, since)
    assert most == 3  # of 20,300 bytes each
    assert len(Bytes(make(volume, snapshot, profile())[0].end[0]).data) == 20_300


def test_two_names_on_the_same_clusters_are_told_and_neither_is_removed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A cut in the middle of a rename may leave both on FAT, each whole."""
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)])
    clean = CountingVolume()
    update(clean, snapshot, profile())
    renamed = [n for n, what in enumerate(clean.log) if what.startswith("rename SYNCD/incoming/")]
    volume = CountingVolume()
    volume.cut_at = renamed[0] + 1
    with pytest.raises(PowerCut):
        update(volume, snapshot, profile())
    aside, _, path = clean.log[renamed[0]].removeprefix("rename ").partition(" -> ")
    left = volume.after_cut(Severity.ALL)
    data = left.read(path)
    assert data is not None
    left.put(aside, data)
    monkeypatch.setattr(
        CountingVolume, "linked", lambda self, one, two: {one, two} == {aside, path}
    )
    before = left.content()
    with pytest.raises(CardProblem, match=r"share their clusters.*fsck\.vfat"):
        update(left, snapshot, profile())
    assert left.content() == before
    monkeypatch.undo()
    left.put(path, b"")  # as fsck.vfat leaves the second name
    update(left, snapshot, profile())
    assert_same_end(end_of(left), end_of(clean))
