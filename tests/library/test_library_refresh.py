"""A refresh identifies what changed, and nothing else."""

import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest
from mutagen.flac import FLAC

from syncd import refresh as refreshing
from syncd.library.index import LibraryIndex
from syncd.library.scan import Progress
from syncd.model import Identity, Kind, TaggedFile
from syncd.refresh import identify_stale, refresh
from syncd.works import identify as engine
from syncd.works.errata import Errata

TITLES = ["I. Allegro con brio", "II. Andante con moto", "III. Scherzo. Allegro", "IV. Allegro"]


@pytest.fixture
def music(tmp_path: Path, masters: Path) -> Path:
    """A symphony in one folder and a popular album in another."""
    root = tmp_path / "music"
    for number, title in enumerate(TITLES, 1):
        _track(
            masters, root / "symphony" / f"{number}.flac", number, title,
            COMPOSER="Ludwig van Beethoven", WORK="Symphony No. 5 in C minor, Op. 67",
            MOVEMENTNAME=title.split(". ", 1)[1], MOVEMENT=str(number), ALBUM="Symphonies",
            CONDUCTOR="Ida Holm",
        )  # fmt: skip
    for number in (1, 2):
        _track(
            masters, root / "popular" / f"{number}.flac", number, f"Song {number}",
            ARTIST="The Lanterns", ALBUM="Night Bus", GENRE="Pop",
        )  # fmt: skip
    return root


def _track(masters: Path, path: Path, number: int, title: str, **values: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    tagged = FLAC(shutil.copyfile(masters / "a.flac", path))
    tagged["TITLE"], tagged["TRACKNUMBER"] = title, str(number)
    for name, value in values.items():
        tagged[name] = value
    tagged.save()


@pytest.fixture
def identified(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that the engine is given from now on."""
    given: list[str] = []
    real = engine.identify

    def counted(files: Sequence[TaggedFile], errata: Errata | None = None) -> list[Identity]:
        given.extend("/".join(file.path.split("/")[-2:]) for file in files)
        return real(files, errata)

    monkeypatch.setattr(engine, "identify", counted)
    return given


def test_a_refresh_files_movements_under_one_recording(index: LibraryIndex) -> None:
    assert refresh(index).identified == 6
    by_folder: dict[str, list[Identity]] = {}
    for each in index.snapshot().tracks:
        by_folder.setdefault(each.track.path.split("/")[-2], []).append(each.identity)
    symphony = by_folder["symphony"]
    assert {identity.kind for identity in symphony} == {Kind.WORK}
    assert len({identity.recording for identity in symphony}) == 1
    assert [identity.movement.number for identity in symphony if identity.movement] == [1, 2, 3, 4]
    # Op. 67 is the Fifth: Kinsky-Halm
    assert {identity.work.catalogue for identity in symphony if identity.work} == {("Op. 67",)}
    assert {identity.kind for identity in by_folder["popular"]} == {Kind.POPULAR}


def test_a_second_refresh_identifies_nothing(index: LibraryIndex, identified: list[str]) -> None:
    refresh(index)
    before = index.snapshot()
    identified.clear()
    assert refresh(index).identified == 0
    assert identified == []
    assert index.snapshot() == before


def test_a_changed_tag_has_its_whole_album_identified_and_no_other(
    index: LibraryIndex, music: Path, identified: list[str]
) -> None:
    refresh(index)
    identified.clear()
    tagged = FLAC(music / "popular" / "1.flac")
    tagged["TITLE"] = "Another Song"
    tagged.save()
    assert refresh(index).identified == 2
    assert identified == ["popular/1.flac", "popular/2.flac"]


def test_a_moved_folder_keeps_its_recording(index: LibraryIndex, music: Path) -> None:
    refresh(index)
    before = {each.identity.recording for each in index.snapshot().tracks}
    (music / "deeper").mkdir()
    (music / "symphony").rename(music / "deeper" / "symphony")
    refresh(index)
    assert {each.identity.recording for each in index.snapshot().tracks} == before


def test_other_errata_have_all_identified_again(index: LibraryIndex, identified: list[str]) -> None:
    refresh(index, errata=None)
    identified.clear()
    assert identify_stale(index, errata=Errata(())) == 6
    assert identify_stale(index, errata=Errata(())) == 0
    assert len(identified) == 6


def test_another_engine_has_all_identified_again(
    index: LibraryIndex, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refresh(index)
    other = tmp_path / "engine"
    (other / "data").mkdir(parents=True)
    (other / "rules.py").write_text("changed")
    monkeypatch.setattr(refreshing, "_ENGINE", other)
    assert refresh(index).identified == 6


def test_identifying_that_was_stopped_goes_on_where_it_was(
    index: LibraryIndex, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refreshing, "_UNITS_AT_ONCE", 1)

    def stop(progress: Progress) -> None:
        if progress.stage == "identify":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        refresh(index, report=stop)
    done = sum(each.identity.kind is not Kind.UNKNOWN for each in index.snapshot().tracks)
    assert done in (2, 4)  # one of the two albums, whole
    assert refresh(index).identified == 6 - done


def test_a_file_that_became_unreadable_keeps_its_place_in_its_recording(
    index: LibraryIndex, music: Path
) -> None:
    refresh(index)
    before = index.snapshot()
    (music / "symphony" / "4.flac").write_text("no music")
    result = refresh(index)
    assert (result.scan.unreadable, result.identified) == (1, 4)
    after = index.snapshot()
    assert after.tracks == before.tracks
    assert [item.path for item in after.unreadable] == [str(music / "symphony" / "4.flac")]
    (music / "symphony" / "4.flac").unlink()
    refresh(index)
    assert len(index.snapshot().tracks) == 5
