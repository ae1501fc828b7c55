"""A one-file rip with a cue sheet becomes tracks on a card, cut to the sample, from end to end."""

import contextlib
import sqlite3
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from update_kit import Place, tag, tone

from syncd.catalogue.reader import find_catalogue
from syncd.library.index import LibraryIndex
from syncd.profile import Profile, read_profile, sample_profiles
from syncd.refresh import refresh
from syncd.transcoder.ffmpeg_port import find_ffmpeg

RATE = 44100
FRAME = 588  # samples of a CD frame at 44.1 kHz: RFC 9639 section 8.7
STARTS = (0, 75 * 2 + 11, 75 * 4 + 74)  # in frames: 00:00:00, 00:02:11, 00:04:74
LENGTH = FRAME * (75 * 6 + 3) + 100  # a rip may end within a frame

SHEET = """\
REM GENRE Classical
REM DATE 1994
REM COMPOSER "Antonín Dvořák"
PERFORMER "Quirin Ostrowald"
TITLE "Cello Concerto"
FILE "{file}" WAVE
  TRACK 01 AUDIO
    TITLE "Cello Concerto in B minor, Op. 104: I. Allegro"
    INDEX 01 00:00:00
  TRACK 02 AUDIO
    TITLE "Cello Concerto in B minor, Op. 104: II. Adagio ma non troppo"
    INDEX 00 00:02:00
    INDEX 01 00:02:11
  TRACK 03 AUDIO
    TITLE "Cello Concerto in B minor, Op. 104: III. Finale"
    FLAGS DCP
    INDEX 01 00:04:74
"""


def rip() -> np.ndarray:
    """Noise that swells, in whole 16-bit words: no two stretches of it are alike."""
    swell = 0.1 + 0.05 * np.sin(np.arange(LENGTH) / 9000)
    wave = np.random.default_rng(5).normal(0, 1, (LENGTH, 2)) * swell[:, None]
    return np.clip(np.round(wave * 32767), -32768, 32767).astype("<i2")


def profile() -> Profile:
    return read_profile(sample_profiles()["mcu-flac16"])


@pytest.fixture(scope="session")
def made_of_rip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A concerto in one file, with a sheet that calls it .WAV, a popular song, and their card."""
    place = Place(tmp_path_factory.mktemp("rip"), profile())
    folder = place.music / "Dvorak"
    folder.mkdir(parents=True)
    soundfile.write(folder / "Concerto.flac", rip(), RATE, subtype="PCM_16")
    (folder / "Concerto.cue").write_text(SHEET.format(file="CONCERTO.WAV"), "utf-8")
    song = place.music / "Popular" / "Ebb.flac"
    tone(song, 500)
    tag(song, artist="Marnesund Five", album="Low Tide", title="Ebb", tracknumber="1", genre="Pop")
    place.new_card()
    outcome = place.update()
    assert not outcome.plan.left_out
    assert not outcome.plan.not_fitting
    assert (outcome.pressed, outcome.applied.written) == (3, 4)  # the song is carried over
    return place.base


@pytest.fixture
def place(made_of_rip: Path, tmp_path: Path) -> Place:
    """The same library, store and card, in folders of the test's own."""
    place = Place(tmp_path, profile())
    place.copy_from(made_of_rip, "music", "store", "card")
    return place


def movements(place: Place) -> list[tuple[str, Path]]:
    """Label and file of each movement, in the order of the catalogue."""
    catalogue = find_catalogue(place.card).path
    with contextlib.closing(sqlite3.connect(f"file:{catalogue}?mode=ro", uri=True)) as opened:
        rows = opened.execute(
            "SELECT tracks.label, path FROM tracks JOIN groups ON groups.id = tracks.parent "
            "WHERE catalogue LIKE '%Op. 104%' ORDER BY tracks.id"
        ).fetchall()
    return [(label, place.card / path) for label, path in rows]


def decoded(path: Path) -> np.ndarray:
    """The samples of *path*, by ffmpeg."""
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-i", str(path), "-f", "s16le", "-"]
    raw = subprocess.run(command, check=True, capture_output=True).stdout
    return np.frombuffer(raw, "<i2").reshape(-1, 2)


def replace_in_sheet(place: Place, old: str, new: str) -> None:
    sheet = place.music / "Dvorak" / "Concerto.cue"
    text = sheet.read_text("utf-8")
    assert old in text
    sheet.write_text(text.replace(old, new), "utf-8")


def test_a_rip_in_one_file_is_on_the_card_as_its_movements(place: Place) -> None:
    place.check()
    found = movements(place)
    # the order of the movements of Op. 104: Burghauser's catalogue, B. 191
    assert [label.split()[-1] for label, _ in found] == ["Allegro", "troppo", "Finale"]
    bounds = (*(start * FRAME for start in STARTS), LENGTH)
    for (_, path), start, end in zip(found, bounds, bounds[1:], strict=False):
        assert np.array_equal(decoded(path), rip()[start:end])

    again = place.update()
    assert again.plan.steps == ()
    assert (again.pressed, again.applied.written) == (0, 0)


def test_another_title_in_the_sheet_encodes_nothing(place: Place) -> None:
    replace_in_sheet(place, "III. Finale", "III. Finale. Allegro moderato")
    outcome = place.update()
    assert outcome.pressed == 0
    assert outcome.applied.written == 1
    assert movements(place)[2][0].endswith("Finale. Allegro moderato")
    place.check()


def test_moving_file_and_sheet_together_encodes_and_copies_nothing(place: Place) -> None:
    (place.music / "Dvorak").rename(place.music / "Elsewhere")
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written, outcome.applied.renamed) == (0, 0, 0)


def test_another_place_of_a_track_presses_the_two_that_meet_there(place: Place) -> None:
    replace_in_sheet(place, "INDEX 01 00:02:11", "INDEX 01 00:02:12")
    outcome = place.update()
    assert outcome.pressed == 2
    (_, first), (_, second), _ = movements(place)
    assert np.array_equal(
        np.concatenate([decoded(first), decoded(second)]), rip()[: STARTS[2] * FRAME]
    )


def test_a_removed_sheet_leaves_one_whole_track(place: Place) -> None:
    with LibraryIndex(place.base / "library.db") as index:
        index.add_root(place.music)
        refresh(index)
        (place.music / "Dvorak" / "Concerto.cue").unlink()
        found = refresh(index)
        assert found.scan.read == 0
        tracks = [each.track for each in index.snapshot().tracks if "Dvorak" in each.track.path]
    assert [track.span for track in tracks] == [None]
    assert tracks[0].audio.samples == LENGTH


def test_a_damaged_pressing_of_a_span_is_repaired(place: Place) -> None:
    before = place.files()
    _, path = movements(place)[1]
    raw = bytearray(path.read_bytes())
    raw[-100] ^= 1
    path.write_bytes(bytes(raw))
    found, outcome = place.repair()
    assert [fault.path for fault in found.faults] == [path.relative_to(place.card).as_posix()]
    assert outcome.pressed == 0
    assert place.files() == before
