"""``syncd identify``: how files would be catalogued."""

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import click

from syncd.cli import exits
from syncd.cli.output import about, json_line, notice, shown
from syncd.errata_file import read_corrections
from syncd.errors import ItemProblem, SetupProblem
from syncd.library.kinds import promised_container
from syncd.library.sheetfiles import tracks_of
from syncd.library.tags import FileReading, read_file
from syncd.model import LibraryPath, TaggedFile
from syncd.settings import Home
from syncd.works.errata import Errata
from syncd.works.identify import explain, identify, to_json


@click.command("identify")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...", type=click.Path())
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a track.")
@click.pass_obj
def command(home: Home, paths: tuple[str, ...], as_json: bool) -> int:
    """Show how the files at PATH (files or folders) would be catalogued, and why.

    Needs no settings and no index, and writes nothing; errata at home are heeded. Ends with status
    1 if a file cannot be read.
    """
    errata = _errata(home)
    read: list[tuple[str, FileReading]] = []
    faults = 0
    for path in sorted(set(_music(paths))):
        try:
            reading = read_file(LibraryPath(path))
        except ItemProblem as problem:
            faults += 1
            notice(about(problem.item, problem.reason))
            continue
        read.append((path, reading))
    files, told = tracks_of(read)
    for text in told:
        notice(text)
    # The errata name a file by where it is, which a path from the current folder on may not tell.
    named = files if errata is None else [_where_it_is(file) for file in files]
    for file, identity in zip(files, identify(named, errata), strict=True):
        if as_json:
            json_line(to_json(file.path, identity))
        else:
            click.echo(shown(file.path))
            for line in explain(identity):
                click.echo(shown("  " + line))
    return exits.WITH_REMAINDER if faults else exits.DONE


def _errata(home: Home) -> Errata | None:
    """The listener's errata; faulty ones are told, and the tags alone are heeded."""
    try:
        return read_corrections(home)
    except SetupProblem as problem:
        notice(f"{problem} Until then the tags alone are heeded.")
        return None


def _where_it_is(file: TaggedFile) -> TaggedFile:
    return replace(file, path=str(Path(file.path).resolve()))


def _music(paths: tuple[str, ...]) -> Iterator[str]:
    """The music files among *paths* and below the folders among them; other files only if named."""
    for path in paths:
        place = Path(path)
        if not place.exists():
            raise click.ClickException(f"There is no file or folder {shown(path)}.")
        if not place.is_dir():
            yield path
            continue
        for folder, _, names in os.walk(path):
            for name in names:
                if promised_container(name) is not None:
                    yield os.path.join(folder, name)  # noqa: PTH118 - names need not be UTF-8
