"""What was measured of loudness, kept: a small SQLite file beside the store's index.

Step energies of each track (6 kB a minute) under its audio and what was done to it, and the
loudness of every row of tracks that was asked for, so that a plan seldom needs the energies. A
damaged file is set aside; what it held is measured again. It is a file of its own, so that what
befalls the store's index does not cost hours of decoding, nor the other way round.
"""

import contextlib
import itertools
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import xxhash

from syncd.errors import SetupProblem
from syncd.planner.gain import Heard, LevelKey

if TYPE_CHECKING:
    from syncd.transcoder.loudness import Measurement

FORM = 2
"""Of the file and of the way of measuring: another one's content is measured again.

Form 1 measured what exceeds full scale after it was clipped.
"""

LIMIT_BYTES = 1 << 30
"""Of step energies, about 3000 hours of music. What was not used for longest goes first; the
loudness that was found from it stays."""

_SCHEMA = """
CREATE TABLE IF NOT EXISTS steps (
    audio_hash TEXT NOT NULL,
    done TEXT NOT NULL,
    data BLOB NOT NULL,
    used REAL NOT NULL,
    PRIMARY KEY (audio_hash, done)
);
CREATE TABLE IF NOT EXISTS heard (
    row TEXT PRIMARY KEY,
    lufs REAL,
    sample_peak REAL NOT NULL,
    true_peak REAL NOT NULL
) WITHOUT ROWID;
"""


class Measurements:
    """The measurements under *folder*. May be used from several threads.

    *notices* gets a sentence when a damaged file was set aside. Raises SetupProblem when the file
    cannot be used.
    """

    def __init__(
        self, folder: Path, notices: list[str], clock: Callable[[], float] = time.time
    ) -> None:
        self.path = folder / "loudness.db"
        self._clock = clock
        self._lock = threading.RLock()
        self._heard: dict[str, Heard] = {}
        try:
            self._db = self._connect()
        except sqlite3.DatabaseError as error:
            self._set_aside(error, notices)
            with self._index():
                self._db = self._connect()
        with self._index():
            for row, lufs, sample, true in self._db.execute("SELECT * FROM heard"):
                self._heard[row] = Heard(lufs, sample, true)

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._db.close()

    def known(self, key: LevelKey) -> bool:
        """Whether the step energies of *key* are at hand."""
        with self._index():
            found = self._db.execute(
                "SELECT 1 FROM steps WHERE audio_hash = ? AND done = ?", key
            ).fetchone()
            return found is not None

    def keep(self, key: LevelKey, measured: "Measurement") -> None:
        """Remember *measured*. Raises SetupProblem when the disk is full or fails."""
        heard = _heard([measured])
        with self._index():
            self._db.execute(
                "INSERT OR REPLACE INTO steps VALUES (?, ?, ?, ?)",
                (*key, measured.to_bytes(), self._clock()),
            )
            self._remember(_row((key,)), heard)

    def of(self, keys: tuple[LevelKey, ...]) -> Heard | None:
        """What *keys* one after the other sound like; None while one of them is not measured."""
        row = _row(keys)
        heard = self._heard.get(row)
        if heard is not None:
            return heard
        from syncd.transcoder.loudness import Measurement

        parts = []
        with self._index():
            for key in keys:
                found = self._db.execute(
                    "SELECT data FROM steps WHERE audio_hash = ? AND done = ?", key
                ).fetchone()
                if found is None:
                    return None
                measured = Measurement.from_bytes(found[0])
                if measured is None:  # no form of ours: it is measured again
                    self._db.execute("DELETE FROM steps WHERE audio_hash = ? AND done = ?", key)
                    self._db.commit()
                    return None
                parts.append(measured)
            heard = _heard(parts)
            now = self._clock()
            self._db.executemany(
                "UPDATE steps SET used = ? WHERE audio_hash = ? AND done = ?",
                [(now, *key) for key in keys],
            )
            self._remember(row, heard)
        return heard

    def trim(self, limit_bytes: int = LIMIT_BYTES) -> int:
        """Forget step energies until they fit in *limit_bytes*, oldest use first; how many."""
        with self._index():
            total = self._db.execute("SELECT coalesce(sum(length(data)), 0) FROM steps").fetchone()[
                0
            ]
            if total <= limit_bytes:
                return 0
            going = []
            for audio, done, size in self._db.execute(
                "SELECT audio_hash, done, length(data) FROM steps ORDER BY used, audio_hash, done"
            ):
                if total <= limit_bytes:
                    break
                going.append((audio, done))
                total -= size
            self._db.executemany("DELETE FROM steps WHERE audio_hash = ? AND done = ?", going)
            self._db.commit()
            return len(going)

    # -- inside ---------------------------------------------------------------------------------

    def _remember(self, row: str, heard: Heard) -> None:
        self._heard[row] = heard
        self._db.execute(
            "INSERT OR REPLACE INTO heard VALUES (?, ?, ?, ?)",
            (row, heard.lufs, heard.sample_peak, heard.true_peak),
        )
        self._db.commit()

    @contextlib.contextmanager
    def _index(self) -> Iterator[None]:
        with self._lock:
            try:
                yield
            except sqlite3.Error as error:
                raise SetupProblem(
                    f"What was measured of loudness, {self.path}, cannot be read or kept: {error}. "
                    "Make room there, or remove that file; it is measured again then."
                ) from error

    def _connect(self) -> sqlite3.Connection:
        db = sqlite3.connect(self.path, timeout=30, check_same_thread=False)
        try:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("PRAGMA synchronous = NORMAL")
            form = db.execute("PRAGMA user_version").fetchone()[0]
            if form not in (0, FORM):
                db.executescript("DROP TABLE IF EXISTS steps; DROP TABLE IF EXISTS heard;")
            db.executescript(_SCHEMA)
            db.execute(f"PRAGMA user_version = {FORM}")
            db.execute("SELECT count(true_peak) FROM heard").fetchone()
            db.execute("SELECT count(used) FROM steps").fetchone()
        except BaseException:
            db.close()
            raise
        return db

    def _set_aside(self, error: sqlite3.DatabaseError, notices: list[str]) -> None:
        number = next(n for n in itertools.count(1) if not _aside(self.path, n).exists())
        with contextlib.suppress(OSError):
            self.path.replace(_aside(self.path, number))
        for side in ("-wal", "-shm"):
            Path(f"{self.path}{side}").unlink(missing_ok=True)
        notices.append(
            f"What was measured of loudness was damaged ({error}); it was set aside as "
            f"{_aside(self.path, number).name} and is measured again."
        )


def _aside(path: Path, number: int) -> Path:
    return path.with_name(f"{path.name}.damaged-{number}")


def _row(keys: tuple[LevelKey, ...]) -> str:
    text = "\n".join(f"{audio} {done}" for audio, done in keys)
    return str(xxhash.xxh3_128_hexdigest(text.encode()))


def _heard(parts: "list[Measurement]") -> Heard:
    from syncd.transcoder.loudness import joined

    found = joined(parts, dual_mono=True)
    return Heard(found.lufs, found.sample_peak, found.true_peak)
