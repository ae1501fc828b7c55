"""The index's tables, and how its file is opened, recognised, set aside and made anew."""

import contextlib
import os
import sqlite3
from pathlib import Path

from syncd.errors import SetupProblem

FORMAT = 3
APPLICATION_ID = 0x5359_4C42  # "SYLB"

SCHEMA = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE roots (path BLOB PRIMARY KEY, away INTEGER NOT NULL DEFAULT 0) WITHOUT ROWID;
-- A folder's stats stand packed in one value (MessagePack: name to [size, mtime_ns, inode]), since
-- a scan with nothing new reads all of them and nothing else: 8,000 rows instead of 100,000.
CREATE TABLE folders (
    id INTEGER PRIMARY KEY,
    path BLOB NOT NULL UNIQUE,
    stale INTEGER NOT NULL DEFAULT 1,  -- its album unit wants identifying again
    listing BLOB NOT NULL,
    cover BLOB, cover_stat BLOB, cover_hash TEXT
);
CREATE INDEX stale_folders ON folders (id) WHERE stale;
CREATE TABLE files (
    id INTEGER PRIMARY KEY,
    folder INTEGER NOT NULL REFERENCES folders,
    name BLOB NOT NULL,
    size INTEGER NOT NULL,
    reason TEXT,                       -- why it cannot be read, NULL when it can
    note TEXT,
    file_hash TEXT,
    track BLOB,                        -- Track in MessagePack without path and art; with a reason
                                       -- what was read before, NULL if it never was readable
    art_hash TEXT,                     -- of the embedded picture
    identity BLOB,                     -- MessagePack, without the movement: equal ones are shared
    movement_number INTEGER, movement_title TEXT,
    UNIQUE (folder, name)
);
CREATE INDEX unreadable_files ON files (folder) WHERE reason IS NOT NULL;
CREATE INDEX noted_files ON files (folder) WHERE note IS NOT NULL;
CREATE TABLE tags (id INTEGER PRIMARY KEY REFERENCES files ON DELETE CASCADE, json BLOB NOT NULL);
"""

SHEETS = """
-- The .cue files of a folder as its listing has the audio files, NULL where there are none.
ALTER TABLE folders ADD COLUMN sheets BLOB;
CREATE TABLE sheets (
    folder INTEGER NOT NULL REFERENCES folders ON DELETE CASCADE,
    name BLOB NOT NULL,
    text TEXT,                         -- NULL when it cannot be read, note says why
    note TEXT,
    PRIMARY KEY (folder, name)
) WITHOUT ROWID;
CREATE TABLE embedded_sheets (
    id INTEGER PRIMARY KEY REFERENCES files ON DELETE CASCADE, json BLOB NOT NULL
);
-- A file with rows here is not a track itself; its track and tags say what is true of the whole.
CREATE TABLE spans (
    file INTEGER NOT NULL REFERENCES files ON DELETE CASCADE,
    number INTEGER NOT NULL,
    track BLOB NOT NULL, tags BLOB NOT NULL,
    identity BLOB, movement_number INTEGER, movement_title TEXT,
    PRIMARY KEY (file, number)
) WITHOUT ROWID;
CREATE TABLE sheet_notes (             -- about a sheet, or about a file that a sheet is for
    folder INTEGER NOT NULL REFERENCES folders ON DELETE CASCADE,
    name BLOB NOT NULL,
    note TEXT NOT NULL,
    PRIMARY KEY (folder, name)
) WITHOUT ROWID;
"""

REREAD = """
-- More kinds of files are read now: folders with refused ones are looked through as if new (an
-- empty listing in MessagePack). What was read before keeps its row until it is read again.
UPDATE folders SET listing = X'80'
    WHERE id IN (SELECT folder FROM files WHERE reason IS NOT NULL);
"""

_STEPS = {0: SCHEMA, 1: SHEETS, 2: REREAD}
"""What takes a file of each format to the next one."""


def open_database(path: Path) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    """Open the index at *path*, made or remade where needed; the notices say what was remade.

    Raises SetupProblem for an index of a newer syncd, a foreign file, or one that cannot be opened.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupProblem(
            f"The folder {path.parent} for the library index cannot be made ({error.strerror}); "
            "choose another home with --home or SYNCD_HOME."
        ) from error
    try:
        return _open(path), ()
    except sqlite3.OperationalError as error:
        raise cannot_open(path, error) from error
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
        kept = set_aside(path)
        notice = (
            f"The library index {path} was damaged ({error}). It is kept as {kept.name}, and a new "
            "one is made: the next scan reads every file again."
        )
        return _open(path), (notice,)


def is_damage(error: Exception) -> bool:
    """Whether *error* means that the file's content is broken.

    SQLite's "malformed" and "not a database" come as DatabaseError itself; its subclasses are
    mistakes in the use of a file that is sound, which must never be set aside for them.
    """
    return type(error) is sqlite3.DatabaseError or not isinstance(error, sqlite3.Error)


def cannot_open(path: Path, error: sqlite3.Error) -> SetupProblem:
    """The sentence for an index that the system does not let us use."""
    return SetupProblem(
        f"The library index {path} cannot be used ({error}); see whether its folder can be "
        "written to, has room, and no other syncd is at work."
    )


def _open(path: Path) -> sqlite3.Connection:
    database = sqlite3.connect(path, timeout=30, isolation_level=None)
    try:
        database.execute("PRAGMA foreign_keys=ON")
        (version,) = database.execute("PRAGMA user_version").fetchone()
        (owner,) = database.execute("PRAGMA application_id").fetchone()
        (tables,) = database.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        if version > FORMAT:
            raise SetupProblem(
                f"The library index {path} is of format {version}, made by a newer syncd; this one "
                f"reads up to {FORMAT}. Update syncd, or move the file away to have it made anew."
            )
        if tables and owner != APPLICATION_ID:
            raise SetupProblem(
                f"{path} is a database, but not a library index of syncd; move it away, or choose "
                "another home with --home or SYNCD_HOME."
            )
        database.execute("PRAGMA journal_mode=WAL")
        for step in range(version if tables else 0, FORMAT):
            database.executescript(
                f"BEGIN;{_STEPS[step]}PRAGMA user_version={step + 1};"
                f"PRAGMA application_id={APPLICATION_ID};COMMIT;"
            )
        database.execute("PRAGMA synchronous=NORMAL")
        database.execute("SELECT count(*) FROM roots, meta").fetchone()
    except BaseException:
        database.close()
        raise
    return database


def set_aside(path: Path) -> Path:
    """Rename the index and what SQLite keeps beside it; returns the new name of the index."""
    number = 1
    while path.with_name(f"{path.name}.damaged-{number}").exists():
        number += 1
    kept = path.with_name(f"{path.name}.damaged-{number}")
    for suffix in ("-wal", "-shm"):
        beside = path.with_name(path.name + suffix)
        with contextlib.suppress(FileNotFoundError):
            beside.rename(kept.with_name(kept.name + suffix))
    path.rename(kept)
    return kept


def roots_file(path: Path) -> Path:
    """The file beside the index that repeats the roots, so that a rebuilt index still has them."""
    return path.with_suffix(".roots")


def write_roots(path: Path, roots: list[bytes]) -> None:
    """Keep *roots* beside the index at *path*, separated by NUL, the one byte no path holds."""
    target = roots_file(path)
    scratch = target.with_name(target.name + ".new")
    scratch.write_bytes(b"\0".join(roots))
    os.replace(scratch, target)  # noqa: PTH105


def read_roots(path: Path) -> list[bytes]:
    """The roots kept beside the index at *path*."""
    try:
        raw = roots_file(path).read_bytes()
    except OSError:
        return []
    return [root for root in raw.split(b"\0") if root.startswith(b"/")]
