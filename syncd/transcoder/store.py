"""The store: pressings kept at home, so that the same audio is never encoded twice.

A pressing is kept bare (without tags) in a file whose name says all that the index knows of it:
audio hash, recipe, hash of the bytes. The index is therefore only a quick way to find things; a
damaged one is set aside and rebuilt from the names. A file gets its name only when it is complete
and on the disk, so two writers or a kill at any instant leave whole pressings and leftovers that
are recognised by name and swept.

Scaled cover pictures and measurements of loudness are kept here too. What is made, and how, is the
callers' affair.
"""

import contextlib
import itertools
import os
import re
import sqlite3
import threading
import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import xxhash

from syncd.errors import SetupProblem
from syncd.model import AudioHash, ContentHash
from syncd.transcoder.checks import Checks
from syncd.transcoder.measurements import Measurements

INDEX_FORMAT = 1
_CHUNK = 1 << 20
_NAME = re.compile(
    r"(?P<audio>[0-9a-f]{32})_(?P<recipe>[A-Za-z0-9-]+)_(?P<hash>[0-9a-f]{32})(?P<suffix>\.\w+)"
)
_LEFTOVER = re.compile(r"part-(?P<pid>\d+)-(?P<boot>[0-9a-f]+)-\d+.*")
_LEFTOVER_AGE_S = 24 * 3600
_counter = itertools.count()

_SCHEMA = """
CREATE TABLE IF NOT EXISTS pressings (
    audio_hash TEXT NOT NULL,
    recipe TEXT NOT NULL,
    hash TEXT NOT NULL,
    suffix TEXT NOT NULL,
    size INTEGER NOT NULL,
    used REAL NOT NULL,
    PRIMARY KEY (audio_hash, recipe)
) WITHOUT ROWID;
"""

PressingKey = tuple[AudioHash, str]
"""Audio hash and recipe key: what a pressing is made from, and how."""


@dataclass(frozen=True, slots=True)
class Pressing:
    """A playable file without tags: in the store, or (``carried``) the master itself.

    ``hash`` is that of its bytes, None for a carried one (the library index knows it).
    """

    audio_hash: AudioHash
    recipe_key: str
    path: Path
    size_bytes: int
    hash: ContentHash | None
    carried: bool = False

    @property
    def key(self) -> PressingKey:
        """What it is kept under."""
        return self.audio_hash, self.recipe_key


@dataclass(frozen=True, slots=True)
class StoreSize:
    """What the store holds."""

    pressings: int
    pressing_bytes: int
    pictures: int
    picture_bytes: int


@dataclass(frozen=True, slots=True)
class Trimmed:
    """What a trim took out."""

    removed: int
    bytes_removed: int
    bytes_left: int


class Store:
    """The pressings under *folder*. A context manager; may be used from several threads.

    ``notices`` tells, in sentences, what was found damaged and set aside. Raises SetupProblem
    when the folder cannot be used.
    """

    def __init__(self, folder: Path, clock: Callable[[], float] = time.time) -> None:
        self.folder = folder
        self.notices: list[str] = []
        self._clock = clock
        self._lock = threading.RLock()
        self._used: dict[PressingKey, float] = {}
        self._boot = f"{int(time.time() * 1000):x}"
        try:
            for part in ("pressings", "art", "parts", "damaged"):
                (folder / part).mkdir(parents=True, exist_ok=True)
            self._sweep()
        except OSError as error:
            raise SetupProblem(
                f"The store {folder} cannot be used: {error.strerror}. "
                "Make the folder writable, or name another one in the settings."
            ) from error
        self._db = self._open_index()
        self._measurements: Measurements | None = None
        self._checks: Checks | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Write down what was used, and close the index."""
        with self._index():
            self._write_used()
            self._db.close()
            if self._measurements is not None:
                self._measurements.close()
            if self._checks is not None:
                self._checks.close()

    def measurements(self) -> Measurements:
        """What is known of loudness, opened when first asked for. Raises SetupProblem."""
        with self._lock:
            if self._measurements is None:
                self._measurements = Measurements(self.folder, self.notices, self._clock)
            return self._measurements

    def checks(self) -> Checks:
        """What is known of damaged masters, opened when first asked for. Raises SetupProblem."""
        with self._lock:
            if self._checks is None:
                self._checks = Checks(self.folder, self.notices)
            return self._checks

    # -- pressings ------------------------------------------------------------------------------

    def get(self, audio_hash: AudioHash, recipe_key: str) -> Pressing | None:
        """The pressing of *audio_hash* by *recipe_key*, or None when it has to be made.

        Its size is compared, its bytes are not: see ``syncd.transcoder.dress`` and :meth:`verify`.
        """
        with self._index():
            row = self._db.execute(
                "SELECT hash, suffix, size FROM pressings WHERE audio_hash = ? AND recipe = ?",
                (audio_hash, recipe_key),
            ).fetchone()
            if row is None:
                return self._adopt(audio_hash, recipe_key)
            path = self._place(audio_hash, recipe_key, row[0], row[1])
            if _size(path) != row[2]:
                self._forget(audio_hash, recipe_key)
                if path.exists():
                    self._move_aside(path, "has another length than it was written with")
                return None
            self._used[(audio_hash, recipe_key)] = self._clock()
            return Pressing(audio_hash, recipe_key, path, row[2], ContentHash(row[0]))

    def part(self, suffix: str) -> Path:
        """A new name for a file being made, on the same volume as the store."""
        name = f"part-{os.getpid()}-{self._boot}-{next(_counter)}{suffix}"
        return self.folder / "parts" / name

    def put(self, audio_hash: AudioHash, recipe_key: str, part: Path) -> Pressing:
        """Take the finished file *part* (from :meth:`part`) into the store.

        Raises SetupProblem when the disk is full or fails; the part is removed then.
        """
        try:
            digest, size = _hash_and_sync(part)
            path = self._place(audio_hash, recipe_key, digest, part.suffix)
            path.parent.mkdir(exist_ok=True)
            part.replace(path)
            _sync_folder(path.parent)
        except OSError as error:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise SetupProblem(
                f"A pressing cannot be kept in the store {self.folder}: {error.strerror}. "
                "Make room there (syncd store trims it), then go on."
            ) from error
        with self._index():
            before = self._db.execute(
                "SELECT hash, suffix FROM pressings WHERE audio_hash = ? AND recipe = ?",
                (audio_hash, recipe_key),
            ).fetchone()
            self._write_row(audio_hash, recipe_key, digest, part.suffix, size, self._clock())
            self._db.commit()
            if before is not None and before != (digest, part.suffix):
                self._place(audio_hash, recipe_key, *before).unlink(missing_ok=True)
        return Pressing(audio_hash, recipe_key, path, size, ContentHash(digest))

    def verify(self, pressing: Pressing) -> bool:
        """Read every byte of *pressing* and compare; a damaged one is set aside (then False)."""
        try:
            if pressing.hash is None or _hash(pressing.path) == pressing.hash:
                return True
        except OSError:
            pass
        self.set_aside(pressing)
        return False

    def set_aside(self, pressing: Pressing) -> None:
        """Take a damaged *pressing* out, so that it is made again; the file is kept to look at."""
        with self._index():
            self._forget(pressing.audio_hash, pressing.recipe_key)
            if not pressing.carried and pressing.path.exists():
                self._move_aside(pressing.path, "no longer has the bytes it was written with")

    def sizes(self) -> dict[PressingKey, int]:
        """Size in bytes of every pressing, as the index has it (one query)."""
        with self._index():
            rows = self._db.execute("SELECT audio_hash, recipe, size FROM pressings")
            return {(AudioHash(audio), recipe): size for audio, recipe, size in rows}

    def last_used(self) -> dict[PressingKey, float]:
        """When each pressing was last used, in seconds since 1970."""
        with self._index():
            self._write_used()
            rows = self._db.execute("SELECT audio_hash, recipe, used FROM pressings")
            return {(AudioHash(audio), recipe): used for audio, recipe, used in rows}

    def size(self) -> StoreSize:
        """What the store holds."""
        with self._index():
            count, total = self._db.execute(
                "SELECT count(*), coalesce(sum(size), 0) FROM pressings"
            ).fetchone()
        pictures = [path.stat().st_size for path in _files(self.folder / "art")]
        return StoreSize(count, total, len(pictures), sum(pictures))

    def trim(self, limit_bytes: int, keep: Collection[PressingKey] = ()) -> Trimmed:
        """Remove pressings until the store fits in *limit_bytes*, oldest use first.

        None of *keep* is removed, even if the limit is not reached then. Pictures count, but
        only go when no pressing is left to go: they are small, and dear to make again.
        """
        kept = frozenset(keep)
        with self._index():
            self._write_used()
            now = self.size()
            total = now.pressing_bytes + now.picture_bytes
            removed = freed = 0
            rows = self._db.execute(
                "SELECT audio_hash, recipe, hash, suffix, size FROM pressings"
                " ORDER BY used, audio_hash, recipe"
            ).fetchall()
            for audio, recipe, digest, suffix, size in rows:
                if total - freed <= limit_bytes:
                    break
                if (audio, recipe) in kept:
                    continue
                # Row first: a kill in between leaves a whole file that get() adopts again.
                self._forget(AudioHash(audio), recipe)
                self._place(audio, recipe, digest, suffix).unlink(missing_ok=True)
                removed, freed = removed + 1, freed + size
            if total - freed > limit_bytes and not kept:
                for path in sorted(_files(self.folder / "art")):
                    freed += path.stat().st_size
                    path.unlink(missing_ok=True)
            return Trimmed(removed, freed, total - freed)

    # -- pictures -------------------------------------------------------------------------------

    def art(
        self, art_hash: ContentHash, form: str, maker: Callable[[], bytes | None]
    ) -> bytes | None:
        """The picture *art_hash* in *form*, made by *maker* the first time.

        *form* names what is made of it, with a suffix ("240.jpg").

        None when *maker* finds the picture unusable; that is remembered as well.
        """
        path = self.folder / "art" / art_hash[:2] / f"{art_hash}_{form}"
        with contextlib.suppress(FileNotFoundError):
            return path.read_bytes() or None
        made = maker()
        part = self.part(".jpg")
        try:
            part.write_bytes(made or b"")
            _hash_and_sync(part)
            path.parent.mkdir(exist_ok=True)
            part.replace(path)
        except OSError as error:
            raise SetupProblem(
                f"A picture cannot be kept in the store {self.folder}: {error.strerror}. "
                "Make room there (syncd store trims it), then go on."
            ) from error
        return made

    def useless_art(self, form: str) -> frozenset[ContentHash]:
        """The pictures of which nothing could be made in *form*."""
        end = f"_{form}"
        return frozenset(
            ContentHash(path.name.removesuffix(end))
            for path in _files(self.folder / "art")
            if path.name.endswith(end) and path.stat().st_size == 0
        )

    # -- inside ---------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _index(self) -> Iterator[None]:
        """The index for one thread alone; what it fails with is told as a sentence."""
        with self._lock:
            try:
                yield
            except sqlite3.Error as error:
                raise SetupProblem(
                    f"The index of the store {self.folder} fails: {error}. Make room there and "
                    "start again; if it is damaged, it is rebuilt then."
                ) from error

    def _place(self, audio_hash: str, recipe_key: str, digest: str, suffix: str) -> Path:
        name = f"{audio_hash}_{recipe_key}_{digest}{suffix}"
        return self.folder / "pressings" / audio_hash[:2] / name

    def _write_row(
        self, audio: str, recipe: str, digest: str, suffix: str, size: int, used: float
    ) -> None:
        self._db.execute(
            "INSERT OR REPLACE INTO pressings VALUES (?, ?, ?, ?, ?, ?)",
            (audio, recipe, digest, suffix, size, used),
        )

    def _forget(self, audio_hash: AudioHash, recipe_key: str) -> None:
        self._db.execute(
            "DELETE FROM pressings WHERE audio_hash = ? AND recipe = ?", (audio_hash, recipe_key)
        )
        self._db.commit()

    def _adopt(self, audio_hash: AudioHash, recipe_key: str) -> Pressing | None:
        """A whole file that has no row: put in by a run that was killed just then."""
        folder = self.folder / "pressings" / audio_hash[:2]
        prefix = f"{audio_hash}_{recipe_key}_"
        try:
            names = [name for name in os.listdir(folder) if name.startswith(prefix)]
        except FileNotFoundError:
            return None
        for name in sorted(names):
            found = _NAME.fullmatch(name)
            if found is None:
                continue
            path = folder / name
            if _hash(path) != found["hash"]:
                self._move_aside(path, "does not have the bytes that its name promises")
                continue
            size = path.stat().st_size
            now = self._clock()
            self._write_row(audio_hash, recipe_key, found["hash"], found["suffix"], size, now)
            self._db.commit()
            return Pressing(audio_hash, recipe_key, path, size, ContentHash(found["hash"]))
        return None

    def _move_aside(self, path: Path, why: str) -> None:
        path.replace(self.folder / "damaged" / path.name)
        self.notices.append(
            f"The pressing {path.name} in the store {why}; it was set aside and is made again."
        )

    def _write_used(self) -> None:
        if not self._used:
            return
        self._db.executemany(
            "UPDATE pressings SET used = ? WHERE audio_hash = ? AND recipe = ?",
            [(used, audio, recipe) for (audio, recipe), used in self._used.items()],
        )
        self._db.commit()
        self._used.clear()

    def _sweep(self) -> None:
        """Remove what runs that are no more have left half made."""
        for path in (self.folder / "parts").iterdir():
            found = _LEFTOVER.fullmatch(path.name)
            if found is None:
                continue
            with contextlib.suppress(FileNotFoundError):
                old = time.time() - path.stat().st_mtime > _LEFTOVER_AGE_S
                if old or not _alive(int(found["pid"])):
                    path.unlink()

    def _open_index(self) -> sqlite3.Connection:
        path = self.folder / "store.db"
        try:
            return self._connect(path)
        except sqlite3.DatabaseError as error:
            self._set_index_aside(path, error)
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
            if version not in (0, INDEX_FORMAT):
                raise SetupProblem(
                    f"The store {self.folder} was written by a newer syncd (index format "
                    f"{version}, this one knows {INDEX_FORMAT}). Use that one, or another folder."
                )
            db.executescript(_SCHEMA)
            db.execute(f"PRAGMA user_version = {INDEX_FORMAT}")
            db.execute("SELECT count(used) FROM pressings").fetchone()
            if fresh:
                self._rebuild(db)
        except BaseException:
            db.close()
            raise
        return db

    def _set_index_aside(self, path: Path, error: sqlite3.DatabaseError) -> None:
        number = next(n for n in itertools.count(1) if not Path(f"{path}.damaged-{n}").exists())
        path.replace(f"{path}.damaged-{number}")
        for side in ("-wal", "-shm"):
            Path(f"{path}{side}").unlink(missing_ok=True)
        self.notices.append(
            f"The index of the store was damaged ({error}); it was set aside as "
            f"{path.name}.damaged-{number} and rebuilt from the pressings, none of which is lost."
        )

    def _rebuild(self, db: sqlite3.Connection) -> None:
        rows = []
        for path in _files(self.folder / "pressings"):
            found = _NAME.fullmatch(path.name)
            if found is not None:
                stat = path.stat()
                rows.append((*found.groups(), stat.st_size, stat.st_mtime))
        db.executemany("INSERT OR REPLACE INTO pressings VALUES (?, ?, ?, ?, ?, ?)", rows)
        db.commit()


def _files(folder: Path) -> Iterator[Path]:
    return (path for path in folder.glob("*/*") if path.is_file())


def _size(path: Path) -> int | None:
    try:
        return path.stat().st_size
    except OSError:
        return None


def _hash(path: Path) -> str:
    digest = xxhash.xxh3_128()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    return str(digest.hexdigest())


def _hash_and_sync(path: Path) -> tuple[str, int]:
    digest, size = xxhash.xxh3_128(), 0
    with path.open("rb+") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
        os.fsync(file.fileno())
    return str(digest.hexdigest()), size


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # some systems cannot open a folder
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
