"""The catalogue file: a SQLite database, built at home from what will be on the card.

``schema.sql`` is what a player may rely on. What is inside the file is ``arrange``'s; putting it on
a card is the applier's, which also syncs it: here nothing is made durable.

The file is written once, in key order, in one transaction, so it has no free pages; then the ends
of some inner pages are moved (``page_ends``). Equal entries give equal bytes with one version of
SQLite (the header names the version). Properties that a player may rely on, all in the header
(SQLite file format): page size 1024; rollback journal, not WAL; UTF-8; no auto-vacuum;
``application_id`` and ``user_version`` as below.
"""

import sqlite3
from collections.abc import Iterable
from importlib import resources
from itertools import chain
from pathlib import Path

from syncd.catalogue.arrange import arrange
from syncd.catalogue.belonging import CatalogueEntry
from syncd.catalogue.contract import APPLICATION_ID, FORM, PAGE_BYTES, TRACKS
from syncd.catalogue.labels import Charset
from syncd.catalogue.page_ends import settle
from syncd.catalogue.rows import Rows
from syncd.errors import SetupProblem

TOGETHER = 16
"""Rows that one statement inserts, which takes a fifth less time than one by one."""

PARENT = TRACKS.columns.index("parent") - 1
"""Its place in a row of tracks, where the id is left out."""

__all__ = ["APPLICATION_ID", "FORM", "PAGE_BYTES", "CatalogueEntry", "build"]


def build(entries: Iterable[CatalogueEntry], target: Path, charset: Charset = "unicode") -> None:
    """Write the catalogue of *entries* to *target*, replacing what was there.

    *charset* "ascii" transliterates what is shown (not the paths). The file is not synced. Raises
    SetupProblem when it cannot be written; nothing is left at *target* then.
    """
    rows = arrange(entries, charset)
    try:
        target.unlink(missing_ok=True)
        connection = sqlite3.connect(target, isolation_level=None)
        try:
            _write(connection, rows)
            root = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name='tracks'")
            (page,) = root.fetchone()
        finally:
            connection.close()
        with target.open("r+b") as file:
            settle(file, page, [int(row[PARENT] or 0) for row in rows.tracks])
    except (OSError, sqlite3.Error) as error:
        target.unlink(missing_ok=True)
        raise SetupProblem(
            f"The catalogue cannot be built in {target}: {error}. "
            "Check that the folder can be written and that the disk is not full."
        ) from error


def _write(connection: sqlite3.Connection, rows: Rows) -> None:
    run = connection.execute
    run(f"PRAGMA page_size = {PAGE_BYTES}")
    run("PRAGMA encoding = 'UTF-8'")
    run("PRAGMA auto_vacuum = NONE")
    run("PRAGMA journal_mode = OFF")
    run("PRAGMA synchronous = OFF")
    run("PRAGMA locking_mode = EXCLUSIVE")
    run("PRAGMA cache_size = -16384")
    run(f"PRAGMA application_id = {APPLICATION_ID}")
    run(f"PRAGMA user_version = {FORM}")
    run("BEGIN")
    schema = resources.files("syncd.catalogue").joinpath("schema.sql").read_text("utf-8")
    for statement in _statements(schema):
        run(statement)
    for table, first, content in rows.runs():
        if content:
            insert = f"INSERT INTO {table} VALUES"
            places = ",".join("?" * len(content[0]))
            run(f"{insert} ({first},{places})", content[0])
            # NULL is the id after the highest: so it must be, since ids have no gaps.
            row = f"(NULL,{places})"
            rest = len(content) - (len(content) - 1) % TOGETHER
            connection.executemany(
                f"{insert} {','.join([row] * TOGETHER)}",
                (
                    list(chain.from_iterable(content[at : at + TOGETHER]))
                    for at in range(1, rest, TOGETHER)
                ),
            )
            connection.executemany(f"{insert} {row}", content[rest:])
    run("COMMIT")


def _statements(script: str) -> list[str]:
    """The statements of *script* without comments: the stored schema is what players must parse."""
    bare = "\n".join(line.split("--")[0].rstrip() for line in script.splitlines())
    return [
        " ".join(statement.split())
        .replace("( ", "(")
        .replace(" )", ")")
        .replace(", ", ",")
        .replace(" (", "(")
        for statement in bare.split(";")
        if statement.strip()
    ]
