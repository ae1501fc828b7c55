"""How one master file, and the folder it is in, are written into the index's tables."""

import sqlite3
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import msgspec

from syncd.library.records import FileRecord, Listing, pack_listing, unpack_listing
from syncd.model import AudioFacts, AudioHash, LibraryPath, Span, Track

if TYPE_CHECKING:
    from syncd.library.audiohash import Hashes
    from syncd.library.tags import FileReading

_COLUMNS = ("size", "reason", "note", "file_hash", "track", "art_hash")
_UPSERT = (
    f"INSERT INTO files (folder, name, {', '.join(_COLUMNS)}) "
    f"VALUES ({', '.join('?' * (len(_COLUMNS) + 2))}) ON CONFLICT (folder, name) DO UPDATE SET "
    + ", ".join(f"{column} = excluded.{column}" for column in _COLUMNS)
    + " RETURNING id"
)


class _Added(msgspec.Struct):
    """Of a packed track, nothing but the day."""

    added: int | None = None


_ADDED = msgspec.msgpack.Decoder(_Added)

_UNREADABLE = (
    "INSERT INTO files (folder, name, size, reason) VALUES (?, ?, ?, ?) "
    "ON CONFLICT (folder, name) DO UPDATE SET size = excluded.size, reason = excluded.reason, "
    "note = NULL, file_hash = NULL"
)


def open_folder(database: sqlite3.Connection, path: bytes) -> tuple[int, Listing]:
    """The id and listing of the folder at *path*, made if it is new."""
    row = database.execute("SELECT id, listing FROM folders WHERE path = ?", (path,)).fetchone()
    if row is not None:
        return row[0], unpack_listing(row[1])
    empty = pack_listing({})
    cursor = database.execute("INSERT INTO folders (path, listing) VALUES (?, ?)", (path, empty))
    assert cursor.lastrowid is not None
    return cursor.lastrowid, {}


def save_listing(
    database: sqlite3.Connection, folder: int, listing: Listing, *, stale: bool
) -> None:
    database.execute(
        "UPDATE folders SET listing = ?, stale = stale OR ? WHERE id = ?",
        (pack_listing(listing), int(stale), folder),
    )


def is_same(database: sqlite3.Connection, folder: int, name: bytes, record: FileRecord) -> bool:
    """Whether the index has *record* with the same bytes, or with the same reason."""
    known = database.execute(
        "SELECT file_hash, reason FROM files WHERE folder = ? AND name = ?", (folder, name)
    ).fetchone()
    return bool(known == (record.hashes.file if record.hashes else None, record.reason or None))


def store(database: sqlite3.Connection, folder: int, name: bytes, record: FileRecord) -> None:
    """Write *record* over what is known of the file.

    Of one that has become unreadable its track, tags and identity stay: its recording is on cards
    as a whole, and shall not lose a movement for a bad cable.
    """
    if record.reading is None or record.hashes is None:
        database.execute(_UNREADABLE, (folder, name, record.size, record.reason))
        return
    added = _added_before(database, folder, name)
    values = _values(
        record, record.reading, record.hashes, record.added if added is None else added
    )
    (row,) = database.execute(_UPSERT, (folder, name, *values)).fetchone()
    encoded = msgspec.json.encode(record.reading.tags)
    database.execute("INSERT OR REPLACE INTO tags VALUES (?, ?)", (row, encoded))
    if record.reading.sheet:
        encoded = msgspec.json.encode(record.reading.sheet)
        database.execute("INSERT OR REPLACE INTO embedded_sheets VALUES (?, ?)", (row, encoded))
    else:
        database.execute("DELETE FROM embedded_sheets WHERE id = ?", (row,))


def _added_before(database: sqlite3.Connection, folder: int, name: bytes) -> int | None:
    """The day on which a known file came to the library: another content is the same file yet."""
    row = database.execute(
        "SELECT track FROM files WHERE folder = ? AND name = ? AND track IS NOT NULL",
        (folder, name),
    ).fetchone()
    return added_of(row[0]) if row is not None else None


def added_of(packed: bytes) -> int | None:
    """The day on which the track that is *packed* came to the library."""
    return _ADDED.decode(packed).added


def _values(
    record: FileRecord, reading: "FileReading", hashes: "Hashes", added: int | None
) -> tuple[object, ...]:
    track = track_of(
        reading.tags, hashes.audio, reading.audio, record.size, None,
        emphasis=has_emphasis(reading.tags), added=added,
    )  # fmt: skip
    note = " ".join(reading.notes) or None
    return record.size, None, note, hashes.file, msgspec.msgpack.encode(track), reading.art


def has_emphasis(tags: Mapping[str, Sequence[str]]) -> bool:
    """Whether *tags* say that the audio was recorded with pre-emphasis.

    PRE_EMPHASIS or PREEMPHASIS with 1, yes or true (common practice of rippers, no source).
    """
    return any(
        value.strip().lower() in ("1", "yes", "true")
        for name in ("PRE_EMPHASIS", "PREEMPHASIS", "PRE-EMPHASIS")
        for value in tags.get(name, ())
    )


def track_of(
    tags: Mapping[str, Sequence[str]],
    audio_hash: AudioHash,
    audio: AudioFacts,
    size: int,
    span: Span | None,
    *,
    emphasis: bool,
    added: int | None = None,
) -> Track:
    """The track with these facts, without path and picture: its row's place says those."""

    def text(*names: str) -> str:
        return next((tags[name][0] for name in names if tags.get(name)), "")

    return Track(
        LibraryPath(""), audio_hash, audio, size, text("TITLE"),
        "; ".join(tags.get("ARTIST", ())), text("ALBUM"), text("ALBUMARTIST"), text("DATE"),
        text("GENRE"), text("LABEL", "ORGANIZATION"), _number(text("TRACKNUMBER")),
        _number(text("DISCNUMBER")), None, span, emphasis, added, rating_of(tags),
    )  # fmt: skip


def rating_of(tags: Mapping[str, Sequence[str]]) -> int | None:
    """What *tags* say that the listener thinks of the track, 0 to 100; None for nothing.

    RATING (and RATING:somebody) up to 5 counts stars, above that hundredths; fractions of one are
    of the whole; FMPS_RATING counts to 1 (common practice of taggers, no source). ID3's POPM
    (ID3v2.4.0 frames §4.17) came as hundredths, by its stars.
    """
    for name, values in tags.items():
        stem = name.partition(":")[0]
        if stem in ("RATING", "FMPS_RATING") and values:
            rating = _rating(values[0], of_one=stem == "FMPS_RATING")
            if rating is not None:
                return rating
    return None


def _rating(text: str, *, of_one: bool) -> int | None:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    if not 0 <= number <= 100:
        return None
    if of_one or (0 < number < 1):
        number *= 100
    elif number <= 5:
        number *= 20
    return round(min(number, 100)) or None


def _number(text: str) -> int | None:
    digits = text.strip()
    return int(digits) if digits.isdecimal() and digits.isascii() and len(digits) < 10 else None
