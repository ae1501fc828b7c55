"""``syncd library``: the roots of the master library."""

from pathlib import Path

import click

from syncd.cli.output import json_document, shown
from syncd.library.index import LibraryIndex
from syncd.settings import Home


@click.group("library")
def command() -> None:
    """Say where the master library is: add, list, remove folders.

    The folders are only ever read.
    """


@command.command("add")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=click.Path())
@click.pass_obj
def add(home: Home, folders: tuple[str, ...]) -> None:
    """Add folders with music; everything below them belongs to the library."""
    with home.only_writer(), LibraryIndex(home.index_file) as index:
        for folder in folders:
            root = index.add_root(Path(folder).expanduser())
            click.echo(f"Added {shown(root)}. 'syncd scan' reads it.")


@command.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def list_roots(home: Home, as_json: bool) -> None:
    """List the library's folders."""
    with LibraryIndex(home.made().index_file) as index:
        roots = index.roots()
    listed = [{"path": root, "present": Path(root).is_dir()} for root in roots]
    if as_json:
        json_document(listed)
        return
    if not listed:
        click.echo("No library is known yet. Add one with: syncd library add DIR")
    for root in listed:
        click.echo(shown(root["path"]) + ("" if root["present"] else "  (away: not there now)"))


@command.command("remove")
@click.argument("folder", metavar="DIR", type=click.Path())
@click.pass_obj
def remove(home: Home, folder: str) -> None:
    """Forget a folder. Its files stay; they leave the cards at their next update."""
    with home.only_writer(), LibraryIndex(home.index_file) as index:
        root = index.remove_root(Path(folder).expanduser())
        click.echo(f"Forgot {shown(root)}. The files in it are untouched.")
