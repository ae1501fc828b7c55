"""Walking through a catalogue with keys, as a player does: lists of eight rows, letters, search.

A state that keys change and lines show; it knows no terminal. Where keys come from and lines go to
is ``cli.terminal``'s. It asks the catalogue for nothing but the steps of the contract, and tells of
each step that it took what it was, so that a face can say what it cost.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from syncd.catalogue import contract
from syncd.catalogue.contract import FIRST_PREFIX, ROWS, Step
from syncd.catalogue.order import fold
from syncd.catalogue.reader import Catalogue, EntryRow, HomeList, PrefixRow, TrackRow
from syncd.catalogue.rows import LISTS
from syncd.catalogue.showing import (
    clock,
    counted,
    credit_line,
    dated,
    group_line,
    shown,
    summary,
    track_line,
    track_title,
    work_line,
)

_NAMED = frozenset(name for name, _ in LISTS)
Row = HomeList | EntryRow | TrackRow


@dataclass(slots=True)
class Screen:
    """One list on the way: a range of ids, and the place of the row that is pointed at.

    ``kind`` is "home", "entries", "tracks", "search" or "details"; details have ``lines`` only.
    """

    kind: str
    title: str
    first: int
    count: int
    at: int = 0
    top: int = 0
    home: HomeList | None = None
    about: Sequence[str] = ()
    typed: str = ""
    prefix: PrefixRow | None = None
    rows: Sequence[Row] = field(default=())


class Walk:
    """A walk through *catalogue*; *took* is told each step of the contract that it takes."""

    def __init__(self, catalogue: Catalogue, took: Callable[[Step], None] | None = None) -> None:
        self._catalogue = catalogue
        self._took = took or (lambda step: None)
        self.said = ""
        homes = [row for row in catalogue.remembered_home() if row.list in _NAMED and row.count]
        self._trail = [Screen("home", "Catalogue", 0, len(homes), rows=homes)]
        self._trail[0].about = (summary(catalogue),)
        self._took(contract.SHOW_HOME)

    @property
    def here(self) -> Screen:
        """The list that is shown."""
        return self._trail[-1]

    def press(self, key: str) -> bool:
        """Do what *key* asks for; False when the walk is over.

        Keys are "up", "down", "page up", "page down", "first", "last", "left", "right", or a
        character.
        """
        self.said = ""
        here = self.here
        moves = {"up": -1, "down": 1, "page up": -ROWS, "page down": ROWS}
        if here.kind == "search" and (len(key) == 1 or key == "rub out"):
            self._turn(key)
        elif key in moves:
            self._point(here.at + moves[key])
        elif key in ("first", "last"):
            self._point(0 if key == "first" else here.count - 1)
        elif key == "right":
            self._open()
        elif key == "left":
            if len(self._trail) > 1:
                self._trail.pop()
        elif key == "/":
            self._search()
        elif key == "q":
            return False
        elif len(key) == 1:
            self._jump(key)
        return True

    def lines(self) -> list[str]:
        """The screen: title, what is said of it, rows with a mark at one, and what can be done."""
        here = self.here
        place = f"{here.at + 1} of {here.count:,}" if here.count else ""
        found = [f"{shown(here.title)}  {place}".rstrip()]
        found += [f"  {shown(line)}" for line in here.about]
        found.append("")
        for number, row in enumerate(self._visible(), start=here.top):
            mark = ">" if number == here.at else " "
            found.append(f" {mark} {self._row_text(row)}")
        found += ["", self.said or self._keys()]
        return found

    # Moving

    def _point(self, place: int) -> None:
        """Point at the row at *place*, and show the screen that it is on."""
        here = self.here
        if not here.count:
            return
        here.at = max(0, min(place, here.count - 1))
        top = here.top
        if here.at < top:
            top = here.at
        elif here.at >= top + ROWS:
            top = here.at - ROWS + 1
        if top != here.top:
            here.top = top
            self._read(contract.OPEN if here.home is None else contract.SHOW_LIST)

    def _read(self, step: Step) -> None:
        """Read the rows of the screen that is shown."""
        here = self.here
        if here.kind == "home":
            return
        rows = min(ROWS, here.count - here.top)
        read = self._catalogue.tracks if here.kind == "tracks" else self._catalogue.entries
        here.rows = read(here.first + here.top, rows)
        self._took(step)

    def _visible(self) -> Sequence[Row]:
        here = self.here
        return here.rows[here.top : here.top + ROWS] if here.kind == "home" else here.rows

    def _pointed(self) -> Row | None:
        here = self.here
        rows = self._visible()
        return rows[here.at - here.top] if 0 <= here.at - here.top < len(rows) else None

    # Opening

    def _open(self) -> None:
        row = self._pointed()
        if isinstance(row, HomeList):
            self._go(Screen("entries", row.label, row.first, row.count, home=row))
        elif isinstance(row, TrackRow):
            self._play(row)
        elif row is not None:
            ident = row.item or row.id
            tracks = self._catalogue.leads_to_tracks(row)
            about = self._about(ident) if tracks else ()
            title = row.label
            self._go(
                Screen(
                    "tracks" if tracks else "entries",
                    title,
                    row.first,
                    row.count,
                    0,
                    0,
                    None,
                    about,
                )
            )

    def _go(self, screen: Screen) -> None:
        self._trail.append(screen)
        self._read(contract.SHOW_LIST if screen.home is not None else contract.OPEN)

    def _about(self, ident: int) -> tuple[str, ...]:
        """What is said above the movements of a recording, or the tracks of an album."""
        group = self._catalogue.group(ident)
        lines = [group.composer_name or group.performers or ""]
        if group.title:
            key = f" in {group.key}" if group.key else ""
            lines.append(
                f"{group.title}{key}" + (f", {group.catalogue}" if group.catalogue else "")
            )
        shown_credits = min(group.credit_count, ROWS)
        lines += map(credit_line, self._catalogue.credits(group.first_credit, shown_credits))
        if group.credit_count > ROWS:
            lines.append(f"and {counted(group.credit_count - ROWS, 'other credit')}")
        if group.album:
            lines.append(dated(group.album, group.year))
        return tuple(line for line in lines if line)

    def _play(self, track: TrackRow) -> None:
        """Everything about a track, as a player shows it while it plays."""
        playing = self._catalogue.playing(track.id)
        group = playing.group
        lines = [group.composer_name or group.performers or "", work_line(playing)]
        what = "movement" if group.title else "track"
        lines.append(f"{what} {playing.place} of {group.track_count}, {clock(track.milliseconds)}")
        lines += map(credit_line, playing.credits)
        lines.append(track.artist or "")
        lines.append(dated(group.album, group.year) if group.album else str(group.year or ""))
        if track.gain is not None:
            lines.append(f"gain {track.gain / 100:+.2f} dB")
        if group.art is not None:
            lines.append(f"picture: {group.art or 'in the file'}")
        lines.append(track.path)
        about = tuple(line for line in lines if line)
        self._trail.append(Screen("details", track_title(track, whole=True), 0, 0, about=about))
        self._took(contract.PLAYING)

    # Letters and search

    def _jump(self, letter: str) -> None:
        here = self.here
        if here.home is None or not here.home.jumps:
            self.said = "There are no letters to jump by here."
            return
        jumps = self._catalogue.letters(here.home)
        for jump in jumps:
            if jump.letter == letter.upper():
                here.at = here.top = jump.first - here.first
                self._read(contract.JUMP)
                return
        self.said = f"Nothing begins with {shown(letter)}. Letters: " + " ".join(
            jump.letter for jump in jumps
        )

    def _search(self) -> None:
        self._trail.append(Screen("search", "Search", 0, 0))
        self._show_found(self._catalogue.prefix(FIRST_PREFIX))

    def _turn(self, key: str) -> None:
        """One letter more, or one less: then the way is gone again from the first one on."""
        here = self.here
        typed = here.typed[:-1] if key == "rub out" else here.typed + (fold(key) or key)
        prefix = self._catalogue.prefix(FIRST_PREFIX) if key == "rub out" else here.prefix
        assert prefix is not None
        for letter in typed if key == "rub out" else typed[len(here.typed) :]:
            turned = self._catalogue.turned(prefix, letter)
            if turned is None:
                self.said = f"Nothing goes on with {shown(letter)}."
                return
            prefix = turned
        here.typed = typed
        self._show_found(prefix)

    def _show_found(self, prefix: PrefixRow) -> None:
        here = self.here
        here.prefix = prefix
        best = self._catalogue.found(prefix).best
        here.rows, here.first, here.count = best, prefix.best, len(best)
        here.at = here.top = 0
        here.title = f"Search: {here.typed}_"
        here.about = (counted(prefix.count, "hit"),)
        self._took(contract.SEARCH)

    # Texts

    def _row_text(self, row: Row) -> str:
        if isinstance(row, HomeList):
            return f"{shown(row.label)}  {row.count:,}"
        if isinstance(row, TrackRow):
            return track_line(row)
        if row.seconds:
            return group_line(row)
        return f"{shown(row.label)}  {row.count:,}"

    def _keys(self) -> str:
        here = self.here
        if here.kind == "search":
            letters = " ".join(here.prefix.letters) if here.prefix is not None else ""
            following = f"letters: {letters}; " if letters else "all of them are shown; "
            return f"{following}up, down, right: open; left: back"
        keys = ["up, down"] if here.count > 1 else []
        keys += ["right: open"] if here.count else []
        keys += ["left: back"] if len(self._trail) > 1 else []
        keys += ["letter: jump"] if here.home is not None and here.home.jumps else []
        return "; ".join([*keys, "/: search", "q: end"])
