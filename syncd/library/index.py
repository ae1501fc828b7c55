"""The library index: what is known of every master file, in one SQLite file at home.

Keeps roots, stats, hashes, facts, tags and identities, and gives the snapshot that the planner
works on. It looks at no master file itself: that is the scan's part; what tags mean is the works
engine's. One writer at a time; killed at any moment it is whole at its last commit (WAL).
"""

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import msgspec

from syncd.errors import SetupProblem
from syncd.library import schema
from syncd.library.filerows import added_of, is_same, open_folder, save_listing, store
from syncd.library.masterfile import shown
from syncd.library.records import (
    NOT_BELIEVED,
    Cover,
    FileRecord,
    FolderRow,
    Listing,
    SheetRecord,
    Stat,
    pack_listing,
    unpack_listing,
)
from syncd.library.roots import new_root, root_meant
from syncd.library.trackrows import save_identities, tagged_files, tags_of
from syncd.model import (
    Identity,
    LeftOut,
    LibraryPath,
    LibrarySnapshot,
    TaggedFile,
)

_STAT = msgspec.msgpack.Decoder(tuple[int, int, int])
_TO_DIVIDE = """
SELECT id, path FROM folders WHERE stale AND (
    sheets IS NOT NULL
    OR id IN (SELECT folder FROM files JOIN embedded_sheets USING (id))
    OR id IN (SELECT folder FROM files JOIN spans ON spans.file = files.id)
    OR id IN (SELECT folder FROM sheet_notes)
) ORDER BY path
"""
"""Folders in which something changed and sheets play or played a part."""

_UNDER = "(path = ? OR (path > ? AND path < ?))"


class LibraryIndex:
    """The index at a path, as a context manager; ``notices`` tells what was set aside on opening.

    Raises SetupProblem when the file cannot be used. Damage found later raises SetupProblem too,
    after the file was set aside, so that the next run starts with a new one.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._database, self.notices = schema.open_database(path)
        self._keep_roots()

    def __enter__(self) -> "LibraryIndex":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was committed stays."""
        self._database.close()

    @contextmanager
    def _change(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it or nothing."""
        with self._guard():
            self._database.execute("BEGIN IMMEDIATE")
            try:
                yield self._database
            except BaseException:
                with suppress(sqlite3.Error):
                    self._database.execute("ROLLBACK")
                raise
            self._database.execute("COMMIT")

    @contextmanager
    def _guard(self) -> Iterator[None]:
        """Damage and refusals met while the index is in use become SetupProblems."""
        try:
            yield
        except sqlite3.OperationalError as error:
            raise schema.cannot_open(self.path, error) from error
        except (sqlite3.DatabaseError, msgspec.DecodeError) as error:
            if not schema.is_damage(error):
                raise
            self._database.close()
            kept = schema.set_aside(self.path)
            raise SetupProblem(
                f"The library index {self.path} is damaged ({error}). It is kept as {kept.name}; "
                "run 'syncd scan' to make a new one, which reads every file again."
            ) from error

    # roots

    def _keep_roots(self) -> None:
        """Give a new index the roots that stand beside it."""
        if not self.roots():
            with self._change() as database:
                database.executemany(
                    "INSERT OR IGNORE INTO roots (path) VALUES (?)",
                    [(root,) for root in schema.read_roots(self.path)],
                )

    def roots(self) -> tuple[LibraryPath, ...]:
        """The library's roots, in the order of their names."""
        with self._guard():
            rows = self._database.execute("SELECT path FROM roots ORDER BY path").fetchall()
        return tuple(LibraryPath(os.fsdecode(path)) for (path,) in rows)

    def add_root(self, folder: Path) -> LibraryPath:
        """Add *folder* to the library and return it as it is kept (absolute, links resolved).

        Raises SetupProblem when it is no readable folder, or lies inside another root or holds one.
        """
        real = new_root(folder, self.roots())
        with self._change() as database:
            database.execute("INSERT INTO roots (path) VALUES (?)", (os.fsencode(real),))
        self._write_roots()
        return LibraryPath(str(real))

    def remove_root(self, folder: Path) -> LibraryPath:
        """Take *folder* out of the library and forget what is under it; the files stay.

        Raises SetupProblem when it is not a root.
        """
        root = root_meant(folder, self.roots())
        raw = os.fsencode(root)
        with self._change() as database:
            database.execute("DELETE FROM roots WHERE path = ?", (raw,))
            under = f"(SELECT id FROM folders WHERE {_UNDER})"
            database.execute(f"DELETE FROM files WHERE folder IN {under}", _under(raw))
            database.execute(f"DELETE FROM folders WHERE {_UNDER}", _under(raw))
        self._write_roots()
        return root

    def _write_roots(self) -> None:
        try:
            schema.write_roots(self.path, [os.fsencode(root) for root in self.roots()])
        except OSError as error:
            raise SetupProblem(
                f"The list of roots beside {self.path} cannot be written ({error.strerror}); see "
                "whether its folder can be written to and has room."
            ) from error

    def set_away(self, away: Mapping[LibraryPath, bool]) -> None:
        """Note which roots are missing or unmounted at the moment."""
        with self._change() as database:
            database.executemany(
                "UPDATE roots SET away = ? WHERE path = ?",
                [(int(gone), os.fsencode(root)) for root, gone in away.items()],
            )

    # facts about the index itself

    def meta(self, key: str) -> str:
        """A remembered value, empty when there is none."""
        with self._guard():
            row = self._database.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
        return str(row[0]) if row else ""

    def set_meta(self, key: str, value: str) -> None:
        """Remember *value* under *key*."""
        with self._change() as database:
            database.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (key, value))

    # what the scan needs

    def folders(self, root: LibraryPath) -> dict[bytes, FolderRow]:
        """All folders under *root* with the files in them whose stat is believed."""
        columns = "path, listing, cover, cover_stat, cover_hash, sheets"
        query = f"SELECT {columns} FROM folders WHERE {_UNDER}"
        with self._guard():
            rows = self._database.execute(query, _under(os.fsencode(root))).fetchall()
            return {
                path: FolderRow(
                    packed,
                    Cover(cover, Stat(*_STAT.decode(stat)), digest) if cover is not None else None,
                    sheets,
                )
                for path, packed, cover, stat, digest, sheets in rows
            }

    def known_files(self, root: LibraryPath) -> dict[bytes, Stat]:
        """Every file under *root* whose stat is believed, by its path."""
        return {
            folder + b"/" + name: Stat(*stat)
            for folder, row in self.folders(root).items()
            for name, stat in unpack_listing(row.packed).items()
            if stat != NOT_BELIEVED
        }

    def file_hashes(self, paths: Iterable[bytes]) -> dict[str, int | None]:
        """The file hashes of those of *paths* that the index has read, each with its file's day."""
        query = (
            "SELECT file_hash, track FROM files JOIN folders ON folders.id = files.folder "
            "WHERE path = ? AND name = ? AND file_hash IS NOT NULL"
        )
        with self._guard():
            return {
                digest: None if packed is None else added_of(packed)
                for path in paths
                for digest, packed in self._database.execute(query, os.path.split(path))
            }

    def count_unreadable(self) -> int:
        """How many files claim to be audio and cannot be read."""
        query = "SELECT count(*) FROM files WHERE reason IS NOT NULL"
        with self._guard():
            return int(self._database.execute(query).fetchone()[0])

    def disbelieve_all(self) -> None:
        """Have the next scan read every file again, whatever its stat."""
        with self._change() as database:
            rows = database.execute("SELECT id, listing FROM folders").fetchall()
            database.executemany(
                "UPDATE folders SET listing = ? WHERE id = ?",
                [
                    (pack_listing(dict.fromkeys(unpack_listing(packed), NOT_BELIEVED)), folder)
                    for folder, packed in rows
                ],
            )

    def upsert(self, records: Sequence[FileRecord]) -> frozenset[bytes]:
        """Store *records* in one transaction; returns the paths whose bytes differ from before.

        A file whose stat was believed and whose bytes hash as before keeps its row and identity.
        """
        differing: set[bytes] = set()
        by_folder: dict[bytes, list[FileRecord]] = {}
        for record in records:
            by_folder.setdefault(os.path.dirname(record.path), []).append(record)  # noqa: PTH120
        with self._change() as database:
            for path, members in by_folder.items():
                folder, listing = open_folder(database, path)
                stale = False
                for record in members:
                    name = os.path.basename(record.path)  # noqa: PTH119
                    same = is_same(database, folder, name, record)
                    if not same:
                        differing.add(record.path)
                    if not same or listing.get(name) == NOT_BELIEVED:
                        store(database, folder, name, record)
                        stale = True
                    listing[name] = NOT_BELIEVED if record.stat is None else (*record.stat,)
                save_listing(database, folder, listing, stale=stale)
        return frozenset(differing)

    def move(self, moves: Sequence[tuple[bytes, bytes, Stat]]) -> None:
        """Give files a new path (old, new, stat) and keep all that is known of them."""
        with self._change() as database:
            for old, new, stat in moves:
                folder, listing = open_folder(database, os.path.dirname(old))  # noqa: PTH120
                name = os.path.basename(old)  # noqa: PTH119
                listing.pop(name, None)
                save_listing(database, folder, listing, stale=True)
                target, other = open_folder(database, os.path.dirname(new))  # noqa: PTH120
                new_name = os.path.basename(new)  # noqa: PTH119
                database.execute(
                    "DELETE FROM files WHERE folder = ? AND name = ?", (target, new_name)
                )
                database.execute(
                    "UPDATE files SET folder = ?, name = ? WHERE folder = ? AND name = ?",
                    (target, new_name, folder, name),
                )
                other[new_name] = (stat.size, stat.mtime_ns, stat.inode)
                save_listing(database, target, other, stale=True)

    def forget(self, paths: Iterable[bytes]) -> None:
        """Drop the files at *paths* from the index."""
        with self._change() as database:
            for path in paths:
                folder, listing = open_folder(database, os.path.dirname(path))  # noqa: PTH120
                name = os.path.basename(path)  # noqa: PTH119
                listing.pop(name, None)
                database.execute("DELETE FROM files WHERE folder = ? AND name = ?", (folder, name))
                save_listing(database, folder, listing, stale=True)

    def set_covers(self, covers: Mapping[bytes, Cover | None]) -> None:
        """Note the picture file of each folder, None where there is none."""
        with self._change() as database:
            for path, cover in covers.items():
                if cover is None:
                    values: tuple[object, ...] = (None, None, None)
                else:
                    packed = msgspec.msgpack.encode(tuple(cover.stat))
                    values = (cover.name, packed, cover.hash)
                    open_folder(database, path)
                database.execute(
                    "UPDATE folders SET cover = ?, cover_stat = ?, cover_hash = ? WHERE path = ?",
                    (*values, path),
                )

    def set_sheets(self, path: bytes, listing: Listing, read: Mapping[bytes, SheetRecord]) -> None:
        """Note the cue sheets of the folder at *path*, and those of them that were *read*."""
        from syncd.library.spanrows import save_sheets

        with self._change() as database:
            save_sheets(database, path, listing, read)

    def divide(self) -> tuple[str, ...]:
        """Divide files by their sheets, where either changed; returns what there is to tell."""
        with self._guard():
            folders = self._database.execute(_TO_DIVIDE).fetchall()
        if not folders:
            return ()
        from syncd.library.spanrows import divide_folder

        told: list[str] = []
        for folder, path in folders:
            with self._change() as database:
                notes = divide_folder(database, folder)
            told += [f"{shown(path + b'/' + name)}: {note}" for name, note in notes.items()]
        return tuple(told)

    # what the works engine needs

    def stale_folders(self) -> list[bytes]:
        """Folders in which something changed since their files were last identified."""
        with self._guard():
            rows = self._database.execute("SELECT path FROM folders WHERE stale").fetchall()
        return [path for (path,) in rows]

    def mark_all_stale(self) -> None:
        """Have every file identified again."""
        with self._change() as database:
            database.execute("UPDATE folders SET stale = 1")

    def tagged_units(
        self, unit_of: Callable[[str], str], *, everything: bool = False
    ) -> Iterator[list[TaggedFile]]:
        """The tracks of each album unit that holds a stale folder, unit by unit.

        With *everything*, those of all units.
        """
        stale = {unit_of(os.fsdecode(path) + "/track") for path in self.stale_folders()}
        if not stale and not everything:
            return
        with self._guard():
            rows = self._database.execute("SELECT id, path FROM folders").fetchall()
        units: dict[str, list[tuple[int, str]]] = {}
        for folder, raw in rows:
            path = os.fsdecode(raw)
            unit = unit_of(path + "/track")
            if everything or unit in stale:
                units.setdefault(unit, []).append((folder, path))
        for members in units.values():
            files = [file for folder, path in members for file in self._tagged(folder, path)]
            if files:
                yield files

    def _tagged(self, folder: int, path: str) -> Iterator[TaggedFile]:
        with self._guard():
            yield from tagged_files(self._database, folder, path)

    def tags_of(self, path: LibraryPath) -> dict[str, tuple[str, ...]]:
        """The tag values of one file or span, empty when the index does not have it."""
        with self._guard():
            return tags_of(self._database, path)

    def set_identities(self, identities: Iterable[tuple[str, Identity]]) -> int:
        """Store how tracks are catalogued (address, identity); their folders are done then."""
        with self._change() as database:
            return save_identities(database, identities)

    def settle(self) -> None:
        """Take all folders as identified, and drop those in which nothing is left."""
        with self._change() as database:
            database.execute("UPDATE folders SET stale = 0 WHERE stale")
            database.execute(
                "DELETE FROM folders WHERE cover IS NULL AND listing = ? "
                "AND NOT EXISTS (SELECT 1 FROM files WHERE folder = folders.id)",
                (pack_listing({}),),
            )

    # what others read

    def snapshot(self) -> LibrarySnapshot:
        """The whole library as the index knows it now."""
        from syncd.library.snapshot import read_snapshot

        with self._guard():
            return read_snapshot(self._database)

    def unreadable(self) -> tuple[LeftOut, ...]:
        """Files that claim to be audio and cannot be read, with the reason, in path order."""
        return self._told("reason")

    def notes(self) -> tuple[LeftOut, ...]:
        """Files that are read although something about them is odd, with what it is."""
        sheets = self._told("note", "sheet_notes")
        return tuple(sorted(self._told("note") + sheets, key=lambda told: told.path))

    def _told(self, column: str, table: str = "files") -> tuple[LeftOut, ...]:
        query = (
            f"SELECT path, name, {column} FROM {table} "
            f"JOIN folders ON folders.id = {table}.folder "
            f"WHERE {column} IS NOT NULL ORDER BY path, name"
        )
        with self._guard():
            rows = self._database.execute(query).fetchall()
        return tuple(LeftOut(os.fsdecode(path + b"/" + name), text) for path, name, text in rows)


def _under(root: bytes) -> tuple[bytes, bytes, bytes]:
    """What the condition _UNDER compares with: the folder itself, and all that begins with it.

    Made here, not in SQL: its || makes text of bytes, and text never equals bytes there.
    """
    inside = root if root.endswith(b"/") else root + b"/"
    return root, inside, inside[:-1] + b"0"  # the byte after the slash
