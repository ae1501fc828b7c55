"""``syncd demo``: the whole job on an invented library, told step by step."""

import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import click

from syncd import cards
from syncd.catalogue.browse import outline
from syncd.catalogue.reader import Catalogue, find_catalogue
from syncd.cli.output import Bars, bars, count, json_document, shown
from syncd.cli.update_command import done_event
from syncd.cli.work import card_in_hand, snapshot, updater
from syncd.errors import SetupProblem
from syncd.library.index import LibraryIndex
from syncd.planner.amounts import amount
from syncd.planner.plan import Action
from syncd.settings import Home, find_home
from syncd.updating.values import Outcome

PROFILE = "mcu-mp3"
CARD = "DEMO"


@click.command("demo")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the results of both updates as JSON.")
def command(folder: Path | None, as_json: bool) -> None:
    """Make an invented library and a card, and show the whole job on them.

    Everything goes into DIR, which must be new or empty (default: a new temporary folder); your
    own library, settings and cards are not touched. Takes well under a minute.
    """
    place = _empty(folder)
    say = (lambda text="": None) if as_json else (lambda text="": click.echo(shown_lines(text)))
    with bars(quiet=as_json) as bar:
        first, second = _Show(place, say, bar).run()
    if as_json:
        json_document({"folder": str(place), "first": first, "second": second})


def shown_lines(text: str) -> str:
    """*text* fit to be printed, its line ends kept."""
    return "\n".join(shown(line) for line in text.split("\n"))


def _empty(folder: Path | None) -> Path:
    if folder is None:
        return Path(tempfile.mkdtemp(prefix="syncd-demo-"))
    folder = folder.expanduser().absolute()
    try:
        if folder.exists() and any(folder.iterdir()):
            raise SetupProblem(
                f"{folder} is not empty. Give the demo a new or empty folder: it writes into it."
            )
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupProblem(
            f"{folder} cannot be used: {error.strerror}. Give the demo another folder."
        ) from error
    return folder


@dataclass(slots=True)
class _Show:
    """One run of the demo in *place*: a library, a home and a card of its own."""

    place: Path
    say: Callable[..., None]
    bar: Bars

    def run(self) -> tuple[dict[str, object], dict[str, object]]:
        from syncd.demo.make import make_library
        from syncd.transcoder.ffmpeg_port import find_ffmpeg

        ffmpeg = find_ffmpeg()
        library, card = self.place / "library", self.place / "card"
        home = find_home(home=str(self.place / "home"))
        self._title("1. A library, invented, with a few notes of real music in each file")
        files = make_library(
            library, ffmpeg, lambda done, total: self.bar.show("make", "Playing", done, total)
        )
        self._show_library(library, files)
        with home.only_writer(), LibraryIndex(home.index_file) as index:
            index.add_root(library)
        self._title("2. A card for a small player that decodes MP3 and nothing else")
        card.mkdir()
        note = card / "shopping list.txt"
        note.write_text("bread, cheese, batteries\n", "utf-8")
        cards.enrol(home, card, PROFILE, CARD)
        self.say(f"{card} stands in for the card, enrolled as {CARD} for the profile {PROFILE}.")
        self.say("A file of the listener's is on it already; syncd will leave it alone.")
        self._title("3. The first update")
        first = self._update(home)
        self._title("4. What the player shows")
        self._browse(card)
        self._title("5. The listener changes the library")
        for sentence in self._changes(library, ffmpeg):
            self.say(f"- {sentence}")
        self._title("6. The second update does that and nothing else")
        second = self._update(home)
        self.say("The moved folder cost nothing: the files on the card are where they belong.")
        kept = note.read_text("utf-8") == "bread, cheese, batteries\n"
        self.say(f"The listener's own file is {'as it was' if kept else 'CHANGED'}.")
        self._title("Where to go from here")
        self.say(f"Look around in {self.place}; delete it when you are done.")
        program = "syncd" if shutil.which("syncd") else sys.argv[0]
        self.say(f"  {program} --home {home.state.parent} browse {CARD}")
        self.say(f"  {program} --home {home.state.parent} verify {CARD}")
        self.say("Then your own library and card: syncd library add DIR; syncd enrol MOUNT ...")
        return done_event(first), done_event(second)

    def _title(self, text: str) -> None:
        self.say()
        self.say(text)
        self.say("-" * len(text))

    def _show_library(self, library: Path, files: list[Path]) -> None:
        music = [path for path in files if path.suffix != ".jpg"]
        kinds: dict[str, int] = {}
        for path in music:
            kinds[path.suffix[1:]] = kinds.get(path.suffix[1:], 0) + 1
        listed = ", ".join(f"{number} {kind}" for kind, number in sorted(kinds.items()))
        self.say(f"{count(len(music), 'track')} in {library}: {listed}.")
        self.say("Tagged by many hands; three of them, and how they are filed:")
        self.say()
        from syncd.library.tags import read_file
        from syncd.model import LibraryPath, TaggedFile
        from syncd.works.identify import identify

        read = [read_file(LibraryPath(str(path))) for path in music]
        tagged = [
            TaggedFile(str(path), reading.tags) for path, reading in zip(music, read, strict=True)
        ]
        filed = list(zip(music, read, identify(tagged), strict=True))
        # The less the tags have fields of their own for, the more there is to find out.
        filed.sort(key=lambda one: sum(name in one[1].tags for name in ("WORK", "COMPOSER")))
        picked: set[Path] = set()
        for path, reading, identity in filed:
            if identity.work is None or identity.composer is None or path.parent in picked:
                continue
            picked.add(path.parent)
            if len(picked) > 3:
                break
            movement = identity.movement.title if identity.movement else None
            works = ", ".join([identity.work.title, *identity.work.catalogue])
            said = [*reading.tags.get("ARTIST", ()), *reading.tags.get("TITLE", ())]
            self.say(f"  tags say  {' / '.join(said)}")
            self.say(
                f"  filed as  {identity.composer.sort} / {works}"
                + (f" / {movement}" if movement else "")
            )

    def _update(self, home: Home) -> Outcome:
        with home.only_writer():
            library = snapshot(home, self.bar, scan=True)
            with card_in_hand(home, CARD) as hand, updater(home, library, self.bar) as work:
                plan, _ = work.plan(hand.target)
                steps = {action: plan.count(action) for action in Action}
                self.say(
                    f"Planned: {steps[Action.PRESS]} to encode, {steps[Action.WRITE]} to write, "
                    f"{steps[Action.RENAME]} to move on the card, {steps[Action.REMOVE]} to remove."
                )
                if len(plan.steps) < 40:
                    for step in plan.steps:
                        self.say(f"  {step.action:<8}{step.target}")
                outcome = work.update(hand.target)
        applied = outcome.applied
        self.say(
            f"Done in {outcome.seconds:.1f} s: {outcome.pressed} encoded and checked, "
            f"{applied.written} written, {applied.renamed} moved, {applied.removed} removed; "
            f"{amount(applied.bytes_written)} to the card."
        )
        return outcome

    def _browse(self, card: Path) -> None:
        with Catalogue(find_catalogue(card).path) as catalogue:
            lines = list(outline(catalogue))
        self.say(lines[0])
        for title in ("Beethoven, Ludwig van", "Handel, George Frideric", "Popular"):
            self.say()
            for line in _block(lines, title):
                self.say(line)
        self.say()
        self.say("(Three of its lists; 'syncd browse' shows all.)")

    def _changes(self, library: Path, ffmpeg: str) -> Iterator[str]:
        from syncd.demo.make import add_recording, move_folder, remove_recording, retag_one

        yield retag_one(library)
        yield add_recording(library, ffmpeg)
        yield move_folder(library)
        yield remove_recording(library)


def _block(lines: list[str], title: str) -> list[str]:
    """The lines of the outline that belong to *title*: up to the next line that is not indented."""
    start = lines.index(title)
    block = [title]
    for line in lines[start + 1 :]:
        if not line.startswith(" "):
            break
        block.append(line)
    return block
