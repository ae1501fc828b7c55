"""The catalogue as a file: SQLite's file format read raw, and by a second program.

Offsets and meanings: SQLite documentation, "Database File Format", section 1.3.
"""

import shutil
import sqlite3
import struct
import subprocess
from pathlib import Path

import pytest
from catalogue_samples import Shelf, mixed, reached_tracks

from syncd.catalogue.build import build
from syncd.catalogue.contract import APPLICATION_ID, FORM, PAGE_BYTES
from syncd.catalogue.reader import Catalogue, faults
from syncd.errors import SetupProblem

SAMPLES = {"mixed": mixed, "empty": Shelf}


@pytest.fixture(params=sorted(SAMPLES))
def file(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return SAMPLES[request.param]().built(tmp_path)


def number(data: bytes, offset: int) -> int:
    return int(struct.unpack_from(">I", data, offset)[0])


def test_the_header_is_one_a_microcontroller_can_rely_on(file: Path) -> None:
    data = file.read_bytes()
    assert data[:16] == b"SQLite format 3\0"
    assert struct.unpack_from(">H", data, 16) == (PAGE_BYTES,) == (1024,)
    assert (data[18], data[19]) == (1, 1), "rollback journal, not WAL"
    assert data[20] == 0, "no reserved bytes at the end of pages"
    assert (data[21], data[22], data[23]) == (64, 32, 32)
    assert number(data, 28) * PAGE_BYTES == len(data)
    assert (number(data, 32), number(data, 36)) == (0, 0), "no free pages"
    assert number(data, 52) == 0, "no auto-vacuum"
    assert number(data, 56) == 1, "UTF-8"
    assert number(data, 60) == FORM == 2
    assert data[68:72] == b"SyCa"
    assert number(data, 68) == APPLICATION_ID
    assert data[72:92] == bytes(20)
    assert number(data, 92) == number(data, 24), "version-valid-for is the change counter"


def test_nothing_is_left_beside_the_file(file: Path) -> None:
    assert [path.name for path in file.parent.iterdir()] == [file.name]


def test_the_integrity_check_finds_nothing(file: Path) -> None:
    assert faults(file) == []


def test_a_second_program_reads_it(file: Path) -> None:
    program = shutil.which("sqlite3")
    if program is None:
        pytest.skip("the program sqlite3 (Debian package sqlite3) is not installed")
    said = subprocess.run(
        [program, "-readonly", str(file), "PRAGMA integrity_check; SELECT count(*) FROM tracks;"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    with Catalogue(file) as catalogue:
        assert said == ["ok", str(catalogue.counts()["tracks"])]


def test_rows_lie_in_the_file_in_the_order_of_their_ids(tmp_path: Path) -> None:
    """Inserted in key order, so that neighbouring rows are neighbouring bytes: no VACUUM needed."""
    file = mixed().built(tmp_path)
    compact = tmp_path / "vacuumed.db"
    connection = sqlite3.connect(file)
    connection.execute("VACUUM INTO ?", (str(compact),))
    connection.close()
    assert compact.stat().st_size == file.stat().st_size


def test_there_are_no_indexes_and_each_table_is_a_rowid_table(tmp_path: Path) -> None:
    connection = sqlite3.connect(mixed().built(tmp_path))
    kinds = connection.execute("SELECT type, sql FROM sqlite_schema").fetchall()
    connection.close()
    assert {kind for kind, _ in kinds} == {"table"}
    assert all("WITHOUT ROWID" not in sql and "id INTEGER PRIMARY KEY" in sql for _, sql in kinds)
    assert all("--" not in sql for _, sql in kinds), "comments would cost the player's heap"


def test_equal_entries_in_any_order_give_equal_bytes(tmp_path: Path) -> None:
    shelf = mixed()
    build(shelf.entries, tmp_path / "one.db")
    build(reversed(shelf.entries), tmp_path / "other.db")
    assert (tmp_path / "one.db").read_bytes() == (tmp_path / "other.db").read_bytes()


def test_building_again_replaces_the_file(tmp_path: Path) -> None:
    target = tmp_path / "catalogue.db"
    target.write_bytes(b"something else entirely")
    build(mixed().entries, target)
    with Catalogue(target) as catalogue:
        assert len(reached_tracks(catalogue)) == len(mixed().entries)


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    target = tmp_path / "nowhere" / "catalogue.db"
    with pytest.raises(SetupProblem, match=r"nowhere/catalogue\.db: .+\. Check that the folder"):
        build(mixed().entries, target)
