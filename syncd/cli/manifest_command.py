"""``syncd manifest``: what syncd put on a card."""

from dataclasses import asdict

import click

from syncd import cards
from syncd.applier.folder_volume import FolderVolume
from syncd.applier.reading import read_card
from syncd.cli.output import json_line, notice, shown
from syncd.settings import Home


@click.command("manifest")
@click.argument("card", metavar="CARD")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a file.")
@click.pass_obj
def command(home: Home, card: str, as_json: bool) -> None:
    """List every file that syncd put on CARD, with its size and content hash (xxh3_128)."""
    record, mount = cards.find(home, card)
    with FolderVolume(mount, record.name) as volume:
        reading = read_card(volume)
    for text in reading.notices:
        notice(text)
    for entry in reading.state.entries:
        if as_json:
            json_line(asdict(entry))
        else:
            click.echo(shown(f"{entry.xxh3_128}  {entry.size:>12}  {entry.path}"))
