"""How the invented library is written down: folders, tracks, and the patterns of their tags.

What is in the library is ``invented``'s; making files of it is ``make``'s.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

_ROMAN = ("", "I", "II", "III", "IV", "V", "VI")

Form = Literal["flac", "flac-24-96", "mp3", "aac", "alac", "vorbis", "opus", "wav"]
"""How a folder's files are coded. FLAC and WAV at 44.1 kHz and 16 bit unless the name says more."""

SUFFIX: Mapping[Form, str] = {
    "flac": ".flac",
    "flac-24-96": ".flac",
    "mp3": ".mp3",
    "aac": ".m4a",
    "alac": ".m4a",
    "vorbis": ".ogg",
    "opus": ".opus",
    "wav": ".wav",
}


@dataclass(frozen=True, slots=True)
class DemoTrack:
    """One file: its name without suffix, its own tags, and what it sounds like.

    ``music`` names an opening of ``score.OPENINGS``; without one a phrase is invented in ``key``.
    """

    name: str
    tags: Mapping[str, str]
    music: str = ""
    key: str = "C major"
    tempo: float = 110.0


@dataclass(frozen=True, slots=True)
class DemoFolder:
    """One folder: its path in the library, how its files are coded, the tags that all share.

    ``speed`` multiplies the tempo, so that a second performance of a piece sounds its own way.
    ``cover`` says whether the picture is in the files or lies beside them.
    """

    path: str
    form: Form
    tags: Mapping[str, str]
    tracks: tuple[DemoTrack, ...]
    instruments: tuple[str, str] = ("strings", "strings")
    speed: float = 1.0
    cover: Literal["embedded", "file", "none"] = "none"
    colours: tuple[str, str] = ("#35506b", "#e8c872")
    id3_version: Literal[3, 4] = 4

    def files(self) -> tuple[tuple[str, DemoTrack], ...]:
        """Path in the library, and track, of every file."""
        return tuple(
            (f"{self.path}/{track.name}{SUFFIX[self.form]}", track) for track in self.tracks
        )


def movements(
    work: str,
    rows: tuple[tuple[str, str, str], ...],
    title: str = "{work}: {roman}. {tempo}",
    **more: str,
) -> tuple[DemoTrack, ...]:
    """Tracks whose titles follow a pattern; rows are (tempo or heading, music, key)."""
    return tuple(
        DemoTrack(
            f"{number:02} {heading}",
            {
                "TITLE": title.format(
                    work=work, roman=_ROMAN[number], number=number, tempo=heading
                ),
                "TRACKNUMBER": str(number),
                **more,
            },
            music,
            key,
            pace(heading),
        )
        for number, (heading, music, key) in enumerate(rows, start=1)
    )


def pace(heading: str) -> float:
    """A tempo that suits a heading, in quarter notes a minute."""
    slow = ("Adagio", "Largo", "Lent", "Romanze", "Andante", "Death", "Comfort")
    return 96.0 if heading.startswith(slow) else 126.0


def dedicated(
    composer: str, work: str, rows: tuple[tuple[str, str, str], ...], **more: str
) -> tuple[DemoTrack, ...]:
    """Tracks with a tag for the work, the movement's number and its name."""
    return tuple(
        DemoTrack(
            f"{number:02} {heading}",
            {
                "TITLE": f"{work}: {_ROMAN[number]}. {heading}",
                "COMPOSER": composer,
                "WORK": work,
                "MOVEMENT": str(number),
                "MOVEMENTTOTAL": str(len(rows)),
                "MOVEMENTNAME": heading,
                "TRACKNUMBER": str(number),
                **more,
            },
            music,
            key,
            pace(heading),
        )
        for number, (heading, music, key) in enumerate(rows, start=1)
    )


def titled(
    *rows: tuple[str, str, str] | tuple[str, str, str, Mapping[str, str]],
) -> tuple[DemoTrack, ...]:
    """Tracks each with a title of its own; rows are (title, music, key) and, if any, more tags."""
    tracks = []
    for number, row in enumerate(rows, start=1):
        title, music, key = row[:3]
        tags = {"TITLE": title, "TRACKNUMBER": str(number), **(row[3] if len(row) == 4 else {})}
        name = "".join(c for c in title if c not in '":/').strip()
        tracks.append(DemoTrack(f"{number:02} {name}", tags, music, key, pace(title)))
    return tuple(tracks)
