"""Walking a card's catalogue: as an outline for pipes, as lists of eight rows at a terminal.

Both ask the catalogue for nothing but what a player can ask for: pages of a range of ids, jumps by
letter, rows by id. Where keys and text come from is handed in; the command line decides which
form is wanted.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TextIO

from rich.console import Console
from rich.text import Text

from syncd.catalogue.reader import (
    Catalogue,
    CreditRow,
    HomeList,
    Jump,
    RecordingRow,
    TrackRow,
    pages,
)

ROWS = 8
_WALKED = (
    "composers",
    "performers",
    "conductors",
    "ensembles",
    "choirs",
    "soloists",
    "instruments",
    "artists",
    "albums",
)

Ask = Callable[[str], str]


def run_browse(
    catalogue: Catalogue,
    *,
    interactive: bool,
    out: TextIO,
    console: Console | None = None,
    ask: Ask = input,
) -> None:
    """Show *catalogue*: a walk when *interactive*, else the outline as plain lines on *out*.

    The walk prints on *console* (a plain one on *out* if None) and reads its answers with *ask*,
    whose end of input ends the walk. Raises CardProblem when the catalogue is damaged.
    """
    if interactive:
        _Walk(catalogue, console or Console(file=out), ask).run()
        return
    for line in outline(catalogue):
        out.write(line + "\n")


def clock(duration_ms: int) -> str:
    """A duration in hours, minutes and seconds: ``4:07``, ``1:02:07``."""
    minutes, seconds = divmod(round(duration_ms / 1000), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def summary(catalogue: Catalogue) -> str:
    """How much there is, in one sentence."""
    count = catalogue.counts()
    if not count.get("tracks"):
        return "The catalogue is empty."
    parts = [
        _count(count[name], one)
        for name, one in (
            ("composers", "composer"),
            ("works", "work"),
            ("recordings", "recording"),
            ("artists", "popular artist"),
            ("albums", "popular album"),
            ("tracks", "track"),
        )
        if count.get(name)
    ]
    return ", ".join(parts) + "."


def outline(catalogue: Catalogue) -> Iterator[str]:
    """The whole catalogue as indented lines: composers, works, recordings, movements; popular."""
    yield summary(catalogue)
    homes = {home.list: home for home in catalogue.home()}
    composers, artists = homes["composers"], homes["artists"]
    for composer in pages(catalogue.composers, composers.first, composers.count):
        yield ""
        yield _shown(composer.label)
        for work in pages(catalogue.works, composer.first_work, composer.work_count):
            yield f"  {_shown(work.label)}"
            recordings = pages(catalogue.recordings, work.first_recording, work.recording_count)
            for recording in recordings:
                yield f"    {_recording_line(recording)}"
                for row in pages(catalogue.tracks, recording.first_track, recording.track_count):
                    yield f"      {_track_line(row)}"
    if artists.count:
        yield ""
        yield "Popular"
    for artist in pages(catalogue.artists, artists.first, artists.count):
        yield f"  {_shown(artist.label)}"
        for album in pages(catalogue.albums, artist.first_album, artist.album_count):
            yield f"    {_dated(album.label, album.year)}  {clock(album.duration_ms)}"
            for row in pages(catalogue.tracks, album.first_track, album.track_count):
                yield f"      {_track_line(row)}"


@dataclass(frozen=True, slots=True)
class _Row:
    """One row of a list: what it shows, and the list that it leads to."""

    text: str
    opens: "Callable[[], _List] | None" = None


@dataclass(slots=True)
class _List:
    """One list: a heading, a range of ids and how to read eight of them."""

    title: str
    first: int
    count: int
    read: Callable[[int, int], list[_Row]]
    about: Sequence[str] = ()
    jumps: Sequence[Jump] = field(default=())
    top: int = 0

    def rows(self) -> list[_Row]:
        return self.read(self.first + self.top, min(ROWS, self.count - self.top))


class _Walk:
    """A walk through the lists, one question at a time."""

    def __init__(self, catalogue: Catalogue, console: Console, ask: Ask) -> None:
        self._catalogue = catalogue
        self._console = console
        self._ask = ask
        self._trail: list[_List] = []

    def run(self) -> None:
        self._trail = [self._home()]
        while self._trail:
            here = self._trail[-1]
            rows = here.rows()
            self._show(here, rows)
            try:
                answer = self._ask("> ").strip()
            except EOFError:
                return
            if answer == "q":
                return
            self._follow(answer, here, rows)

    def _follow(self, answer: str, here: _List, rows: Sequence[_Row]) -> None:
        if answer == "b":
            if len(self._trail) > 1:
                self._trail.pop()
        elif answer == "":
            if here.top + ROWS < here.count:
                here.top += ROWS
        elif answer == "-":
            here.top = max(0, here.top - ROWS)
        elif answer.isascii() and answer.isdecimal():
            number = int(answer[:3])
            opens = rows[number - 1].opens if 1 <= number <= len(rows) else None
            if opens is not None:
                self._trail.append(opens())
            elif not 1 <= number <= len(rows):
                self._say(f"There is no row {answer[:20]} here.")
        else:
            self._jump(answer, here)

    def _jump(self, answer: str, here: _List) -> None:
        wanted = answer.upper()
        for jump in here.jumps:
            if jump.letter == wanted:
                here.top = jump.first - here.first
                return
        if here.jumps:
            letters = " ".join(jump.letter for jump in here.jumps)
            self._say(f"Nothing begins with {answer[:20]!r} here. Letters: {letters}")
        else:
            self._say("This list has no letters; give a number, Enter, -, b or q.")

    def _show(self, here: _List, rows: Sequence[_Row]) -> None:
        self._console.print()
        self._console.print(Text(_shown(here.title), style="bold"))
        for line in here.about:
            self._console.print(Text(_shown(line), style="dim"))
        for number, row in enumerate(rows, start=1):
            shown = Text(f" {number}  ", style="cyan" if row.opens is not None else "")
            shown.append(_shown(row.text), style="default")
            self._console.print(shown, no_wrap=True, overflow="ellipsis", crop=True)
        keys = []
        if here.count > ROWS:
            last = here.top + len(rows)
            keys.append(f"{here.top + 1} to {last} of {here.count}")
            keys += ["Enter: further"] if last < here.count else []
            keys += ["-: nearer the top"] if here.top else []
        keys += ["number: open"] if any(row.opens is not None for row in rows) else []
        if here.jumps:
            keys.append("capital letter: jump")
        keys += ["b: back"] if len(self._trail) > 1 else []
        self._console.print(Text("; ".join([*keys, "q: quit"]), style="dim"))

    def _say(self, text: str) -> None:
        self._console.print(Text(_shown(text), style="yellow"))

    # The lists

    def _home(self) -> _List:
        homes = [h for h in self._catalogue.home() if h.count and h.list in _WALKED]

        def read(first: int, count: int) -> list[_Row]:
            return [
                _Row(f"{home.label} ({home.count})", partial(self._top, home))
                for home in homes[first - 1 : first - 1 + count]
            ]

        return _List("Catalogue", 1, len(homes), read, (summary(self._catalogue),))

    def _top(self, home: HomeList) -> _List:
        readers: dict[str, Callable[[int, int], list[_Row]]] = {
            "composers": self._composers,
            "artists": self._artists,
            "albums": self._albums,
        }
        return _List(
            home.label,
            home.first,
            home.count,
            readers.get(home.list, self._headings),
            jumps=self._catalogue.letters(home),
        )

    def _composers(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(
                f"{row.label} ({_count(row.work_count, 'work')})",
                partial(_List, row.name, row.first_work, row.work_count, self._works),
            )
            for row in self._catalogue.composers(first, count)
        ]

    def _works(self, first: int, count: int) -> list[_Row]:
        rows = []
        for row in self._catalogue.works(first, count):
            if row.recording_count == 1:
                opens: Callable[[], _List] = partial(self._recording, row.first_recording)
                text = row.label
            else:
                opens = partial(
                    _List, row.label, row.first_recording, row.recording_count, self._recordings
                )
                text = f"{row.label} ({row.recording_count} recordings)"
            rows.append(_Row(text, opens))
        return rows

    def _recordings(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(_recording_line(row), partial(self._recording, row.id))
            for row in self._catalogue.recordings(first, count)
        ]

    def _recording(self, ident: int) -> _List:
        recording = self._catalogue.recording(ident)
        work = self._catalogue.work(recording.work)
        composer = self._catalogue.composer(work.composer)
        credits = self._catalogue.credits(recording.first_credit, recording.credit_count)
        about = [composer.name, *(_credit_line(credit) for credit in credits)]
        if not credits:
            about.append(recording.label)
        if recording.album:
            about.append(_dated(recording.album, recording.year))
        about.append(clock(recording.duration_ms))
        return _List(work.label, recording.first_track, recording.track_count, self._tracks, about)

    def _headings(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(
                f"{row.label} ({row.entry_count})",
                partial(_List, row.label, row.first_entry, row.entry_count, self._entries),
            )
            for row in self._catalogue.headings(first, count)
        ]

    def _entries(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(row.label, partial(self._recording, row.recording))
            for row in self._catalogue.entries(first, count)
        ]

    def _artists(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(
                f"{row.label} ({_count(row.album_count, 'album')})",
                partial(_List, row.label, row.first_album, row.album_count, self._albums),
            )
            for row in self._catalogue.artists(first, count)
        ]

    def _albums(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(
                f"{_dated(row.label, row.year)}  {clock(row.duration_ms)}",
                partial(_List, row.label, row.first_track, row.track_count, self._tracks),
            )
            for row in self._catalogue.albums(first, count)
        ]

    def _tracks(self, first: int, count: int) -> list[_Row]:
        return [
            _Row(_track_line(row), partial(self._track, row.id))
            for row in self._catalogue.tracks(first, count)
        ]

    def _track(self, ident: int) -> _List:
        track = self._catalogue.track(ident)
        credits = self._catalogue.credits(track.first_credit, track.credit_count)
        lines = [_credit_line(credit) for credit in credits]
        if track.artist:
            lines.append(track.artist)
        lines += [f"{clock(track.duration_ms)}, {track.size:,} bytes", track.path]
        return _List(_track_title(track), 1, 0, lambda first, count: [], lines)


def _recording_line(row: RecordingRow) -> str:
    return f"{_dated(row.label, row.year)}  {clock(row.duration_ms)}"


def _track_title(row: TrackRow) -> str:
    return f"{row.number}. {row.label}" if row.number is not None else row.label


def _track_line(row: TrackRow) -> str:
    by = f" ({row.artist})" if row.artist else ""
    return f"{_shown(_track_title(row) + by)}  {clock(row.duration_ms)}"


def _credit_line(row: CreditRow) -> str:
    return f"{row.name}, {row.instrument or row.role}"


def _dated(text: str, year: int | None) -> str:
    return f"{_shown(text)} ({year})" if year else _shown(text)


def _count(number: int, one: str) -> str:
    return f"{number:,} {one if number == 1 else one + 's'}"


def _shown(text: str) -> str:
    """*text* as far as a terminal may have it: a card's catalogue is data from outside."""
    return "".join(c if c.isprintable() else "\ufffd" for c in text)
