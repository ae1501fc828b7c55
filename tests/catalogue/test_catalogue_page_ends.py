"""Where inner pages end: no screen of tracks lies across one at the cost of a read too many.

Page kinds as in SQLite's documentation, "Database File Format", section 1.6. The table of the tests
has four levels of pages, which tracks have from some 80,000 on.
"""

import random
import sqlite3
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pytest

from syncd.catalogue import build, contract
from syncd.catalogue.cost import CountingConnection
from syncd.catalogue.page_ends import settle
from syncd.catalogue.reader import faults
from syncd.catalogue.rows import Rows

TRACKS = 70_000


def groups() -> list[int]:
    """Recordings of one to twelve tracks, as many of each."""
    pick = random.Random(7)
    found: list[int] = []
    while len(found) < TRACKS:
        found += [100_000 + len(found)] * pick.randint(1, 12)
    return found[:TRACKS]


@pytest.fixture
def catalogue(tmp_path: Path) -> Path:
    """Tracks alone, some five a page, written but not settled."""
    path = tmp_path / "catalogue.db"
    size = random.Random(8)
    tracks = [
        ("x" * size.randint(130, 170), 1, 1, "a/b.mp3", None, 1, parent, 0, 0, 0, None, None)
        for parent in groups()
    ]
    connection = sqlite3.connect(path, isolation_level=None)
    build._write(connection, Rows(tracks=list(tracks)))
    connection.close()
    return path


def root_of(path: Path) -> int:
    connection = sqlite3.connect(path)
    (found,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name='tracks'")
    connection.close()
    return int(found[0])


def settled(path: Path) -> bytes:
    with path.open("r+b") as file:
        settle(file, root_of(path), groups())
    return path.read_bytes()


def screens() -> Iterator[tuple[int, int]]:
    """First id and rows of the screens that show each group from its first track on."""
    first = 1
    for _, members in groupby(groups()):
        count = len(list(members))
        for place in range(0, count, contract.ROWS):
            yield first + place, min(contract.ROWS, count - place)
        first += count


def reads(path: Path) -> list[int]:
    """What each of the screens costs from an empty cache."""
    connection = CountingConnection(path, 8)
    found = []
    for first, rows in screens():
        with connection.cold() as cost:
            connection.run(contract.TRACKS, first, rows)
        found.append(cost[0].reads)
    connection.close()
    return found


def test_no_screen_is_over_the_budget_where_some_were(catalogue: Path) -> None:
    before = reads(catalogue)
    settled(catalogue)
    after = reads(catalogue)
    assert max(before) > contract.OPEN.reads >= max(after)
    assert sum(after) <= sum(before)


def test_the_same_rows_are_in_a_sound_file_of_the_same_size(catalogue: Path) -> None:
    def rows() -> list[tuple[object, ...]]:
        connection = sqlite3.connect(catalogue)
        found = connection.execute("SELECT * FROM tracks").fetchall()
        one = [connection.execute("SELECT * FROM tracks WHERE id=?", (n,)).fetchone() for n in ids]
        connection.close()
        return [*found, *one]

    ids = range(1, TRACKS + 1, 11)
    before, size = rows(), catalogue.stat().st_size
    settled(catalogue)
    assert rows() == before
    assert catalogue.stat().st_size == size
    assert faults(catalogue) == []


def test_only_inner_pages_are_written_and_only_once(catalogue: Path) -> None:
    before = catalogue.read_bytes()
    after = settled(catalogue)
    changed = [
        at
        for at in range(0, len(before), contract.PAGE_BYTES)
        if before[at : at + contract.PAGE_BYTES] != after[at : at + contract.PAGE_BYTES]
    ]
    assert changed
    assert {(before[at], after[at]) for at in changed} == {(0x05, 0x05)}
    assert settled(catalogue) == after


def test_a_table_of_one_page_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "small.db"
    connection = sqlite3.connect(path, isolation_level=None)
    build._write(connection, Rows(tracks=[("x", *[0] * 11)]))
    connection.close()
    before = path.read_bytes()
    assert settled(path) == before
