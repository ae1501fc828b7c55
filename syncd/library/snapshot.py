"""The library snapshot out of the index, quickly and in little memory.

100,000 tracks are the measure: equal works and credits are one object each, and the
collector rests meanwhile since nothing made here is garbage.
"""

import os
import re
import sqlite3
from dataclasses import replace
from itertools import chain

import msgspec

from syncd.collector import collector_resting
from syncd.model import (
    Art,
    CataloguedTrack,
    ContentHash,
    Identity,
    Kind,
    LeftOut,
    LibraryPath,
    LibrarySnapshot,
    Movement,
    Track,
)

_IDENTITY = msgspec.msgpack.Decoder(Identity)
_TRACK = msgspec.msgpack.Decoder(Track)
_DISC_FOLDER = re.compile(r"(?:.*\W)?(?:cd|disc|disk|disque)\W*\d{1,3}\W*", re.IGNORECASE)

_QUERY = """
SELECT folder, name, track, art_hash, identity, movement_number, movement_title
FROM files WHERE track IS NOT NULL AND id NOT IN (SELECT file FROM spans)
"""
_SPANS = """
SELECT folder, name, spans.track, art_hash,
       spans.identity, spans.movement_number, spans.movement_title
FROM spans JOIN files ON files.id = file ORDER BY file, number
"""


def pack_identity(identity: Identity) -> tuple[bytes, int | None, str | None]:
    """*identity* as the index stores it: without the movement, its number, its title.

    A movement without number or title differs from none: the title is then the empty string.
    """
    movement = identity.movement
    packed = msgspec.msgpack.encode(replace(identity, movement=None))
    if movement is None:
        return packed, None, None
    return packed, movement.number, movement.title or ""


def read_snapshot(database: sqlite3.Connection) -> LibrarySnapshot:
    """Everything that the index knows of the library, in path order."""
    with collector_resting():
        database.execute("BEGIN")  # one state of the index, even while another process scans
        try:
            away = database.execute("SELECT path FROM roots WHERE away ORDER BY path").fetchall()
            folders = database.execute("SELECT id, path, cover, cover_hash FROM folders").fetchall()
            unread = database.execute(
                "SELECT path, name, reason FROM files JOIN folders ON folders.id = files.folder "
                "WHERE reason IS NOT NULL ORDER BY path, name"
            ).fetchall()
            tracks = _tracks(database, folders)
        finally:
            database.execute("COMMIT")
    return LibrarySnapshot(
        tuple(tracks),
        tuple(LibraryPath(os.fsdecode(path)) for (path,) in away),
        tuple(LeftOut(os.fsdecode(path + b"/" + name), reason) for path, name, reason in unread),
    )


def _folder_art(
    folders: list[tuple[int, bytes, bytes | None, str | None]],
) -> dict[int, tuple[str, Art | None]]:
    """Each folder's path with its picture; a disc's folder may have that of the album above it."""
    own: dict[str, Art] = {}
    for _, raw, cover, digest in folders:
        if cover is not None and digest:
            path = os.fsdecode(raw)
            picture = LibraryPath(f"{path}/{os.fsdecode(cover)}")
            own[path] = Art(ContentHash(digest), picture, embedded=False)
    result: dict[int, tuple[str, Art | None]] = {}
    for folder, raw, _, _ in folders:
        path = os.fsdecode(raw)
        art = own.get(path)
        if art is None:
            above, _, name = path.rpartition("/")
            if _DISC_FOLDER.fullmatch(name):
                art = own.get(above)
        result[folder] = (path, art)
    return result


def _tracks(
    database: sqlite3.Connection, folders: list[tuple[int, bytes, bytes | None, str | None]]
) -> list[CataloguedTrack]:
    places = _folder_art(folders)
    identities: dict[bytes | None, Identity] = {None: Identity(Kind.UNKNOWN)}
    decode = _TRACK.decode
    put = object.__setattr__
    tracks: list[CataloguedTrack] = []
    rows = chain(database.execute(_QUERY), database.execute(_SPANS))
    for folder, name, packed, art_hash, about, movement_number, movement_title in rows:
        place, art = places[folder]
        path = LibraryPath(f"{place}/{name.decode('utf-8', 'surrogateescape')}")
        if art_hash is not None:
            art = Art(ContentHash(art_hash), path, True)
        identity = identities.get(about)
        if identity is None:
            identity = identities[about] = _IDENTITY.decode(about)
        if movement_title is not None:
            identity = Identity(
                identity.kind, identity.composer, identity.work, identity.recording,
                Movement(movement_number, movement_title or None), identity.credits,
                identity.artist, identity.album, identity.confidence, identity.reasons,
                identity.tags,
            )  # fmt: skip
        # The track is completed before anyone sees it, the way a frozen dataclass's own constructor
        # does it: decoding all but two fields at once takes a third of the time of constructing.
        track = decode(packed)
        put(track, "path", path)
        put(track, "art", art)
        tracks.append(CataloguedTrack(track, identity))
    tracks.sort(key=lambda each: each.track.path)  # spans stay in the order of their numbers
    return tracks
