"""What was found about the soundness of audio, kept: a small SQLite file beside the store's index.

One row for each audio hash that was decoded to its end: sound, or what is damaged and where. So
nothing is decoded twice to be checked, whatever its tags and its place, and a damaged file stays
out of every plan until it is replaced. A damaged database is set aside; what it held is checked
again.
"""

import contextlib
import itertools
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

from syncd.errors import SetupProblem
from syncd.library.damage import Damage
from syncd.model import AudioHash

FORM = 1
"""Of the file and of the way of checking: what another one found is checked again."""

_SCHEMA = """
CREATE TABLE IF NOT EXISTS checked (
    audio_hash TEXT PRIMARY KEY,
    words TEXT,      -- what is damaged; NULL: sound
    at_s REAL        -- where in the file, if that is known
) WITHOUT ROWID;
"""


class Checks:
    """What is known under *folder*. May be used from several threads and processes.

    *notices* gets a sentence when a damaged file was set aside. Raises SetupProblem when the file
    cannot be used.
    """

    def __init__(self, folder: Path, notices: list[str]) -> None:
        self.path = folder / "checks.db"
        self._lock = threading.RLock()
        try:
            self._db = self._connect()
        except sqlite3.DatabaseError as error:
            if isinstance(error, sqlite3.OperationalError):
                raise self._problem(error) from error
            self._set_aside(error, notices)
            with self._guard():
                self._db = self._connect()

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._db.close()

    def known(self, audio_hash: AudioHash) -> bool:
        """Whether *audio_hash* was checked already."""
        with self._guard():
            row = self._db.execute("SELECT 1 FROM checked WHERE audio_hash = ?", (audio_hash,))
            return row.fetchone() is not None

    def damage(self, audio_hash: AudioHash) -> Damage | None:
        """What is known to be damaged in *audio_hash*."""
        with self._guard():
            row = self._db.execute(
                "SELECT words, at_s FROM checked WHERE audio_hash = ? AND words IS NOT NULL",
                (audio_hash,),
            ).fetchone()
        return None if row is None else Damage(*row)

    def damaged(self) -> dict[AudioHash, Damage]:
        """All that is known to be damaged."""
        with self._guard():
            rows = self._db.execute("SELECT * FROM checked WHERE words IS NOT NULL").fetchall()
        return {AudioHash(audio): Damage(words, at_s) for audio, words, at_s in rows}

    def keep(self, audio_hash: AudioHash, damage: Damage | None) -> None:
        """Remember that *audio_hash* is sound, or its *damage*."""
        words, at_s = (None, None) if damage is None else (damage.words, damage.at_s)
        with self._guard():
            self._db.execute(
                "INSERT OR REPLACE INTO checked VALUES (?, ?, ?)", (audio_hash, words, at_s)
            )
            self._db.commit()

    def forget(self) -> None:
        """Have everything checked again."""
        with self._guard():
            self._db.execute("DELETE FROM checked")
            self._db.commit()

    def _connect(self) -> sqlite3.Connection:
        db = sqlite3.connect(self.path, timeout=30, check_same_thread=False)
        try:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("PRAGMA synchronous = NORMAL")
            (form,) = db.execute("PRAGMA user_version").fetchone()
            if form not in (0, FORM):
                db.execute("DROP TABLE IF EXISTS checked")
            db.executescript(_SCHEMA)
            db.execute(f"PRAGMA user_version = {FORM}")
            db.execute("SELECT count(words) FROM checked").fetchone()
            db.commit()
        except BaseException:
            db.close()
            raise
        return db

    def _set_aside(self, error: sqlite3.Error, notices: list[str]) -> None:
        number = next(n for n in itertools.count(1) if not self._aside(n).exists())
        self.path.replace(self._aside(number))
        for side in ("-wal", "-shm"):
            Path(f"{self.path}{side}").unlink(missing_ok=True)
        notices.append(
            f"What was known of damaged files could not be read ({error}); it was set aside as "
            f"{self._aside(number).name}, and files are checked again."
        )

    def _aside(self, number: int) -> Path:
        return self.path.with_name(f"{self.path.name}.damaged-{number}")

    @contextlib.contextmanager
    def _guard(self) -> Iterator[None]:
        with self._lock:
            try:
                yield
            except sqlite3.Error as error:
                raise self._problem(error) from error

    def _problem(self, error: sqlite3.Error) -> SetupProblem:
        return SetupProblem(
            f"{self.path} cannot be used: {error}. Make room there and the folder writable, and "
            "start again."
        )
