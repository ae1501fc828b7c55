"""The invented library as files: formats, tags, covers, and the changes of the second act."""

import hashlib
import os
import shutil
import subprocess
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tinytag
from PIL import Image

from syncd.demo import invented
from syncd.demo.covers import cover
from syncd.demo.make import (
    add_recording,
    make_library,
    move_folder,
    remove_recording,
    retag_one,
)
from syncd.demo.score import OPENINGS
from syncd.demo.shelf import DemoFolder
from syncd.errors import SetupProblem

FOLDERS = (*invented.LIBRARY, invented.ADDED)
TRACKS = [(folder, name, track) for folder in invented.LIBRARY for name, track in folder.files()]


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_it_is_as_varied_as_the_demo_needs() -> None:
    forms = {folder.form for folder in invented.LIBRARY}
    assert forms == {"flac", "flac-24-96", "mp3", "aac", "alac", "vorbis", "opus", "wav"}
    assert 40 <= len(TRACKS) <= 60
    assert len({name for _, name, _ in TRACKS}) == len(TRACKS)
    used = {track.music for folder in FOLDERS for track in folder.tracks if track.music}
    assert used == set(OPENINGS), "each opening is heard"
    assert len(used) >= 12
    titles = Counter((folder.path, track.tags["TITLE"]) for folder, _, track in TRACKS)
    assert max(titles.values()) == 2, "an album has a title twice"
    discs = {
        folder.tags.get("DISCNUMBER") for folder in invented.LIBRARY if "Messiah" in folder.path
    }
    assert discs == {"1", "2"}


def test_all_that_is_listed_is_made(demo_library: Path) -> None:
    names = set(digests(demo_library))
    assert {name for _, name, _ in TRACKS} <= names
    covers = {f"{f.path}/cover.jpg" for f in invented.LIBRARY if f.cover == "file"}
    assert names == {name for _, name, _ in TRACKS} | covers


@pytest.mark.parametrize("form", ["flac", "flac-24-96", "mp3", "vorbis", "opus", "wav"])
def test_a_second_decoder_hears_music(demo_library: Path, form: str) -> None:
    """libsndfile has no part in making the files."""
    _, name, _ = next(one for one in TRACKS if one[0].form == form)
    data, rate = soundfile.read(demo_library / name)
    assert rate == {"flac-24-96": 96000, "opus": 48000}.get(form, 44100)
    assert data.shape[1] == 2
    assert 4 <= len(data) / rate <= 10
    assert 0.4 < np.abs(data).max() < 1.0
    assert np.sqrt((data**2).mean()) > 0.03
    subtype = soundfile.info(demo_library / name).subtype
    assert subtype == {"flac": "PCM_16", "flac-24-96": "PCM_24", "wav": "PCM_16"}.get(form, subtype)


@pytest.mark.parametrize("form", ["aac", "alac"])
def test_ffmpeg_decodes_the_mp4_files(demo_library: Path, ffmpeg: str, form: str) -> None:
    _, name, _ = next(one for one in TRACKS if one[0].form == form)
    done = subprocess.run(
        [ffmpeg, "-v", "error", "-i", demo_library / name, "-f", "s16le", "pipe:1"],
        capture_output=True,
        check=True,
    )
    assert done.stderr == b""
    assert 4 <= len(done.stdout) / 4 / 44100 <= 10


@pytest.mark.parametrize(
    "folder", [folder for folder in invented.LIBRARY if folder.form != "wav"], ids=lambda f: f.path
)
def test_a_second_reader_finds_the_tags(demo_library: Path, folder: DemoFolder) -> None:
    name, track = folder.files()[0]
    said = {**folder.tags, **track.tags}
    read = tinytag.TinyTag.get(demo_library / name, image=True)
    assert (read.title, read.album) == (said["TITLE"], said["ALBUM"])
    assert str(read.artist).split("\0")[0] in said["ARTIST"]
    assert str(read.year) == said["DATE"]
    assert str(read.track) == said["TRACKNUMBER"].split("/")[0]
    assert read.composer == said.get("COMPOSER")
    assert (read.images.any is not None) == (folder.cover == "embedded")


def test_ffmpeg_reads_the_tags_of_a_wav_file(demo_library: Path, ffmpeg: str) -> None:
    folder, name, track = next(one for one in TRACKS if one[0].form == "wav")
    said = subprocess.run(
        [ffmpeg, "-v", "error", "-i", demo_library / name, "-f", "ffmetadata", "-"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert f"title={track.tags['TITLE']}" in said
    assert f"composer={folder.tags['COMPOSER']}" in said


def test_no_two_files_sound_the_same(demo_library: Path, ffmpeg: str) -> None:
    """Else a moved file could not be told from another one by its audio."""
    sounds = [
        subprocess.run(
            [ffmpeg, "-v", "error", "-i", demo_library / name, "-f", "md5", "-"],
            capture_output=True,
            check=True,
        ).stdout
        for folder, name, _ in TRACKS
        if folder.form in ("flac", "mp3")
    ]
    assert len(set(sounds)) == len(sounds) > 20


def test_covers_are_square_baseline_pictures(demo_library: Path) -> None:
    path = next(demo_library.rglob("cover.jpg"))
    with Image.open(path) as picture:
        assert picture.format == "JPEG"
        assert picture.size == (600, 600)
        assert "progressive" not in picture.info
        assert len(picture.convert("RGB").getcolors(1 << 20)) > 2
    colours = ("#000000", "#ffffff")
    assert cover("One", colours) == cover("One", colours) != cover("Another", colours)


@pytest.fixture
def library(demo_library: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "library"
    shutil.copytree(demo_library, copy, copy_function=os.link)
    return copy


def unlink(path: Path) -> None:
    """Part *path* from the session's library, which the copy shares by hard links."""
    data = path.read_bytes()
    path.unlink()
    path.write_bytes(data)


def test_the_same_folder_comes_out_byte_for_byte_the_same(
    tmp_path: Path, ffmpeg: str, demo_library: Path
) -> None:
    add_recording(tmp_path / "one", ffmpeg)
    add_recording(tmp_path / "two", ffmpeg)
    assert digests(tmp_path / "one") == digests(tmp_path / "two")


def test_retagging_corrects_one_file_and_leaves_its_sound(library: Path) -> None:
    unlink(library / invented.MISSPELT)
    before, sound = digests(library), soundfile.read(library / invented.MISSPELT)[0]
    assert "Alegro" in str(tinytag.TinyTag.get(library / invented.MISSPELT).title)
    said = retag_one(library)
    assert "Corrected a misspelt tag" in said
    after = digests(library)
    assert {name for name in before if before[name] != after[name]} == {invented.MISSPELT}
    title = str(tinytag.TinyTag.get(library / invented.MISSPELT).title)
    assert title == "Symphony No. 5 in C minor, Op. 67: I. Allegro con brio"
    assert np.array_equal(sound, soundfile.read(library / invented.MISSPELT)[0])


def test_adding_brings_one_folder(library: Path, ffmpeg: str) -> None:
    before = digests(library)
    assert "Added a recording: Haydn's Symphony No. 94" in add_recording(library, ffmpeg)
    after = digests(library)
    assert before.items() <= after.items()
    assert set(after) - set(before) == {name for name, _ in invented.ADDED.files()}


def test_moving_keeps_every_byte_under_another_name(library: Path) -> None:
    before = digests(library)
    assert "Moved the folder Grieg/Peer Gynt" in move_folder(library)
    after = digests(library)
    assert sorted(before.values()) == sorted(after.values())
    moved = {name for name in before if name not in after}
    assert len(moved) == 4 and all(name.startswith(invented.GRIEG + "/") for name in moved)
    assert not (library / "Grieg").exists()


def test_removing_takes_one_recording_and_keeps_what_is_not_the_demo_s(library: Path) -> None:
    before = digests(library)
    own = library / invented.BEETHOVEN_MP3 / "my notes.txt"
    own.write_text("a listener's own")
    assert "Removed a recording" in remove_recording(library)
    gone = set(before) - set(digests(library))
    assert len(gone) == 5 and all(name.startswith(invented.BEETHOVEN_MP3 + "/") for name in gone)
    assert own.read_text() == "a listener's own"
    own.unlink()


@pytest.mark.parametrize("change", [retag_one, move_folder, remove_recording])
def test_a_change_without_its_library_is_told(tmp_path: Path, change: object) -> None:
    with pytest.raises(SetupProblem, match=r"lacks .+ Make it anew"):
        change(tmp_path)  # type: ignore[operator]


def test_an_encoder_that_fails_is_told_in_a_sentence(tmp_path: Path) -> None:
    fake = tmp_path / "ffmpeg"
    fake.write_text("#!/bin/sh\ncat >/dev/null\necho 'no such encoder' >&2\nexit 1\n")
    fake.chmod(0o755)
    with pytest.raises(SetupProblem, match="could not be encoded: no such encoder"):
        add_recording(tmp_path / "library", str(fake))


def test_a_missing_encoder_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(SetupProblem, match=r"The encoder .+ cannot be started"):
        add_recording(tmp_path / "library", str(tmp_path / "no-ffmpeg"))


def test_a_folder_that_cannot_be_made_is_told_in_a_sentence(tmp_path: Path, ffmpeg: str) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(SetupProblem, match="cannot be written at"):
        make_library(tmp_path / "file", ffmpeg)


def test_progress_counts_up_to_the_number_of_tracks(
    tmp_path: Path, ffmpeg: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(invented, "LIBRARY", (invented.ADDED,))
    seen: list[tuple[int, int]] = []
    made = make_library(tmp_path, ffmpeg, lambda done, of: seen.append((done, of)))
    assert seen == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert made == sorted(tmp_path / name for name, _ in invented.ADDED.files())
