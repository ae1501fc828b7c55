"""The store: pressings kept at home, so that the same audio is never encoded twice.

A pressing is kept bare (without tags) in a file whose name says all that matters of it: audio hash,
recipe, hash of the bytes. The index (``store_index.py``) is only a quick way to find things. A file
gets its name only when it is complete and on the disk (``store_files.py``), so two writers or a
kill at any instant leave whole pressings and leftovers that are recognised by name and swept.

Scaled cover pictures, measurements of loudness and what is known of damaged masters are kept here
too. What is made, and how, is the callers' affair.
"""

import contextlib
import threading
import time
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from syncd.errors import SetupProblem
from syncd.model import AudioHash, ContentHash
from syncd.transcoder.checks import Checks
from syncd.transcoder.measurements import Measurements
from syncd.transcoder.overs import Overs
from syncd.transcoder.store_files import (
    FOLDERS,
    Named,
    hash_and_sync,
    hash_of,
    named,
    new_part,
    pressings_in,
    size_of,
    sweep,
    sync_folder,
)
from syncd.transcoder.store_index import PressingKey, Row, StoreIndex
from syncd.transcoder.store_pictures import StorePictures

__all__ = ["Held", "Pressing", "PressingKey", "Store", "StoreSize", "Trimmed"]


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
class Held:
    """One pressing in the store: its kind (a suffix), bytes, last use (s since 1970), maker."""

    key: PressingKey
    suffix: str
    size: int
    used: float
    made_by: str


@dataclass(frozen=True, slots=True)
class Trimmed:
    """What a trim took out."""

    removed: int
    bytes_removed: int
    bytes_left: int


class Store:
    """The pressings under *folder*. A context manager; may be used from several threads.

    ``notices`` tells, in sentences, what was found damaged and set aside; ``overs`` which pressings
    exceeded full scale when they were made. Raises SetupProblem
    when the folder cannot be used.
    """

    def __init__(self, folder: Path, clock: Callable[[], float] = time.time) -> None:
        self.folder = folder
        self.notices: list[str] = []
        self.overs = Overs()
        self._clock = clock
        self._lock = threading.RLock()
        self._used: dict[PressingKey, float] = {}
        self._boot = f"{int(time.time() * 1000):x}"
        try:
            for part in FOLDERS:
                (folder / part).mkdir(parents=True, exist_ok=True)
            sweep(folder)
        except OSError as error:
            raise SetupProblem(
                f"The store {folder} cannot be used: {error.strerror}. "
                "Make the folder writable, or name another one in the settings."
            ) from error
        self._index = StoreIndex(folder, self.notices)
        self._pictures = StorePictures(folder, self.part)
        self._measurements: Measurements | None = None
        self._checks: Checks | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Write down what was used, and close all files."""
        with self._lock:
            self._write_used()
            self._index.close()
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
        key = (audio_hash, recipe_key)
        with self._lock:
            row = self._index.row(key)
            if row is None:
                return self._adopt(key)
            path = row.name.path(self.folder)
            if size_of(path) != row.size:
                self._index.forget(key)
                if path.exists():
                    self._move_aside(path, "has another length than it was written with")
                return None
            self._used[key] = self._clock()
            return self._pressing(row)

    def part(self, suffix: str) -> Path:
        """A new name for a file being made, on the same volume as the store."""
        return new_part(self.folder, self._boot, suffix)

    def put(
        self, audio_hash: AudioHash, recipe_key: str, part: Path, made_by: str = ""
    ) -> Pressing:
        """Take the finished file *part* (from :meth:`part`) into the store.

        *made_by* is the version of the encoder. Raises SetupProblem when the disk is full or
        fails; the part is removed then.
        """
        try:
            digest, size = hash_and_sync(part)
            name = Named(audio_hash, recipe_key, digest, part.suffix)
            path = name.path(self.folder)
            path.parent.mkdir(exist_ok=True)
            part.replace(path)
            sync_folder(path.parent)
        except OSError as error:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise SetupProblem(
                f"A pressing cannot be kept in the store {self.folder}: {error.strerror}. "
                "Make room there (syncd store trims it), then go on."
            ) from error
        row = Row(name, size, self._clock(), made_by)
        with self._lock:
            before = self._index.row(row.key)
            self._index.put([row])
            if before is not None and before.name != name:
                before.name.path(self.folder).unlink(missing_ok=True)
        return self._pressing(row)

    def verify(self, pressing: Pressing) -> bool:
        """Read every byte of *pressing* and compare; a damaged one is set aside (then False)."""
        try:
            if pressing.hash is None or hash_of(pressing.path) == pressing.hash:
                return True
        except OSError:
            pass
        self.set_aside(pressing)
        return False

    def set_aside(self, pressing: Pressing) -> None:
        """Take a damaged *pressing* out, so that it is made again; the file is kept to look at."""
        with self._lock:
            self._index.forget(pressing.key)
            if not pressing.carried and pressing.path.exists():
                self._move_aside(pressing.path, "no longer has the bytes it was written with")

    def sizes(self) -> dict[PressingKey, int]:
        """Size in bytes of every pressing, as the index has it (one query)."""
        return self._index.sizes()

    def last_used(self) -> dict[PressingKey, float]:
        """When each pressing was last used, in seconds since 1970."""
        return {held.key: held.used for held in self.held()}

    def held(self) -> list[Held]:
        """All pressings, those that were not used for longest first."""
        with self._lock:
            self._write_used()
            return [
                Held(row.key, row.name.suffix, row.size, row.used, row.made_by)
                for row in self._index.rows()
            ]

    def size(self) -> StoreSize:
        """What the store holds."""
        sizes = self._index.sizes().values()
        return StoreSize(len(sizes), sum(sizes), *self._pictures.count())

    def trim(self, limit_bytes: int, keep: Collection[PressingKey] = ()) -> Trimmed:
        """Remove pressings until the store fits in *limit_bytes*, oldest use first.

        None of *keep* is removed, even if the limit is not reached then. Pictures count, but
        only go when no pressing is left to go: they are small, and dear to make again.
        """
        kept = frozenset(keep)
        with self._lock:
            self._write_used()
            self._reconcile()
            now = self.size()
            total = now.pressing_bytes + now.picture_bytes
            going: list[Row] = []
            freed = 0
            for row in self._index.rows() if total > limit_bytes else ():
                if total - freed <= limit_bytes:
                    break
                if row.key not in kept:
                    going.append(row)
                    freed += row.size
            self._remove(going)
            if total - freed > limit_bytes and not kept:
                freed += self._pictures.clear()
            return Trimmed(len(going), freed, total - freed)

    def remove(self, keys: Collection[PressingKey]) -> Trimmed:
        """Remove the pressings of *keys*; they are made again when they are needed."""
        wanted = frozenset(keys)
        with self._lock:
            going = [row for row in self._index.rows() if row.key in wanted]
            self._remove(going)
            left = self.size()
        freed = sum(row.size for row in going)
        return Trimmed(len(going), freed, left.pressing_bytes + left.picture_bytes)

    # -- pictures -------------------------------------------------------------------------------

    def art(
        self, art_hash: ContentHash, form: str, maker: Callable[[], bytes | None]
    ) -> bytes | None:
        """The picture *art_hash* in *form*; see :class:`StorePictures`."""
        return self._pictures.art(art_hash, form, maker)

    def useless_art(self, form: str) -> frozenset[ContentHash]:
        """The pictures of which nothing could be made in *form*."""
        return self._pictures.useless(form)

    def is_useless_art(self, art_hash: ContentHash, form: str) -> bool:
        """Whether it is known that nothing can be made of the picture *art_hash* in *form*."""
        return self._pictures.is_useless(art_hash, form)

    # -- inside ---------------------------------------------------------------------------------

    def _pressing(self, row: Row) -> Pressing:
        name = row.name
        path = name.path(self.folder)
        return Pressing(name.audio_hash, name.recipe, path, row.size, ContentHash(name.hash))

    def _remove(self, rows: Collection[Row]) -> None:
        for row in rows:
            # Row first: a kill in between leaves a whole file that is taken in again.
            self._index.forget(row.key)
            self._used.pop(row.key, None)
            row.name.path(self.folder).unlink(missing_ok=True)

    def _adopt(self, key: PressingKey) -> Pressing | None:
        """A whole file that has no row: put in by a run that was killed just then."""
        folder = self.folder / "pressings" / key[0][:2]
        if not folder.is_dir():
            return None
        for path in sorted(folder.glob(f"{key[0]}_{key[1]}_*")):
            name = named(path.name)
            if name is None or (name.audio_hash, name.recipe) != key:
                continue
            if hash_of(path) != name.hash:
                self._move_aside(path, "does not have the bytes that its name promises")
                continue
            row = Row(name, path.stat().st_size, self._clock())
            self._index.put([row])
            return self._pressing(row)
        return None

    def _reconcile(self) -> None:
        """Count what runs that were killed have left without a row, or beside a newer one."""
        rows = {row.key: row.name for row in self._index.rows()}
        found: list[Row] = []
        for path, name in pressings_in(self.folder):
            known = rows.get((name.audio_hash, name.recipe))
            if known is None:
                stat = path.stat()
                found.append(Row(name, stat.st_size, stat.st_mtime))
            elif known != name and size_of(known.path(self.folder)) is not None:
                path.unlink(missing_ok=True)
        self._index.put(found)

    def _move_aside(self, path: Path, why: str) -> None:
        path.replace(self.folder / "damaged" / path.name)
        self.notices.append(
            f"The pressing {path.name} in the store {why}; it was set aside and is made again."
        )

    def _write_used(self) -> None:
        self._index.write_used(self._used)
        self._used.clear()
