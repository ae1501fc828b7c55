"""Whole updates on real audio, a real store and a real folder, as a listener sees them.

Each test gets a copy of one library and of one store whose pressings are made already.
"""

import gzip
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "applier"))

from counting_volume import CountingVolume, PowerCut, Severity
from update_kit import Place, make_library, tag, tone

from syncd.applier.folder_volume import FolderVolume
from syncd.errors import CardProblem
from syncd.library.index import LibraryIndex
from syncd.planner.plan import Action, Plan
from syncd.profile import read_profile, sample_profiles
from syncd.refresh import refresh
from syncd.transcoder.store import Store
from syncd.updating.values import Progress, Target

DEEP = os.environ.get("SYNCD_DEEP") == "1"


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library, and a store that holds its pressings."""
    base = tmp_path_factory.mktemp("made")
    make_library(base / "music")
    place = Place(base)
    place.new_card()
    outcome = place.update()
    assert outcome.pressed == 5  # the five FLAC files; the MP3 file is carried over
    assert outcome.applied.written == 6
    assert not outcome.plan.left_out
    assert not outcome.plan.not_fitting
    return base


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Place:
    """The same library and card, in folders of the test's own; the library is known by copy."""
    place = Place(tmp_path)
    place.copy_from(made, "music", "store", "card")
    return place


def music_files(place: Place) -> list[str]:
    return sorted(path for path in place.files() if not path.startswith("SYNCD/"))


def test_the_same_card_again_has_nothing_done_to_it(place: Place) -> None:
    before = place.files()
    outcome = place.update()
    assert outcome.plan.steps == ()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.bytes_written) == (0, 0, 0)
    assert place.files() == before


def test_an_emptied_card_is_filled_from_the_store_and_ends_alike(place: Place) -> None:
    before = place.files()
    place.new_card()
    outcome = place.update()
    assert (outcome.pressed, outcome.from_store, outcome.applied.written) == (0, 5, 6)
    assert place.files() == before
    place.check()


def test_a_changed_tag_costs_no_encoding(place: Place) -> None:
    tag(place.music / "Popular" / "Low Tide" / "01.flac", genre="Folk")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.renamed) == (0, 1, 0)
    place.check()
    assert place.plan().steps == ()


def test_a_changed_title_moves_nothing_but_its_own_file(place: Place) -> None:
    before = set(music_files(place))
    tag(place.music / "Popular" / "Low Tide" / "01.flac", title="Spring Ebb")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.removed) == (0, 1, 1)
    after = set(music_files(place))
    assert len(before - after) == len(after - before) == 1
    place.check()


def test_a_moved_master_folder_costs_no_encoding_and_no_copying(place: Place) -> None:
    before = place.files()
    (place.music / "Classical").rename(place.music / "Elsewhere")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.renamed) == (0, 0, 0)
    assert place.files() == before


def test_another_place_on_the_card_is_a_rename(place: Place) -> None:
    card = place.profile.card.model_copy(update={"root": "Sound"})
    place.profile = place.profile.model_copy(update={"card": card})
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.renamed) == (0, 0, 6)
    assert not (place.card / "Music").exists()
    place.check()


def test_a_removed_recording_leaves_the_card(place: Place) -> None:
    shutil.rmtree(place.music / "Classical" / "Ilse Torvald")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.removed) == (0, 0, 2)
    assert not [path for path in music_files(place) if "Torvald" in path]
    assert not [path for path in place.folders() if "Torvald" in path]
    place.check()


def test_an_added_recording_leaves_all_others_alone(place: Place) -> None:
    before = {path: place.files()[path] for path in music_files(place)}
    tone(place.music / "New" / "01.flac", 700)
    tag(place.music / "New" / "01.flac", artist="Other Band", album="New", title="One")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.removed) == (1, 1, 0)
    after = place.files()
    assert {path: after[path] for path in before} == before
    place.check()


class Stop:
    """Ctrl-C at one of an update's reports."""

    def __init__(self, at: int) -> None:
        self.left = at

    def __call__(self, progress: Progress) -> None:
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt


@pytest.mark.parametrize("at", [*range(7), 11, 12])
def test_a_stop_at_any_step_then_an_update_ends_alike(place: Place, at: int) -> None:
    before, folders = place.files(), place.folders()
    place.new_card()
    with pytest.raises(KeyboardInterrupt):
        place.update(Stop(at))
    place.check()
    outcome = place.update()
    assert outcome.pressed == 0
    if at < 6:
        assert outcome.applied.kept_from_before == at + 1
        assert outcome.applied.written + outcome.applied.kept_from_before == 6
    elif at < 12:  # while they were read back
        assert (outcome.applied.written, outcome.applied.kept_from_before) == (0, 6)
    else:  # all files had their places already
        assert (outcome.applied.written, outcome.applied.kept_from_before) == (0, 0)
    assert outcome.notices == ()
    assert place.files() == before
    assert place.folders() == folders


def test_a_stop_while_pressing_keeps_what_was_pressed(made: Path, tmp_path: Path) -> None:
    place = Place(tmp_path)
    place.copy_from(made, "music")
    place.new_card()
    with pytest.raises(KeyboardInterrupt):
        place.update(Stop(1))
    assert music_files(place) == []
    outcome = place.update()
    assert 1 <= outcome.pressed <= 4
    assert outcome.pressed + outcome.from_store == 5
    place.check()


def test_a_damaged_pressing_is_made_again_and_told(place: Place) -> None:
    place.new_card()
    pressings = sorted((place.store / "pressings").rglob("*.mp3"))
    assert len(pressings) == 5
    data = bytearray(pressings[2].read_bytes())
    data[len(data) // 2] ^= 0xFF
    times = pressings[2].stat()
    pressings[2].write_bytes(data)
    os.utime(pressings[2], ns=(times.st_atime_ns, times.st_mtime_ns))
    outcome = place.update()
    assert outcome.pressed == 1
    assert not outcome.plan.left_out
    assert any("no longer has the bytes" in text for text in outcome.notices)
    place.check()
    writes = [path for path in music_files(place) if path.endswith(".mp3")]
    assert len(writes) == outcome.applied.written == 6  # none was written twice


def test_a_failing_master_leaves_its_whole_recording_out_and_says_so(place: Place) -> None:
    place.new_card()
    place.update()
    master = place.music / "Classical" / "Ilse Torvald" / "02.flac"
    data = bytearray(master.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 400] = bytes(400)  # its length stays right: only decoding shows it
    master.write_bytes(data)
    outcome = place.update()
    told = {Path(item.path).name: item.reason for item in outcome.plan.left_out}
    assert set(told) == {"01.flac", "02.flac"}
    assert "not whole without" in told["01.flac"]
    assert not [path for path in music_files(place) if "Torvald" in path]
    place.check()


def test_a_carried_master_that_goes_while_it_is_read_is_left_out(place: Place) -> None:
    """The scan saw it, then it went: the rest is written once, and the card is whole."""
    place.new_card()
    gone = place.music / "Popular" / "Low Tide" / "02.mp3"

    def report(progress: Progress) -> None:
        gone.unlink(missing_ok=True)

    outcome = place.update(report)
    assert [Path(item.path).name for item in outcome.plan.left_out] == ["02.mp3"]
    assert outcome.applied.written == 5
    assert outcome.applied.kept_from_before == 0
    place.check()


def test_an_unmounted_library_leaves_the_card_as_it_is(place: Place) -> None:
    place.update()
    before = place.files()
    place.music.rename(place.base / "unplugged")
    outcome = place.update()
    assert outcome.plan.steps == ()
    assert place.files() == before


def test_an_unmounted_library_fills_no_card_and_is_told(place: Place) -> None:
    place.update()
    shutil.rmtree(place.store)
    place.new_card()
    place.music.rename(place.base / "unplugged")
    outcome = place.update()
    assert len(outcome.plan.left_out) == 6
    assert all("away" in item.reason for item in outcome.plan.left_out)
    assert music_files(place) == []


def test_another_profile_while_the_library_is_away_leaves_the_music_as_it_is(
    place: Place,
) -> None:
    place.update()
    before = {path: data for path, data in place.files().items() if path.startswith("Music/")}
    original = place.profile
    place.music.rename(place.base / "unplugged")
    encode = original.encode.model_copy(update={"quality": 7})
    place.profile = original.model_copy(update={"encode": encode})
    outcome = place.update()
    after = {path: data for path, data in place.files().items() if path.startswith("Music/")}
    assert after == before
    assert (outcome.applied.written, outcome.applied.removed) == (0, 0)
    assert not outcome.plan.left_out
    place.check()
    (place.base / "unplugged").rename(place.music)
    outcome = place.update()
    assert outcome.pressed == 5  # back within reach, they are made as the profile has it
    place.check()


# -- the master is read-only -------------------------------------------------------------------

_opened_for_writing: list[str] = []
_watched: list[str] = []
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGES = {"os.remove", "os.rename", "os.truncate", "os.mkdir", "os.rmdir", "os.chmod", "os.utime"}


def _audit(event: str, arguments: tuple[object, ...]) -> None:
    if not _watched:
        return
    if event == "open" and isinstance(arguments[2], int) and not arguments[2] & _WRITING:
        return
    if event != "open" and event not in _CHANGES:
        return
    for argument in arguments[:2]:
        path = os.fsdecode(argument) if isinstance(argument, str | bytes | os.PathLike) else ""
        if path.startswith(_watched[0] + "/"):
            _opened_for_writing.append(f"{event} {path}")


@pytest.fixture
def watched(place: Place) -> Iterator[Place]:
    """Every attempt of this process to change something under the library's root is told."""
    if not getattr(sys, "_library_is_watched", False):
        sys.addaudithook(_audit)
        sys._library_is_watched = True  # type: ignore[attr-defined]
    _opened_for_writing.clear()
    _watched[:] = [str(place.music)]
    yield place
    _watched.clear()


def test_no_file_of_the_library_is_opened_for_writing(watched: Place) -> None:
    shutil.rmtree(watched.store)
    for name in sample_profiles():
        watched.new_card()
        watched.profile = read_profile(sample_profiles()[name])
        watched.update()
    assert _opened_for_writing == []
    (watched.music / "probe").write_text("x")  # the watch itself works
    assert _opened_for_writing == [f"open {watched.music / 'probe'}"]


def test_a_library_without_write_permission_does(place: Place) -> None:
    place.new_card()
    folders = [Path(folder) for folder, _, _ in os.walk(place.music)]
    files = [file for folder in folders for file in folder.iterdir() if file.is_file()]
    before = {file: (file.read_bytes(), file.stat().st_mtime_ns) for file in files}
    for path in (*files, *folders):
        path.chmod(path.stat().st_mode & ~0o222)
    try:
        outcome = place.update()
        assert outcome.applied.written == 6
    finally:
        for path in folders:
            path.chmod(0o755)
    assert {file: (file.read_bytes(), file.stat().st_mtime_ns) for file in files} == before


# -- a manifest that is damaged or lost ---------------------------------------------------------


@pytest.mark.parametrize("damage", ["flipped", "truncated", "gone", "empty", "no gzip"])
@pytest.mark.parametrize("name", ["mcu-mp3", "radio-ascii", "plain-exfat"])
def test_files_are_known_again_by_their_content_when_the_manifest_is_damaged(
    place: Place, name: str, damage: str
) -> None:
    place.profile = read_profile(sample_profiles()[name])
    place.new_card()
    own = place.card / "Music" / "my own.txt"
    own.parent.mkdir()
    own.write_text("mine")
    place.update()
    before = place.files()
    manifest = place.card / "SYNCD" / "manifest.gz"
    data = manifest.read_bytes()
    match damage:
        case "flipped":
            manifest.write_bytes(data[:50] + bytes([data[50] ^ 1]) + data[51:])
        case "truncated":
            manifest.write_bytes(data[: len(data) // 2])
        case "gone":
            manifest.unlink()
        case "empty":
            manifest.write_bytes(b"")
        case _:
            manifest.write_bytes(b"hello")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.removed) == (0, 0, 0)
    assert place.files() == before
    assert place.plan().steps == ()
    if damage != "gone":
        assert any("manifest" in text for text in outcome.notices)


def test_files_are_known_again_on_another_computer_once_they_are_pressed(place: Place) -> None:
    before = place.files()
    (place.card / "SYNCD" / "manifest.gz").write_bytes(b"damaged")
    shutil.rmtree(place.store)
    outcome = place.update()
    assert outcome.applied.written == 0
    assert place.files() == before


def test_a_full_card_whose_manifest_is_lost_is_known_again(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies there unknown takes the room; it must not be refused for want of room."""
    place.update()
    before = place.files()
    (place.card / "SYNCD" / "manifest.gz").write_bytes(b"damaged")
    space = FolderVolume.space

    def nearly_full(self: FolderVolume):  # type: ignore[no-untyped-def]
        found = space(self)
        return type(found)(free=(1 << 20) + 100_000, total=found.total, cluster=found.cluster)

    monkeypatch.setattr(FolderVolume, "space", nearly_full)
    outcome = place.update()
    assert outcome.plan.not_fitting == ()
    assert outcome.applied.written == 0
    assert place.files() == before


def test_a_file_beside_a_foreign_one_is_known_again_by_its_number(place: Place) -> None:
    place.new_card()
    path = place.card / "Music" / "Marnesund Five" / "Low Tide" / "01 Ebb.mp3"
    path.parent.mkdir(parents=True)
    path.write_bytes(b"the listener's own")
    place.update()
    assert (path.parent / "01 Ebb (2).mp3").exists()
    before = place.files()
    (place.card / "SYNCD" / "manifest.gz").write_bytes(b"damaged")
    outcome = place.update()
    assert outcome.applied.written == 0
    assert place.files() == before


def test_a_listeners_own_copy_is_not_taken_for_ours_on_a_new_card(place: Place) -> None:
    tags = place.profile.tags.model_copy(update={"rewrite_carried": False})
    place.profile = place.profile.model_copy(update={"tags": tags})
    place.new_card()
    own = place.card / "Music" / "Marnesund Five" / "Low Tide" / "02 Flow.mp3"
    own.parent.mkdir(parents=True)
    shutil.copyfile(place.music / "Popular" / "Low Tide" / "02.mp3", own)
    place.update()
    shutil.rmtree(place.music / "Popular")
    place.update()
    assert own.exists()


def test_a_manifest_of_a_newer_format_stops_the_card_with_a_clear_message(place: Place) -> None:
    manifest = place.card / "SYNCD" / "manifest.gz"
    lines = gzip.decompress(manifest.read_bytes()).replace(b'"format": 1', b'"format": 2', 1)
    manifest.write_bytes(gzip.compress(lines))
    before = place.files()
    with pytest.raises(CardProblem, match=r"newer syncd.*Update syncd on this computer"):
        place.update()
    assert place.files() == before


# -- a card that is damaged ---------------------------------------------------------------------


def flip(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def test_a_damaged_file_is_found_and_repaired_from_the_store(place: Place) -> None:
    before = place.files()
    songs = music_files(place)
    flip(place.card / songs[0])
    (place.card / songs[1]).unlink()
    (place.card / songs[2]).write_bytes((place.card / songs[2]).read_bytes()[:3000])
    found, outcome = place.repair()
    assert {fault.path for fault in found.faults} == set(songs[:3])
    assert (outcome.pressed, outcome.applied.written) == (0, 3)
    assert place.files() == before


@pytest.mark.parametrize("updates", [1, 2])
def test_a_damaged_catalogue_is_renewed_and_the_player_takes_the_new_one(
    place: Place, updates: int
) -> None:
    for number in range(updates):
        tag(place.music / "Popular" / "Low Tide" / "01.flac", genre=f"Genre {number}")
        place.update()
    before = place.files()
    (catalogue,) = (place.card / "SYNCD").glob("cat-?.db")
    record = catalogue.with_suffix(".rec").read_bytes()
    flip(catalogue)
    found, _ = place.repair()
    assert found.catalogue_damaged
    assert place.files() == before
    (renewed,) = (place.card / "SYNCD").glob("cat-?.rec")
    generation = slice(12, 16)
    assert int.from_bytes(renewed.read_bytes()[generation], "little") > int.from_bytes(
        record[generation], "little"
    )


def test_a_repair_goes_on_when_a_pressing_turns_out_damaged(place: Place) -> None:
    before = place.files()
    songs = music_files(place)
    flip(place.card / songs[0])
    flip(place.card / songs[1])
    for pressing in (place.store / "pressings").rglob("*.mp3"):
        flip(pressing)
    _, outcome = place.repair()
    assert outcome.pressed == 2
    assert place.files() == before


def test_planning_writes_nothing_to_the_card(place: Place) -> None:
    place.new_card()
    before = place.files()
    plan = place.plan()
    assert plan.count(Action.WRITE) == 6
    assert place.files() == before


# -- a nearly full card -------------------------------------------------------------------------


@pytest.mark.parametrize("room", range(32_768, 120_000, 8192))
def test_what_fits_on_a_nearly_full_card_does_not_depend_on_interruptions(
    place: Place, room: int
) -> None:
    """Sizes are estimates before a file is made, and exact when it waits on the card."""
    with LibraryIndex(place.base / "library.db") as index, Store(place.store) as store:
        index.add_root(place.music)
        refresh(index)
        capacity = (1 << 20) + room

        def updated(volume: CountingVolume) -> Plan:
            return place.updater(index, store).update(Target(volume, place.profile)).plan

        def new() -> CountingVolume:
            volume = CountingVolume(capacity=capacity)
            volume.put("SYNCD/card.json", b"{}")
            return volume

        clean = new()
        plan = updated(clean)
        wanted = clean.content()
        if room in (32_768, 114_688):
            assert bool(plan.not_fitting) == (room == 32_768)
        assert clean.fullest <= capacity
        again = clean.changes
        updated(clean)
        assert clean.changes == again, "an update right after an update has nothing to do"
        songs = {path: data for path, data in wanted.items() if not path.startswith("SYNCD/")}
        for changes in range(0, clean.changes, 1 if DEEP else 4):
            volume = new()
            volume.cut_at = changes
            with pytest.raises(PowerCut):
                updated(volume)
            left = volume.after_cut(Severity.ALL)
            updated(left)
            found = left.content()
            assert {p: d for p, d in found.items() if not p.startswith("SYNCD/")} == songs
            assert found["SYNCD/manifest.gz"] == wanted["SYNCD/manifest.gz"]
