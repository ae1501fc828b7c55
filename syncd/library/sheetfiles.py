"""Reading the .cue files beside the music: the only place where one is opened."""

import os
from collections.abc import Iterable

from syncd.errors import ItemProblem
from syncd.library.cuesheet import LARGEST_SHEET_BYTES, sheet_text
from syncd.library.masterfile import open_master, shown
from syncd.library.sheetspans import FolderSpans, SheetableFile, divide
from syncd.library.tags import FileReading
from syncd.model import AudioHash, TaggedFile, span_address


def read_sheet(path: str) -> str:
    """The text of the cue sheet at *path*. Raises ItemProblem when it cannot be read."""
    with open_master(path) as (file, size):
        if size > LARGEST_SHEET_BYTES:
            raise ItemProblem(
                shown(path),
                f"The cue sheet {shown(path)} has {size} bytes, more than the "
                f"{LARGEST_SHEET_BYTES} that syncd reads; no cue sheet is so long.",
            )
        return sheet_text(file.read(LARGEST_SHEET_BYTES))


def tracks_of(readings: Iterable[tuple[str, FileReading]]) -> tuple[list[TaggedFile], list[str]]:
    """The tracks in files that were read (path, reading), and what there is to tell.

    Cue sheets beside the files are looked for and read: for showing how files would be catalogued
    without an index.
    """
    folders: dict[str, list[tuple[str, FileReading]]] = {}
    for path, reading in readings:
        folders.setdefault(os.path.split(path)[0], []).append((path, reading))
    tracks: list[TaggedFile] = []
    told: list[str] = []
    for folder, members in folders.items():
        made = _divided(folder, members, told)
        for path, reading in members:
            spans = made.spans.get(os.path.split(path)[1])
            if spans is None:
                tracks.append(TaggedFile(path, reading.tags, reading.audio.duration_s))
                continue
            tracks += [
                TaggedFile(span_address(path, each.span.number), each.tags, each.audio.duration_s)
                for each in spans
            ]
        told += [
            f"{shown(folder + '/' if folder else '')}{shown(name)}: {' '.join(notes)}"
            for name, notes in made.notes.items()
        ]
    return tracks, told


def _divided(folder: str, members: list[tuple[str, FileReading]], told: list[str]) -> FolderSpans:
    sheets: list[tuple[str, str]] = []
    with os.scandir(folder or ".") as entries:
        names = sorted(entry.name for entry in entries if entry.name.lower().endswith(".cue"))
    for name in names:
        try:
            sheets.append((name, read_sheet(os.path.join(folder, name))))  # noqa: PTH118
        except ItemProblem as problem:
            told.append(problem.reason)
    files = [
        SheetableFile(
            os.path.split(path)[1], reading.audio, AudioHash(""), reading.tags, reading.sheet
        )
        for path, reading in members
    ]
    return divide(files, sheets)
