"""The spans in the index's tables: made from what is known of files and sheets, and given out.

Dividing reads no file: facts, tags and the texts of sheets are in the index. It is done for folders
in which something changed, so a changed sheet costs no reading of audio.
"""

import os
import sqlite3
from collections.abc import Iterator, Mapping

import msgspec

from syncd.library.cuesheet import NO_SHEET, EmbeddedSheet
from syncd.library.filerows import added_of, open_folder, track_of
from syncd.library.masterfile import shown
from syncd.library.records import Listing, SheetRecord, pack_listing
from syncd.library.sheetspans import FolderSpans, SheetableFile, divide
from syncd.model import TaggedFile, Track, span_address

_TRACK = msgspec.msgpack.Decoder(Track)
_TAGS = msgspec.json.Decoder(dict[str, tuple[str, ...]])
_EMBEDDED = msgspec.json.Decoder(EmbeddedSheet)

_PUT = """
INSERT INTO spans (file, number, track, tags) VALUES (?, ?, ?, ?)
ON CONFLICT (file, number) DO UPDATE SET track = excluded.track, tags = excluded.tags
"""


def save_sheets(
    database: sqlite3.Connection, path: bytes, listing: Listing, read: Mapping[bytes, SheetRecord]
) -> None:
    """Note the cue sheets of the folder at *path*, and the texts of those that were *read*."""
    folder, _ = open_folder(database, path)
    kept = database.execute("SELECT name FROM sheets WHERE folder = ?", (folder,)).fetchall()
    database.executemany(
        "DELETE FROM sheets WHERE folder = ? AND name = ?",
        [(folder, name) for (name,) in kept if name not in listing],
    )
    database.executemany(
        "INSERT OR REPLACE INTO sheets VALUES (?, ?, ?, ?)",
        [(folder, name, record.text, record.note) for name, record in read.items()],
    )
    packed = pack_listing(listing) if listing else None
    database.execute("UPDATE folders SET sheets = ?, stale = 1 WHERE id = ?", (packed, folder))


def divide_folder(database: sqlite3.Connection, folder: int) -> dict[bytes, str]:
    """Make the spans of one folder anew; returns notes by the name of the file they are about."""
    rows = database.execute(
        "SELECT files.id, name, size, track, tags.json, embedded_sheets.json FROM files "
        "JOIN tags USING (id) LEFT JOIN embedded_sheets USING (id) "
        "WHERE folder = ? AND track IS NOT NULL ORDER BY name",
        (folder,),
    ).fetchall()
    sheets = database.execute(
        "SELECT name, text, note FROM sheets WHERE folder = ?", (folder,)
    ).fetchall()
    files = []
    for _, name, _, packed, tags, embedded in rows:
        track = _TRACK.decode(packed)
        inside = NO_SHEET if embedded is None else _EMBEDDED.decode(embedded)
        files.append(
            SheetableFile(
                os.fsdecode(name), track.audio, track.audio_hash, _TAGS.decode(tags), inside
            )
        )
    texts = [(os.fsdecode(name), text) for name, text, _ in sheets if text is not None]
    made = divide(files, texts)
    for name, _, note in sheets:
        if note is not None:
            made.note(os.fsdecode(name), note)
    known = {name: (row, size, added_of(track)) for row, name, size, track, *_ in rows}
    _save(database, folder, known, made)
    # names of sheets stand in notes, and need not be text
    notes = {os.fsencode(name): shown(" ".join(told)) for name, told in made.notes.items()}
    database.execute("DELETE FROM sheet_notes WHERE folder = ?", (folder,))
    database.executemany(
        "INSERT INTO sheet_notes VALUES (?, ?, ?)",
        [(folder, name, note) for name, note in notes.items()],
    )
    return notes


def _save(
    database: sqlite3.Connection,
    folder: int,
    files: Mapping[bytes, tuple[int, int, int | None]],
    made: FolderSpans,
) -> None:
    """Write the spans *made*: those that were there keep how they are catalogued."""
    left = set(
        database.execute(
            "SELECT file, number FROM spans JOIN files ON files.id = file WHERE folder = ?",
            (folder,),
        ).fetchall()
    )
    for name, spans in made.spans.items():
        file, size, added = files[os.fsencode(name)]
        for span in spans:
            track = track_of(
                span.tags, span.audio_hash, span.audio, size, span.span,
                emphasis=span.emphasis, added=added,
            )  # fmt: skip
            packed, tags = msgspec.msgpack.encode(track), msgspec.json.encode(span.tags)
            database.execute(_PUT, (file, span.span.number, packed, tags))
            left.discard((file, span.span.number))
    database.executemany("DELETE FROM spans WHERE file = ? AND number = ?", sorted(left))


def tagged_spans(database: sqlite3.Connection, folder: int, path: str) -> Iterator[TaggedFile]:
    """What the works engine sees of the spans in the folder at *path*."""
    rows = database.execute(
        "SELECT name, number, spans.tags, spans.track FROM spans JOIN files ON files.id = file "
        "WHERE folder = ? ORDER BY name, number",
        (folder,),
    ).fetchall()
    for name, number, tags, track in rows:
        address = span_address(f"{path}/{os.fsdecode(name)}", number)
        yield TaggedFile(address, _TAGS.decode(tags), _TRACK.decode(track).audio.duration_s)
