"""The index keeps what it is given, over damage, newer formats and kills."""

import os
import sqlite3
from pathlib import Path

import pytest

from syncd.errors import SetupProblem
from syncd.library.audiohash import Hashes
from syncd.library.index import LibraryIndex
from syncd.library.records import Cover, FileRecord, Stat
from syncd.library.schema import FORMAT
from syncd.library.tags import FileReading
from syncd.model import (
    AudioFacts,
    AudioHash,
    Codec,
    Composer,
    ContentHash,
    Credit,
    Identity,
    Kind,
    LibraryPath,
    Movement,
    Work,
)

FACTS = AudioFacts("flac", Codec.FLAC, 44100, 2, 12.5, 16, 800_000, 551_250)


def record(path: bytes, tags: dict[str, tuple[str, ...]] | None = None, digest: str = "a" * 32):
    reading = FileReading(FACTS, tags or {}, None)
    hashes = Hashes(ContentHash(digest), AudioHash("b" * 32))
    return FileRecord(path, 1000, Stat(1000, 5, 7), reading, hashes)


@pytest.fixture
def music(tmp_path: Path) -> Path:
    folder = tmp_path / "music"
    folder.mkdir()
    return folder.resolve()


@pytest.fixture
def index_file(tmp_path: Path) -> Path:
    return tmp_path / "home" / "library.db"


def test_roots_are_kept_in_order_and_survive_reopening(index_file: Path, tmp_path: Path) -> None:
    for name in ("b", "a", "ab"):
        (tmp_path / name).mkdir()
    with LibraryIndex(index_file) as index:
        for name in ("b", "a", "ab"):  # "ab" begins with "a" but lies beside it
            index.add_root(tmp_path / name)
    with LibraryIndex(index_file) as index:
        base = tmp_path.resolve()
        assert index.roots() == tuple(str(base / name) for name in ("a", "ab", "b"))
        index.remove_root(tmp_path / "a")
        assert index.roots() == (str(base / "ab"), str(base / "b"))


def test_a_root_must_be_a_folder_and_neither_inside_nor_around_another(
    index_file: Path, music: Path
) -> None:
    (music / "inner").mkdir()
    (music / "file.txt").touch()
    with LibraryIndex(index_file) as index:
        index.add_root(music)
        for wrong, words in [
            (music / "file.txt", "is not a folder"),
            (music / "missing", "is not a folder"),
            (music, "already"),
            (music / "inner", "lies inside"),
            (music.parent, "holds"),
        ]:
            with pytest.raises(SetupProblem, match=words) as caught:
                index.add_root(wrong)
            assert str(wrong) in str(caught.value) and str(caught.value).endswith(".")
        with pytest.raises(SetupProblem, match="is not a root"):
            index.remove_root(music / "inner")
        assert index.roots() == (str(music),)


def test_a_link_to_a_root_is_that_root(index_file: Path, music: Path) -> None:
    link = music.parent / "link"
    link.symlink_to(music)
    with LibraryIndex(index_file) as index:
        index.add_root(link)
        assert index.roots() == (str(music),)
        index.remove_root(link)
        assert index.roots() == ()


def test_removing_a_root_forgets_its_files_and_no_others(index_file: Path, tmp_path: Path) -> None:
    with LibraryIndex(index_file) as index:
        for name in ("a", "a b", "a0"):
            (tmp_path / name).mkdir()
            root = index.add_root(tmp_path / name)
            index.upsert([record(os.fsencode(root) + b"/x/1.flac")])
        index.remove_root(tmp_path / "a")
        kept = [each.track.path.split("/")[-3] for each in index.snapshot().tracks]
        assert kept == ["a b", "a0"]


def test_a_snapshot_gives_back_what_was_stored(index_file: Path, music: Path) -> None:
    tags = {
        "TITLE": ("Adagio",), "ARTIST": ("Ana Vell", "Bo Tarn"), "ALBUM": ("Abend",),
        "ALBUMARTIST": ("Ana Vell",), "DATE": ("1962-03",), "GENRE": ("Classical",),
        "ORGANIZATION": ("Own Label",), "TRACKNUMBER": ("04",), "DISCNUMBER": ("1",),
    }  # fmt: skip
    path = os.fsencode(music) + b"/x/1.flac"
    with LibraryIndex(index_file) as index:
        index.upsert([record(path, tags)])
        (only,) = index.snapshot().tracks
        track = only.track
        assert track.path == str(music / "x" / "1.flac")
        assert (track.audio, track.audio_hash, track.size_bytes) == (FACTS, "b" * 32, 1000)
        assert (track.title, track.artist, track.album) == ("Adagio", "Ana Vell; Bo Tarn", "Abend")
        assert (track.album_artist, track.date, track.genre) == ("Ana Vell", "1962-03", "Classical")
        assert (track.label, track.track_number, track.disc_number) == ("Own Label", 4, 1)
        assert (track.art, only.identity) == (None, Identity(Kind.UNKNOWN))
        assert index.tags_of(LibraryPath(os.fsdecode(path))) == tags


@pytest.mark.parametrize(
    "movement", [None, Movement(2, "Adagio"), Movement(None, None), Movement(3, None)]
)
def test_an_identity_comes_back_as_it_was(
    index_file: Path, music: Path, movement: Movement | None
) -> None:
    identity = Identity(
        Kind.WORK, Composer("Clara Schumann", "Schumann, Clara"),
        Work("Trio", ("Op. 17",), "G minor"), "abc123", movement,
        (Credit("Ana Vell", "soloist", "violin"), Credit("Lake Trio", "ensemble")),
        None, "Abend", 0.875, ("composer: from its tag",),
    )  # fmt: skip
    path = os.fsencode(music) + b"/1.flac"
    with LibraryIndex(index_file) as index:
        index.upsert([record(path)])
        assert index.stale_folders() == [os.fsencode(music)]
        assert index.set_identities([(os.fsdecode(path), identity)]) == 1
        assert index.stale_folders() == []
    with LibraryIndex(index_file) as index:
        assert index.snapshot().tracks[0].identity == identity


def test_equal_bytes_keep_the_identity_and_other_bytes_ask_for_a_new_one(
    index_file: Path, music: Path
) -> None:
    path = os.fsencode(music) + b"/1.flac"
    with LibraryIndex(index_file) as index:
        assert index.upsert([record(path)]) == {path}
        index.set_identities([(os.fsdecode(path), Identity(Kind.POPULAR))])
        assert index.upsert([record(path)]) == set()
        assert index.stale_folders() == []
        assert index.upsert([record(path, digest="c" * 32)]) == {path}
        assert index.stale_folders() == [os.fsencode(music)]


def test_a_cover_serves_files_without_a_picture_of_their_own(index_file: Path, music: Path) -> None:
    base = os.fsencode(music)
    with LibraryIndex(index_file) as index:
        index.upsert([record(base + b"/album/CD 1/1.flac"), record(base + b"/album/other/1.flac")])
        index.set_covers({base + b"/album": Cover(b"cover.jpg", Stat(1, 2, 3), "d" * 32)})
        disc, other = (each.track for each in index.snapshot().tracks)
        assert disc.art is not None
        assert (disc.art.path, disc.art.embedded) == (str(music / "album" / "cover.jpg"), False)
        assert other.art is None  # not a disc of the album by its name


def test_units_are_given_whole_when_one_folder_of_them_changed(
    index_file: Path, music: Path
) -> None:
    base = os.fsencode(music)

    def unit_of(path: str) -> str:
        return path.removeprefix(str(music)).split("/")[1]

    with LibraryIndex(index_file) as index:
        paths = [base + b"/a/CD1/1.flac", base + b"/a/CD2/1.flac", base + b"/b/1.flac"]
        index.upsert([record(path, {"TITLE": ("T",)}) for path in paths])
        index.set_identities([(os.fsdecode(path), Identity(Kind.POPULAR)) for path in paths])
        index.upsert([record(paths[1], digest="c" * 32)])
        (unit,) = index.tagged_units(unit_of)
        assert [file.path for file in unit] == [os.fsdecode(path) for path in paths[:2]]
        assert unit[0].tags == {"TITLE": ("T",)} and unit[0].duration_s == 12.5


def test_unreadable_files_are_listed_and_not_among_the_tracks(
    index_file: Path, music: Path
) -> None:
    path = os.fsencode(music) + b"/caf\xe9.flac"
    with LibraryIndex(index_file) as index:
        index.upsert([FileRecord(path, 3, Stat(3, 4, 5), reason="It is text.")])
        snapshot = index.snapshot()
        assert snapshot.tracks == ()
        assert snapshot.unreadable == index.unreadable()
        assert [(os.fsencode(out.path), out.reason) for out in snapshot.unreadable] == [
            (path, "It is text.")
        ]


@pytest.mark.parametrize("damage", ["garbage", "text", "short"])
def test_a_damaged_index_is_set_aside_told_and_made_anew_with_its_roots(
    index_file: Path, music: Path, damage: str
) -> None:
    with LibraryIndex(index_file) as index:
        index.add_root(music)
        index.upsert([record(os.fsencode(music) + b"/1.flac")])
    raw = bytearray(index_file.read_bytes())
    raw[:200] = {"garbage": os.urandom(200), "text": b"x" * 200, "short": raw[:200]}[damage]
    index_file.write_bytes(raw[:150] if damage == "short" else raw)
    with LibraryIndex(index_file) as index:
        (notice,) = index.notices
        assert "damaged" in notice and "library.db.damaged-1" in notice
        assert index.roots() == (str(music),)
        assert index.snapshot().tracks == ()
    assert index_file.with_name("library.db.damaged-1").exists()


def test_damage_found_in_use_is_told_and_the_next_run_starts_anew(
    index_file: Path, music: Path
) -> None:
    with LibraryIndex(index_file) as index:
        index.add_root(music)
        index.upsert([record(os.fsencode(music) + b"/%03d.flac" % n) for n in range(500)])
    raw = bytearray(index_file.read_bytes())
    raw[4096 * 12 :] = os.urandom(len(raw) - 4096 * 12)
    index_file.write_bytes(raw)
    with LibraryIndex(index_file) as index, pytest.raises(SetupProblem, match=r"damaged-1"):
        index.snapshot()
        index.upsert([record(os.fsencode(music) + b"/%03d.flac" % n) for n in range(500)])
    with LibraryIndex(index_file) as index:
        assert index.notices == () and index.roots() == (str(music),)


def test_an_index_of_a_newer_format_is_refused_and_left_alone(index_file: Path) -> None:
    LibraryIndex(index_file).close()
    database = sqlite3.connect(index_file)
    database.execute(f"PRAGMA user_version={FORMAT + 1}")
    database.close()
    before = index_file.read_bytes()
    with pytest.raises(SetupProblem, match=f"format {FORMAT + 1}"):
        LibraryIndex(index_file)
    assert index_file.read_bytes() == before


def test_a_database_of_something_else_is_refused_and_left_alone(index_file: Path) -> None:
    index_file.parent.mkdir()
    database = sqlite3.connect(index_file)
    database.execute("CREATE TABLE other (x)")
    database.commit()
    database.close()
    with pytest.raises(SetupProblem, match="not a library index"):
        LibraryIndex(index_file)
    assert not list(index_file.parent.glob("*.damaged*"))


def test_a_home_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(SetupProblem, match="cannot be made"):
        LibraryIndex(tmp_path / "file" / "library.db")


def test_a_mistake_in_use_never_sets_a_sound_index_aside(index_file: Path, music: Path) -> None:
    index = LibraryIndex(index_file)
    index.add_root(music)
    index.close()
    with pytest.raises(sqlite3.ProgrammingError):
        index.roots()
    with LibraryIndex(index_file) as again:
        assert again.notices == () and again.roots() == (str(music),)


def test_the_header_of_the_file_says_what_it_is(index_file: Path) -> None:
    """SQLite file format: user_version at 60, application_id at 68, big-endian."""
    LibraryIndex(index_file).close()
    raw = index_file.read_bytes()
    assert raw[:16] == b"SQLite format 3\0"
    assert int.from_bytes(raw[60:64], "big") == FORMAT
    assert raw[68:72] == b"SYLB"
