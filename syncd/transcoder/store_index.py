"""The store's index: a quick way to find its pressings, and the little that names do not say.

That is when each was last used and what made it. All else is in the files' names, from which a
damaged or lost index is rebuilt.
"""

import contextlib
import itertools
import sqlite3
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from syncd.errors import SetupProblem
from syncd.model import AudioHash
from syncd.transcoder.store_files import Named, pressings_in

INDEX_FORMAT = 2

PressingKey = tuple[AudioHash, str]
"""Audio hash and recipe key: what a pressing is made from, and how."""

_SCHEMA = """
CREATE TABLE IF NOT EXISTS pressings (
    audio_hash TEXT NOT NULL,
    recipe TEXT NOT NULL,
    hash TEXT NOT NULL,
    suffix TEXT NOT NULL,
    size INTEGER NOT NULL,
    used REAL NOT NULL,
    made_by TEXT NOT NULL DEFAULT '',  -- version of the encoder; empty: not known
    PRIMARY KEY (audio_hash, recipe)
) WITHOUT ROWID;
"""
_COLUMNS = "audio_hash, recipe, hash, suffix, size, used, made_by"


@dataclass(frozen=True, slots=True)
class Row:
    """A pressing as the index has it."""

    name: Named
    size: int
    used: float
    made_by: str = ""

    @property
    def key(self) -> PressingKey:
        """What it is kept under."""
        return self.name.audio_hash, self.name.recipe


class StoreIndex:
    """The index of the store at *folder*. May be used from several threads and processes.

    *notices* gets a sentence when a damaged one was set aside. Raises SetupProblem when it cannot
    be used, now or later.
    """

    def __init__(self, folder: Path, notices: list[str]) -> None:
        self._folder = folder
        self._notices = notices
        self._lock = threading.RLock()
        self._db = self._open()

    @contextlib.contextmanager
    def guard(self) -> Iterator[None]:
        """The index for one thread alone; what it fails with is told as a sentence."""
        with self._lock:
            try:
                yield
            except sqlite3.Error as error:
                raise SetupProblem(
                    f"The index of the store {self._folder} fails: {error}. Make room there and "
                    "start again; if it is damaged, it is rebuilt then."
                ) from error

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._db.close()

    def row(self, key: PressingKey) -> Row | None:
        """The row of *key*."""
        with self.guard():
            found = self._db.execute(
                f"SELECT {_COLUMNS} FROM pressings WHERE audio_hash = ? AND recipe = ?", key
            ).fetchone()
        return None if found is None else _row(found)

    def rows(self) -> list[Row]:
        """All rows, those that were not used for longest first."""
        with self.guard():
            found = self._db.execute(
                f"SELECT {_COLUMNS} FROM pressings ORDER BY used, audio_hash, recipe"
            ).fetchall()
        return [_row(values) for values in found]

    def sizes(self) -> dict[PressingKey, int]:
        """Size in bytes of every pressing (one query)."""
        with self.guard():
            rows = self._db.execute("SELECT audio_hash, recipe, size FROM pressings")
            return {(AudioHash(audio), recipe): size for audio, recipe, size in rows}

    def put(self, rows: Iterable[Row]) -> None:
        """Write *rows*, in place of what is there."""
        with self.guard():
            self._write(self._db, rows)

    def forget(self, key: PressingKey) -> None:
        """Drop the row of *key*."""
        with self.guard():
            self._db.execute("DELETE FROM pressings WHERE audio_hash = ? AND recipe = ?", key)
            self._db.commit()

    def write_used(self, used: dict[PressingKey, float]) -> None:
        """Note when pressings were last used."""
        if not used:
            return
        with self.guard():
            self._db.executemany(
                "UPDATE pressings SET used = ? WHERE audio_hash = ? AND recipe = ?",
                [(when, audio, recipe) for (audio, recipe), when in used.items()],
            )
            self._db.commit()

    def _write(self, db: sqlite3.Connection, rows: Iterable[Row]) -> None:
        db.executemany(
            f"INSERT OR REPLACE INTO pressings ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)",
            [
                (
                    row.name.audio_hash, row.name.recipe, row.name.hash, row.name.suffix,
                    row.size, row.used, row.made_by,
                )
                for row in rows
            ],
        )  # fmt: skip
        db.commit()

    def _open(self) -> sqlite3.Connection:
        path = self._folder / "store.db"
        try:
            return self._connect(path)
        except sqlite3.DatabaseError as error:
            self._set_aside(path, error)
        try:
            db = self._connect(path)
        except sqlite3.DatabaseError as error:
            raise SetupProblem(
                f"The index of the store, {path}, cannot be made: {error}. "
                "Make room and the folder writable, or name another one in the settings."
            ) from error
        self._rebuild(db)
        return db

    def _connect(self, path: Path) -> sqlite3.Connection:
        fresh = not path.exists()
        db = sqlite3.connect(path, timeout=30, check_same_thread=False)
        try:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("PRAGMA synchronous = NORMAL")
            version = db.execute("PRAGMA user_version").fetchone()[0]
            if version > INDEX_FORMAT:
                raise SetupProblem(
                    f"The store {self._folder} was written by a newer syncd (index format "
                    f"{version}, this one knows {INDEX_FORMAT}). Use that one, or another folder."
                )
            if version != INDEX_FORMAT:
                _upgrade(db)
            db.execute("SELECT count(used) FROM pressings").fetchone()
            if fresh:
                self._rebuild(db)
        except BaseException:
            db.close()
            raise
        return db

    def _set_aside(self, path: Path, error: sqlite3.DatabaseError) -> None:
        number = next(n for n in itertools.count(1) if not Path(f"{path}.damaged-{n}").exists())
        path.replace(f"{path}.damaged-{number}")
        for side in ("-wal", "-shm"):
            Path(f"{path}{side}").unlink(missing_ok=True)
        self._notices.append(
            f"The index of the store was damaged ({error}); it was set aside as "
            f"{path.name}.damaged-{number} and rebuilt from the pressings, none of which is lost."
        )

    def _rebuild(self, db: sqlite3.Connection) -> None:
        rows = []
        for path, name in pressings_in(self._folder):
            stat = path.stat()
            rows.append(Row(name, stat.st_size, stat.st_mtime))
        self._write(db, rows)


def _upgrade(db: sqlite3.Connection) -> None:
    """Bring the index to the present format, by one process if two open it at once."""
    db.execute("BEGIN IMMEDIATE")
    db.execute(_SCHEMA)
    columns = {name for _, name, *_ in db.execute("PRAGMA table_info(pressings)")}
    if "made_by" not in columns:
        db.execute("ALTER TABLE pressings ADD COLUMN made_by TEXT NOT NULL DEFAULT ''")
    db.execute(f"PRAGMA user_version = {INDEX_FORMAT}")
    db.commit()


def _row(values: tuple[str, str, str, str, int, float, str]) -> Row:
    audio, recipe, digest, suffix, size, used, made_by = values
    return Row(Named(AudioHash(audio), recipe, digest, suffix), size, used, made_by)
