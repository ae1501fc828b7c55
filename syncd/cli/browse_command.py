"""``syncd browse``: a card's catalogue, as its player walks it."""

import shlex
import shutil
import sys
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import click

from syncd import cards
from syncd.catalogue import contract
from syncd.catalogue.browse import outline, search, tree
from syncd.catalogue.contract import Step
from syncd.catalogue.cost import Cost, CountingConnection
from syncd.catalogue.reader import Catalogue, EntryRow, HomeList, find_catalogue
from syncd.catalogue.rows import LISTS
from syncd.catalogue.showing import counted, group_line, shown
from syncd.catalogue.walk import Walk
from syncd.cli.output import json_document
from syncd.cli.terminal import draw, keys
from syncd.errors import CardProblem, SetupProblem
from syncd.settings import Home


@click.command("browse")
@click.argument("card", metavar="CARD")
@click.option("--outline", "whole", is_flag=True, help="Print everything, also on a terminal.")
@click.option(
    "--list", "name", type=click.Choice([name for name, _ in LISTS]), help="Print one list."
)
@click.option("--letter", metavar="LETTER", help="With --list: only what stands under LETTER.")
@click.option("--search", "text", metavar="TEXT", help="Print what the letters of TEXT find.")
@click.option("--cost", is_flag=True, help="Tell how many pages each step read from the card.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(
    home: Home,
    card: str,
    whole: bool,
    name: str | None,
    letter: str | None,
    text: str | None,
    cost: bool,
    as_json: bool,
) -> None:
    """Walk through CARD's catalogue as its player does: lists, letters, works, recordings.

    On a terminal by keys: arrows move, open and go back, a letter jumps, / searches, q ends. In a
    pipe, or with --outline, the whole catalogue is printed as an outline.
    """
    if letter is not None and name is None:
        raise SetupProblem("--letter belongs to a list; give --list with it.")
    record, mount = cards.find(home, card)
    path = _catalogue_of(record, mount)
    counting = _Counting(path) if cost else None
    with counting.catalogue if counting is not None else Catalogue(path) as catalogue:
        if text is not None or name is not None:
            _print_part(catalogue, name, letter, text, as_json, counting)
        elif as_json:
            json_document(tree(catalogue) | ({"cost": counting.told()} if counting else {}))
        elif not whole and sys.stdin.isatty() and sys.stdout.isatty():
            _walk(catalogue, counting)
        else:
            for line in outline(catalogue):
                click.echo(line)
            if counting is not None:
                click.echo(counting.line("Everything", counting.since()))


def _catalogue_of(record: cards.CardRecord, mount: Path) -> Path:
    """The catalogue on the card at *mount*. Raises CardProblem when it should have one and has not.

    Raises SetupProblem when its profile asks for none: then nothing is wrong with the card.
    """
    try:
        return find_catalogue(mount).path
    except CardProblem:
        if record.read_profile().catalogue.present:
            raise
        raise SetupProblem(
            f"{record.name} has no catalogue to browse: its profile {record.profile} asks for "
            f"none. What is on it: syncd manifest {shlex.quote(record.name)}."
        ) from None


class _Counting:
    """A catalogue whose reads are counted, with what was counted between two looks."""

    def __init__(self, path: Path) -> None:
        held: list[CountingConnection] = []

        def opened(file: Path) -> CountingConnection:
            held.append(CountingConnection(file, contract.WARM_PAGES))
            return held[0]

        self.catalogue = Catalogue(path, opened)
        self._connection = held[0]
        self._before = Cost()
        self._steps: list[dict[str, object]] = []

    def since(self) -> Cost:
        """What was read since the last time, or since the opening."""
        total = self._connection.total
        spent, self._before = total - self._before, total
        return spent

    def take(self, step: Step) -> str:
        """The line that tells what *step*, just taken, cost."""
        spent = self.since()
        self._steps.append({"step": step.name, "budget": step.reads} | asdict(spent))
        return self.line(f"Step {step.name}", spent) + f" At most {step.reads} are promised."

    def told(self) -> list[dict[str, object]]:
        """All steps taken, for JSON."""
        return self._steps or [asdict(self.since())]

    @staticmethod
    def line(what: str, spent: Cost) -> str:
        """What *spent* was for, and how much it was."""
        return (
            f"{what}: {counted(spent.reads, 'read')}, {spent.bytes:,} bytes, "
            f"{spent.vm_steps:,} steps of SQLite."
        )


def _print_part(
    catalogue: Catalogue,
    name: str | None,
    letter: str | None,
    text: str | None,
    as_json: bool,
    counting: _Counting | None,
) -> None:
    rows: list[EntryRow] = []
    told: list[str] = []
    if counting is not None:
        counting.take(contract.BOOT)
    if text is not None:
        for prefix, best in search(catalogue, text):
            rows = best
            said = [f"{counted(prefix.count, 'hit')}; {' '.join(prefix.letters)}".rstrip("; ")]
            if counting is not None:
                told.append(counting.take(contract.SEARCH))
        told = said + told
    if name is not None:
        step = contract.SHOW_LIST if letter is None else contract.JUMP
        rows = list(_listed(catalogue, catalogue.list_named(name), letter))
        if counting is not None:
            told.append(counting.take(step))
    if as_json:
        document: dict[str, object] = {"rows": [asdict(row) for row in rows]}
        json_document(document | ({"cost": counting.told()} if counting is not None else {}))
        return
    for row in rows:
        line = group_line(row) if row.seconds else f"{shown(row.label)}  {row.count:,}"
        click.echo(line)
    for line in told:
        click.echo(line, err=True)


def _listed(catalogue: Catalogue, home: HomeList, letter: str | None) -> Iterator[EntryRow]:
    """The rows of a list, or those under one letter."""
    if letter is None:
        yield from catalogue.children(home)
        return
    jumps = catalogue.letters(home)
    ends = [jump.first for jump in jumps[1:]] + [home.first + home.count]
    for jump, end in zip(jumps, ends, strict=False):
        if jump.letter == letter.upper():
            yield from catalogue.between(jump.first, end)
            return
    there = ", ".join(jump.letter for jump in jumps)
    raise SetupProblem(
        f"Nothing in the list {home.list} stands under {letter!r}. "
        + (f"Letters: {there}." if there else "It is short and has no letters; leave --letter out.")
    )


def _walk(catalogue: Catalogue, counting: _Counting | None) -> None:
    told: list[str] = []
    walk = Walk(catalogue, None if counting is None else lambda s: told.append(counting.take(s)))
    with keys() as pressed:
        while True:
            width = shutil.get_terminal_size().columns
            sys.stdout.write(draw([*walk.lines(), *told], width))
            sys.stdout.flush()
            told.clear()
            key = next(pressed, None)
            if key is None or not walk.press(key):
                return
