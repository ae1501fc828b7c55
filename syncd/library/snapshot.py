"""The library snapshot out of the index, quickly and in little memory.

100,000 tracks are the measure: equal strings, works, credits and facts are one object each, and the
collector rests meanwhile since nothing made here is garbage.
"""

import gc
import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import msgspec

from syncd.model import (
    Art,
    AudioFacts,
    AudioHash,
    CataloguedTrack,
    Codec,
    ContentHash,
    Identity,
    Kind,
    LeftOut,
    LibraryPath,
    LibrarySnapshot,
    Movement,
    Track,
)

_IDENTITY = msgspec.json.Decoder(Identity)
_DISC_FOLDER = re.compile(r"(?:.*\W)?(?:cd|disc|disk|disque)\W*\d{1,3}\W*", re.IGNORECASE)

_QUERY = """
SELECT folder, name, size, audio_hash, container, codec, sample_rate_hz, channels, duration_s,
       bits_per_sample, bitrate_bps, samples, profile, title, artist, album, album_artist, date,
       genre, label, track_number, disc_number, art_hash, identity, movement_number, movement_title
FROM files WHERE reason IS NULL
"""


def pack_identity(identity: Identity) -> tuple[bytes, int | None, str | None]:
    """*identity* as the index stores it: JSON without the movement, its number, its title.

    A movement without number or title differs from none: the title is then the empty string.
    """
    movement = identity.movement
    packed = msgspec.json.encode(replace(identity, movement=None))
    if movement is None:
        return packed, None, None
    return packed, movement.number, movement.title or ""


@contextmanager
def _collector_resting() -> Iterator[None]:
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def read_snapshot(database: sqlite3.Connection) -> LibrarySnapshot:
    """Everything that the index knows of the library, in path order."""
    with _collector_resting():
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
    codecs = {codec.value: codec for codec in Codec}
    unknown = Identity(Kind.UNKNOWN)
    strings: dict[str, str] = {}
    share = strings.setdefault
    identities: dict[bytes | None, Identity] = {None: unknown}
    pictures: dict[str, ContentHash] = {}
    tracks: list[CataloguedTrack] = []
    for (
        folder, name, size, audio_hash, container, codec, rate, channels, duration, bits, bitrate,
        samples, profile, title, artist, album, album_artist, date, genre, label, number, disc,
        art_hash, packed, movement_number, movement_title,
    ) in database.execute(_QUERY):  # fmt: skip
        place, art = places[folder]
        path = LibraryPath(f"{place}/{name.decode('utf-8', 'surrogateescape')}")
        if art_hash is not None:
            art = Art(pictures.setdefault(art_hash, art_hash), path, True)
        identity = identities.get(packed)
        if identity is None:
            identity = identities[packed] = _IDENTITY.decode(packed)
        if movement_title is not None:
            identity = Identity(
                identity.kind, identity.composer, identity.work, identity.recording,
                Movement(movement_number, share(movement_title, movement_title) or None),
                identity.credits, identity.artist, identity.album, identity.confidence,
                identity.reasons,
            )  # fmt: skip
        audio = AudioFacts(
            share(container, container), codecs[codec], rate, channels, duration, bits, bitrate,
            samples, share(profile, profile),
        )  # fmt: skip
        track = Track(
            path, AudioHash(audio_hash), audio, size, share(title, title), share(artist, artist),
            share(album, album), share(album_artist, album_artist), share(date, date),
            share(genre, genre), share(label, label), number, disc, art,
        )  # fmt: skip
        tracks.append(CataloguedTrack(track, identity))
    tracks.sort(key=lambda each: each.track.path)
    return tracks
