"""The index knows a file with a sheet as its spans; a changed sheet costs no reading of audio."""

import os
import shutil
import sqlite3
from pathlib import Path

import mutagen.apev2
import mutagen.flac
import mutagen.id3
import mutagen.mp4
import pytest
from library_kit import FRAMES

from syncd.library.index import LibraryIndex
from syncd.library.scan import scan
from syncd.library.schema import FORMAT, SCHEMA
from syncd.model import Identity, Kind, LibraryPath, Track

SECOND = 588 * 10  # where the second track begins, in samples: 10 frames of RFC 9639 section 8.7


def sheet(file: str = "a.flac", second: str = "00:00:10", title: str = "Adagio") -> str:
    return (
        f'PERFORMER "Ilse Torvald"\nFILE "{file}" WAVE\n'
        f'TRACK 01 AUDIO\nTITLE "Allegro"\nINDEX 01 00:00:00\n'
        f'TRACK 02 AUDIO\nTITLE "{title}"\nINDEX 01 {second}\n'
    )


@pytest.fixture
def album(tmp_path: Path, masters: Path) -> Path:
    folder = tmp_path / "music" / "album"
    folder.mkdir(parents=True)
    shutil.copyfile(masters / "a.flac", folder / "a.flac")
    return folder.resolve()


@pytest.fixture
def music(album: Path) -> Path:
    return album.parent


def tracks(index: LibraryIndex) -> list[Track]:
    return [each.track for each in index.snapshot().tracks]


def titles(index: LibraryIndex) -> list[str]:
    return [track.title for track in tracks(index)]


def test_a_file_with_a_sheet_is_its_spans(index: LibraryIndex, album: Path) -> None:
    (album / "a.cue").write_text(sheet(), "utf-8")
    scan(index)
    first, second = tracks(index)
    assert (first.path, first.address) == (str(album / "a.flac"), str(album / "a.flac#01"))
    assert [track.title for track in (first, second)] == ["Allegro", "Adagio"]
    assert second.artist == "Ilse Torvald"
    assert (first.audio.samples, second.audio.samples) == (SECOND, FRAMES - SECOND)
    assert second.span is not None
    assert (second.span.start, second.span.number, second.track_number) == (SECOND, 2, 2)
    assert first.audio_hash != second.audio_hash
    assert index.tags_of(LibraryPath(second.address))["TITLE"] == ("Adagio",)


def test_a_sheet_that_comes_changes_and_goes_is_noticed_without_reading_audio(
    index: LibraryIndex, album: Path, reads: list[str]
) -> None:
    scan(index)
    assert len(tracks(index)) == 1
    whole = tracks(index)[0]
    reads.clear()

    (album / "a.cue").write_text(sheet(), "utf-8")
    scan(index)
    assert titles(index) == ["Allegro", "Adagio"]

    (album / "a.cue").write_text(sheet(title="Adagio molto"), "utf-8")
    assert scan(index).read == 0
    assert titles(index) == ["Allegro", "Adagio molto"]

    (album / "a.cue").unlink()
    scan(index)
    assert tracks(index) == [whole]
    assert reads == []


def test_a_second_scan_finds_nothing_to_identify(index: LibraryIndex, album: Path) -> None:
    (album / "a.cue").write_text(sheet(), "utf-8")
    scan(index)
    index.settle()
    scan(index)
    assert index.stale_folders() == []


def test_spans_are_given_to_the_engine_and_keep_what_it_says(
    index: LibraryIndex, album: Path
) -> None:
    (album / "a.cue").write_text(sheet(), "utf-8")
    scan(index)
    (unit,) = index.tagged_units(lambda path: path.rpartition("/")[0])
    addresses = [file.path for file in unit]
    assert addresses == [str(album / f"a.flac#{number:02}") for number in (1, 2)]
    assert unit[0].duration_s == pytest.approx(SECOND / 44100)
    said = Identity(Kind.POPULAR, artist="Ilse Torvald")
    assert index.set_identities([(addresses[1], said)]) == 1
    assert [each.identity.kind for each in index.snapshot().tracks] == [Kind.UNKNOWN, Kind.POPULAR]

    (album / "a.cue").write_text(sheet(title="Largo"), "utf-8")
    scan(index)
    assert [each.identity.kind for each in index.snapshot().tracks] == [Kind.UNKNOWN, Kind.POPULAR]


def test_spans_move_with_file_and_sheet(index: LibraryIndex, album: Path, reads: list[str]) -> None:
    (album / "a.cue").write_text(sheet(), "utf-8")
    scan(index)
    before = [track.audio_hash for track in tracks(index)]
    reads.clear()
    album.rename(album.with_name("elsewhere"))
    scan(index)
    assert [track.audio_hash for track in tracks(index)] == before
    assert {track.path for track in tracks(index)} == {str(album.with_name("elsewhere") / "a.flac")}
    assert reads == []


def test_a_file_that_goes_takes_its_spans_along(index: LibraryIndex, album: Path) -> None:
    (album / "a.cue").write_text(sheet(), "utf-8")
    shutil.copyfile(album / "a.flac", album / "b.flac")
    scan(index)
    (album / "a.flac").unlink()
    scan(index)
    assert [track.address for track in tracks(index)] == [str(album / "b.flac")]


def test_a_sheet_that_is_no_file_or_too_long_is_told_and_left(
    index: LibraryIndex, album: Path
) -> None:
    (album / "folder.cue").mkdir()
    os.mkfifo(album / "pipe.cue")
    (album / "a.cue").write_bytes(b"\0" * 2_000_000)
    found = scan(index)
    assert len(tracks(index)) == 1
    assert "2000000 bytes" in found.notices[0]
    assert any("2000000 bytes" in note.reason for note in index.notes())


def test_lines_that_are_not_understood_are_told_once_and_kept_in_the_notes(
    index: LibraryIndex, album: Path
) -> None:
    (album / "a.cue").write_text("hello\n" + sheet(), "utf-8")
    found = scan(index)
    assert any("line 1 is not understood" in text for text in found.notices)
    index.settle()
    assert scan(index).notices == ()
    assert [note.path for note in index.notes()] == [str(album / "a.cue")]


@pytest.mark.parametrize("name", ["a.flac", "a.mp3", "a.wv", "a.ogg", "a.m4a"])
def test_a_sheet_in_a_tag_divides_its_file(
    name: str, index: LibraryIndex, album: Path, masters: Path
) -> None:
    (album / "a.flac").unlink()
    source = masters / ("alac.m4a" if name == "a.m4a" else name)
    path = Path(shutil.copyfile(source, album / name))
    text = sheet("some other name.wav") + "REM " + "x" * 20_000  # longer than a tag value may be
    if name == "a.mp3":
        frames = mutagen.id3.ID3()
        frames.add(mutagen.id3.TXXX(encoding=3, desc="CUESHEET", text=[text]))
        frames.save(path)
    elif name == "a.wv":
        ape = mutagen.apev2.APEv2()
        ape["Cuesheet"] = text
        ape.save(path)
    elif name == "a.m4a":
        whole = mutagen.mp4.MP4(path)
        whole["----:com.apple.iTunes:CUESHEET"] = [text.encode()]
        whole.save()
    else:
        tagged = mutagen.File(path)
        tagged["CUESHEET"] = text
        tagged.save()
    scan(index)
    assert titles(index) == ["Allegro", "Adagio"]
    assert "CUESHEET" not in index.tags_of(LibraryPath(tracks(index)[0].address))


@pytest.mark.parametrize("is_cd", [True, False])
def test_a_flac_cuesheet_block_divides_its_file(
    index: LibraryIndex, album: Path, *, is_cd: bool
) -> None:
    """RFC 9639 section 8.7: offsets in samples, lead-out track 170 on a CD, 255 elsewhere."""
    whole = mutagen.flac.FLAC(album / "a.flac")
    block = mutagen.flac.CueSheet(None)
    block.compact_disc = is_cd
    starts = (0, SECOND if is_cd else 5001)
    for number, start in enumerate(starts, 1):
        track = mutagen.flac.CueSheetTrack(number, start, pre_emphasis=number == 2)
        track.indexes.append(mutagen.flac.CueSheetTrackIndex(1, 0))
        block.tracks.append(track)
    block.tracks.append(mutagen.flac.CueSheetTrack(170 if is_cd else 255, FRAMES))
    whole.metadata_blocks.append(block)
    whole.cuesheet = block
    whole.save()
    scan(index)
    found = tracks(index)
    assert [track.span.start for track in found if track.span] == list(starts)
    assert [track.emphasis for track in found] == [False, True]


def test_a_tag_says_that_an_ordinary_file_has_emphasis(index: LibraryIndex, album: Path) -> None:
    whole = mutagen.flac.FLAC(album / "a.flac")
    whole["PRE_EMPHASIS"] = "1"
    whole.save()
    scan(index)
    assert [(track.span, track.emphasis) for track in tracks(index)] == [(None, True)]


def test_an_index_of_the_first_format_is_taken_on(tmp_path: Path, album: Path) -> None:
    path = tmp_path / "old.db"
    with sqlite3.connect(path) as old:
        old.executescript(SCHEMA)
        old.execute("PRAGMA user_version=1")
        old.execute(f"PRAGMA application_id={0x5359_4C42}")
        old.execute("INSERT INTO meta VALUES ('mark', 'kept')")
    old.close()
    (album / "a.cue").write_text(sheet(), "utf-8")
    with LibraryIndex(path) as index:
        assert index.meta("mark") == "kept"
        index.add_root(album.parent)
        scan(index)
        assert titles(index) == ["Allegro", "Adagio"]
    with sqlite3.connect(path) as new:
        assert new.execute("PRAGMA user_version").fetchone() == (FORMAT,)
    new.close()


def test_a_sheet_whose_name_is_no_text_is_read_and_told_of(
    index: LibraryIndex, album: Path
) -> None:
    name = os.fsencode(album) + b"/\xff.cue"
    with open(name, "wb") as file:  # noqa: PTH123 - pathlib takes no bytes
        file.write(sheet().encode())
    found = scan(index)
    assert [track.span.start for track in tracks(index) if track.span] == [0, SECOND]
    (album / "a.cue").write_text(sheet(second="00:00:11"), "utf-8")
    found = scan(index)
    assert "a.cue; the cue sheet \ufffd.cue has other" in found.notices[0]
