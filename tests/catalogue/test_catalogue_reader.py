"""Opening a catalogue: which slot, and what is said of a wrong file."""

import os
import sqlite3
import zlib
from pathlib import Path

import pytest
from catalogue_samples import mixed, reached_tracks

from syncd.catalogue.opening import address, find_catalogue
from syncd.catalogue.reader import Catalogue, faults, pages
from syncd.catalogue.slots import Record, Slot, catalogue_path, encode, record_path
from syncd.errors import CardProblem


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return mixed().built(tmp_path)


def put(card: Path, slot: Slot, generation: int, data: bytes) -> None:
    (card / "SYNCD").mkdir(exist_ok=True)
    (card / catalogue_path(slot)).write_bytes(data)
    record = Record(generation, len(data), "0" * 32, zlib.crc32(data))
    (card / record_path(slot)).write_bytes(encode(record))


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(CardProblem, match=r"cat-a\.db cannot be read: No such file"):
        Catalogue(tmp_path / "cat-a.db")


@pytest.mark.parametrize("data", [b"", b"text", b"SQLite format 3\0", bytes(4096)])
def test_a_file_that_is_no_database_is_called_damaged(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "cat-a.db"
    path.write_bytes(data)
    with pytest.raises(CardProblem, match=r"is damaged: it is not a SQLite database\. Update"):
        Catalogue(path)


def test_another_program_s_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "foreign.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE t (x)")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(CardProblem, match="database of another program"):
        Catalogue(path)
    assert path.read_bytes() == before


def test_a_newer_form_asks_for_a_newer_syncd(file: Path) -> None:
    data = bytearray(file.read_bytes())
    data[60:64] = (3).to_bytes(4, "big")
    file.write_bytes(data)
    with pytest.raises(CardProblem, match=r"has form 3, and this syncd reads form 2\. Install"):
        Catalogue(file)


def test_an_older_form_asks_for_an_update_of_the_card(file: Path) -> None:
    data = bytearray(file.read_bytes())
    data[60:64] = (1).to_bytes(4, "big")
    file.write_bytes(data)
    with pytest.raises(CardProblem, match=r"has form 1, and this syncd reads form 2\. Update the"):
        Catalogue(file)


@pytest.mark.parametrize("kept", [100, 1024, 5000])
def test_a_cut_off_file_is_noticed_before_it_is_read(file: Path, kept: int) -> None:
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises(CardProblem, match=f"it has {kept} bytes where its header says"):
        Catalogue(file)


def test_damage_within_is_told_in_a_sentence(file: Path) -> None:
    data = bytearray(file.read_bytes())
    data[1024:] = b"\xa5" * (len(data) - 1024)
    file.write_bytes(data)
    with Catalogue(file) as catalogue, pytest.raises(CardProblem, match=r"is damaged: .+ Update"):
        reached_tracks(catalogue)


def test_any_damaged_page_is_read_or_told_but_never_crashes(file: Path) -> None:
    whole = file.read_bytes()
    told = 0
    for page in range(len(whole) // 1024):
        data = bytearray(whole)
        start = page * 1024 + (100 if page == 0 else 0)
        data[start : start + 64] = b"\xff" * 64
        file.write_bytes(data)
        try:
            with Catalogue(file) as catalogue:
                for home in catalogue.home():
                    catalogue.letters(home)
                list(pages(catalogue.tracks, 1, 100))
                list(pages(catalogue.entries, 18, 1000))
                list(pages(catalogue.credits, 1, 100))
            told += bool(faults(file))
        except CardProblem:
            told += 1
    assert told == len(whole) // 1024, "each page holds something, so each damage is seen"


def test_an_id_that_is_not_there_is_damage_where_a_row_must_be(file: Path) -> None:
    with Catalogue(file) as catalogue:
        assert catalogue.tracks(10_000) == []
        assert catalogue.tracks(2**70) == []
        with pytest.raises(CardProblem, match="there is no track 10000"):
            catalogue.track(10_000)


def test_a_count_that_nothing_stands_behind_ends(file: Path) -> None:
    with Catalogue(file) as catalogue:
        assert len(list(pages(catalogue.tracks, 1, 10**15))) == 17


def test_reading_writes_nothing_even_where_it_could(file: Path) -> None:
    before = file.read_bytes(), sorted(os.listdir(file.parent)), file.stat().st_mtime_ns
    with Catalogue(file) as catalogue:
        reached_tracks(catalogue)
    connection = sqlite3.connect(address(file), uri=True)
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        connection.execute("DELETE FROM tracks")
    connection.close()
    assert (file.read_bytes(), sorted(os.listdir(file.parent)), file.stat().st_mtime_ns) == before


def test_reading_takes_no_lock_and_looks_for_no_journal(file: Path) -> None:
    """A player's card has one reader; locks and journals would cost it reads at each statement."""
    writer = sqlite3.connect(file, isolation_level=None)
    writer.execute("BEGIN EXCLUSIVE")
    try:
        with Catalogue(file) as catalogue:
            assert len(reached_tracks(catalogue)) == 17
    finally:
        writer.execute("ROLLBACK")
        writer.close()


def test_a_path_with_signs_of_its_own_is_opened(file: Path) -> None:
    odd = file.with_name("100% a?b#c d'é.db")
    file.rename(odd)
    with Catalogue(odd) as catalogue:
        assert catalogue.counts()["tracks"] == 17


def test_the_newest_valid_slot_is_found(tmp_path: Path, file: Path) -> None:
    data = file.read_bytes()
    put(tmp_path, "a", 3, data)
    put(tmp_path, "b", 4, data)
    found = find_catalogue(tmp_path)
    assert (found.slot, found.record.generation) == ("b", 4)
    assert found.path == tmp_path / "SYNCD" / "cat-b.db"
    with (tmp_path / catalogue_path("b")).open("ab") as grown:
        grown.write(b"x")
    assert find_catalogue(tmp_path).slot == "a"
    (tmp_path / record_path("a")).write_bytes(b"")
    with pytest.raises(CardProblem, match="There is no catalogue on the card"):
        find_catalogue(tmp_path)


def test_an_empty_card_has_no_catalogue(tmp_path: Path) -> None:
    with pytest.raises(CardProblem, match="There is no catalogue on the card"):
        find_catalogue(tmp_path)


def test_folders_in_place_of_files_are_no_catalogue(tmp_path: Path) -> None:
    for slot in ("a", "b"):
        (tmp_path / "SYNCD" / f"cat-{slot}.db").mkdir(parents=True)
        (tmp_path / "SYNCD" / f"cat-{slot}.rec").mkdir()
    with pytest.raises(CardProblem, match="There is no catalogue on the card"):
        find_catalogue(tmp_path)
