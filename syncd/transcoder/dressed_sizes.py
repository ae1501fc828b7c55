"""How large dressed pressings are, kept: a small SQLite file beside the store's index.

A row tells, for a pressing or a carried master (audio hash, recipe) with a dress, how many bytes
the file on a card has. ``of_bytes`` is the size of what was dressed: where that is another now, the
row counts for nothing. A damaged file is thrown away; what it held is measured again.
"""

import contextlib
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from syncd.errors import SetupProblem
from syncd.model import AudioHash
from syncd.planner.card_state import Source
from syncd.transcoder.store import PressingKey

FORM = 1

_SCHEMA = """
CREATE TABLE IF NOT EXISTS dressed (
    audio_hash TEXT, recipe TEXT, dress TEXT, of_bytes INTEGER, bytes INTEGER,
    PRIMARY KEY (audio_hash, recipe, dress)
) WITHOUT ROWID;
"""


class DressedSizes:
    """What is known under *folder*, opened when it is first asked for or added to."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "dressed.db"
        self._lock = threading.RLock()

    def known(self, bytes_of: Callable[[PressingKey], int | None]) -> dict[Source, int]:
        """All sizes that hold where *bytes_of* tells how large a pressing or a master is now."""
        if not self.path.exists():
            return {}
        with self._opened() as db:
            rows = db.execute("SELECT * FROM dressed").fetchall()
        return {
            Source(audio, recipe, dress): size
            for audio, recipe, dress, of_bytes, size in rows
            if bytes_of((AudioHash(audio), recipe)) == of_bytes
        }

    def keep(self, sizes: Iterable[tuple[Source, int, int]]) -> None:
        """Remember *sizes*: source, bytes of what was dressed, bytes of the dressed file."""
        rows = [
            (source.audio, source.recipe, source.dress, of_bytes, size)
            for source, of_bytes, size in sizes
        ]
        if rows:
            with self._opened() as db:
                db.executemany("INSERT OR REPLACE INTO dressed VALUES (?, ?, ?, ?, ?)", rows)
                db.commit()

    @contextlib.contextmanager
    def _opened(self) -> Iterator[sqlite3.Connection]:
        with self._lock:
            try:
                db = self._connect()
                try:
                    yield db
                finally:
                    db.close()
            except sqlite3.Error as error:
                raise SetupProblem(
                    f"{self.path} cannot be used: {error}. Make room there and the folder "
                    "writable, and start again."
                ) from error

    def _connect(self) -> sqlite3.Connection:
        for last in (False, True):
            db = sqlite3.connect(self.path, timeout=30)
            try:
                (form,) = db.execute("PRAGMA user_version").fetchone()
                if form not in (0, FORM):
                    db.execute("DROP TABLE IF EXISTS dressed")
                db.execute(_SCHEMA)
                db.execute(f"PRAGMA user_version = {FORM}")
                return db
            except sqlite3.DatabaseError as error:
                db.close()
                if last or isinstance(error, sqlite3.OperationalError):
                    raise
                self.path.unlink(missing_ok=True)
        raise AssertionError("the second try returns or raises")
