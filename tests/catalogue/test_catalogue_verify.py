"""A catalogue against what it was built of: whole ones pass, and each kind of spoiling is told."""

import sqlite3
import tempfile
from pathlib import Path

import pytest
from big_library import big_library
from catalogue_samples import IDENTITIES, Shelf, hostile, mixed, shelf_of
from hypothesis import given, settings
from hypothesis import strategies as st

from syncd.catalogue.build import build
from syncd.catalogue.verify import check_itself, compare
from syncd.model import Composer, Credit, Identity, Work


def told(shelf: Shelf, folder: Path, charset: str = "unicode") -> list[str]:
    file = shelf.built(folder, charset)
    differences = compare(file, shelf.entries, "ascii" if charset == "ascii" else "unicode")
    return [str(difference) for difference in differences]


@pytest.mark.parametrize("charset", ["unicode", "ascii"])
def test_a_catalogue_is_what_it_was_built_of(tmp_path: Path, charset: str) -> None:
    assert told(mixed(), tmp_path, charset) == []
    assert told(Shelf(), tmp_path, charset) == []


def test_a_library_of_some_size_passes(tmp_path: Path) -> None:
    entries = big_library(3_000)
    build(entries, tmp_path / "big.db")
    assert compare(tmp_path / "big.db", entries) == []


@pytest.mark.parametrize(
    "kind", ["a work with 1,000 movements", "a recording with 200 credits",
             "names of 10,000 characters", "9 names alike for 24 letters"],
)  # fmt: skip
def test_libraries_of_odd_proportions_pass(tmp_path: Path, kind: str) -> None:
    assert told(hostile(kind), tmp_path) == []


@settings(max_examples=60, deadline=None)
@given(st.lists(IDENTITIES, max_size=10))
def test_whatever_is_identified_passes(identities: list[Identity]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        assert told(shelf_of(identities), Path(folder)) == []


SPOILT = {
    "UPDATE tracks SET path = 'Music/other.flac' WHERE id = 3": "not on",
    "UPDATE tracks SET milliseconds = 1 WHERE id = 3": "its length is",
    "UPDATE tracks SET size = 7 WHERE id = 3": "where",
    "UPDATE tracks SET gain = -100 WHERE id = 3": "where",
    "UPDATE tracks SET number = 9 WHERE id = 1": "its number is not",
    "UPDATE tracks SET parent = parent + 1 WHERE id = 3": "its parent is",
    "UPDATE tracks SET credit_count = 0 WHERE id = 3": "its credits are not",
    "DELETE FROM tracks WHERE id = 17": "is missing",
    "UPDATE entries SET first = first + 1 WHERE id = (SELECT first FROM home WHERE id = 1)":
        "its first row is",
    "UPDATE entries SET count = count - 1 WHERE id = (SELECT first FROM home WHERE id = 14)":
        "its tracks are not",
    "UPDATE entries SET label = 'Zz' WHERE id = (SELECT first FROM home WHERE id = 1)":
        "stands before",
    "UPDATE entries SET number = 1900 WHERE id = (SELECT first FROM home WHERE id = 14)":
        "the year 1900",
    "UPDATE groups SET parent = parent + 1 WHERE id = (SELECT min(id) FROM groups)":
        "its parent is",
    "UPDATE links SET first = first + 1 WHERE id = (SELECT min(id) FROM links)":
        "it does not lead where",
    "UPDATE links SET item = (SELECT first FROM home WHERE id = 14) "
    "WHERE id = (SELECT min(id) FROM links)": "it does not lead where",
    "UPDATE entries SET first = (SELECT first FROM entries WHERE label = 'Quirin Ostrowald' "
    "ORDER BY id DESC), count = 1 WHERE label = 'Teodor Vasslin'": "does not belong there",
    "UPDATE credits SET performer = 1 WHERE performer > 0": "is no performer",
    "UPDATE prefixes SET first = first + 1 WHERE id = 2": "hits",
    "UPDATE home SET count = count - 1 WHERE list = 'works'": "do not end where",
    "UPDATE home SET first = first + 1 WHERE list = 'tracks'": "",
}  # fmt: skip


@pytest.mark.parametrize("spoil", SPOILT)
def test_what_was_spoilt_is_told(tmp_path: Path, spoil: str) -> None:
    shelf = mixed()
    file = shelf.built(tmp_path)
    connection = sqlite3.connect(file)
    assert connection.execute(spoil).rowcount > 0
    connection.commit()
    connection.close()
    found = [str(one) for one in compare(file, shelf.entries)]
    assert [line for line in found if SPOILT[spoil] in line], found


def test_a_track_that_is_not_on_the_card_is_named(tmp_path: Path) -> None:
    shelf = mixed()
    paths = [entry.path for entry in shelf.entries]
    file = shelf.built(tmp_path)
    assert check_itself(file, paths) == []
    (missing,) = check_itself(file, paths[1:])
    assert str(missing).endswith(f"{paths[0]} is not on the card")


def test_another_library_s_catalogue_is_no_match(tmp_path: Path) -> None:
    shelf = mixed()
    file = shelf.built(tmp_path)
    shelf.recording(
        Work("Nocturne"), composer=Composer("A B", "B, A"), credits=(Credit("C D", "soloist"),)
    )
    lines = [str(one) for one in compare(file, shelf.entries)]
    path = shelf.entries[-1].path
    assert f"tracks: {path} is missing" in lines
    assert f"composers, 'b, a': it does not lead to {path}" in lines
    assert f"soloists, 'c d': it does not lead to {path}" in lines
    assert f"forms, 'nocturne': it does not lead to {path}" in lines


def test_a_file_that_is_no_catalogue_is_told_and_not_raised(tmp_path: Path) -> None:
    file = tmp_path / "cat-a.db"
    file.write_bytes(b"nothing")
    assert check_itself(file) != []
