"""The index's rows as the works engine sees them: tag values out, identities in."""

import os
import sqlite3
from collections.abc import Iterable, Iterator

import msgspec

from syncd.model import Identity, LibraryPath, TaggedFile, Track, span_in

_TRACK = msgspec.msgpack.Decoder(Track)
_TAGS = msgspec.json.Decoder(dict[str, tuple[str, ...]])


def tagged_files(database: sqlite3.Connection, folder: int, path: str) -> Iterator[TaggedFile]:
    """The tracks of the folder at *path*, spans of one-file rips last."""
    query = (
        "SELECT name, json, track FROM files JOIN tags USING (id) "
        "WHERE folder = ? AND track IS NOT NULL AND id NOT IN (SELECT file FROM spans) "
        "ORDER BY name"
    )
    rows = database.execute(query, (folder,)).fetchall()
    for name, raw, track in rows:
        duration = _TRACK.decode(track).audio.duration_s
        yield TaggedFile(f"{path}/{os.fsdecode(name)}", _TAGS.decode(raw), duration)
    if database.execute("SELECT EXISTS (SELECT 1 FROM spans)").fetchone()[0]:
        from syncd.library.spanrows import tagged_spans

        yield from tagged_spans(database, folder, path)


def tags_of(database: sqlite3.Connection, path: LibraryPath) -> dict[str, tuple[str, ...]]:
    """The tag values of one file or span, empty when the index does not have it."""
    whole, number = span_in(path)
    folder, name = os.path.split(os.fsencode(whole))
    query = (
        "SELECT json FROM tags JOIN files USING (id) JOIN folders ON folders.id = files.folder "
        "WHERE path = ? AND name = ?"
    )
    values: tuple[object, ...] = (folder, name)
    if number is not None:
        query = (
            "SELECT tags FROM spans JOIN files ON files.id = file "
            "JOIN folders ON folders.id = files.folder "
            "WHERE path = ? AND name = ? AND number = ?"
        )
        values = (folder, name, number)
    row = database.execute(query, values).fetchone()
    return _TAGS.decode(row[0]) if row else {}


def save_identities(
    database: sqlite3.Connection, identities: Iterable[tuple[str, Identity]]
) -> int:
    """Store how tracks are catalogued (address, identity); their folders are done then."""
    from syncd.library.snapshot import pack_identity

    done: set[bytes] = set()
    count = 0
    ids = dict(database.execute("SELECT path, id FROM folders").fetchall())
    for path, identity in identities:
        whole, part = span_in(path)
        folder, name = os.path.split(os.fsencode(whole))
        packed, number, title = pack_identity(identity)
        if part is None:
            database.execute(
                "UPDATE files SET identity = ?, movement_number = ?, movement_title = ? "
                "WHERE folder = ? AND name = ?",
                (packed, number, title, ids.get(folder), name),
            )
        else:
            database.execute(
                "UPDATE spans SET identity = ?, movement_number = ?, movement_title = ? "
                "WHERE number = ? AND file = "
                "(SELECT id FROM files WHERE folder = ? AND name = ?)",
                (packed, number, title, part, ids.get(folder), name),
            )
        done.add(folder)
        count += 1
    database.executemany("UPDATE folders SET stale = 0 WHERE path = ?", [(path,) for path in done])
    return count
