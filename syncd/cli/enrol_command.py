"""``syncd enrol``: make a card known."""

import shlex
from pathlib import Path
from typing import Literal

import click

from syncd import cards
from syncd.at_home import card_in_hand, remember
from syncd.cli.output import json_document, shown
from syncd.cli.writer import only_writer
from syncd.errors import SetupProblem
from syncd.settings import Home


@click.command("enrol")
@click.argument("mount", type=click.Path(path_type=Path))
@click.option("--profile", required=True, metavar="NAME_OR_FILE", help="The player's profile.")
@click.option("--name", metavar="TEXT", help="What to call the card; default: the folder's name.")
@click.option(
    "--programme",
    metavar="FILE",
    help="What shall be on it; default: as before, at first everything.",
)
@click.option(
    "--everything", is_flag=True, help="Everything shall be on it again, by no programme."
)
@click.option(
    "--read-back/--no-read-back",
    default=None,
    help="Read what is written to it again and compare; default: as before, at first: yes.",
)
@click.option("--new-id", is_flag=True, help="Make the copy of another card a card of its own.")
@click.option(
    "--auto",
    type=click.Choice(["update", "ask first"]),
    help="What the daemon does when it arrives; default: as before, at first: update.",
)
@click.option(
    "--unmount/--no-unmount",
    default=None,
    help="Whether the daemon unmounts it when it is done; default: as before, at first: no.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(
    home: Home,
    mount: Path,
    profile: str,
    name: str | None,
    programme: str | None,
    everything: bool,
    read_back: bool | None,
    new_id: bool,
    auto: Literal["update", "ask first"] | None,
    unmount: bool | None,
    as_json: bool,
) -> None:
    """Make the card mounted at MOUNT known, for a certain player.

    Writes one small folder, SYNCD, to the card. The card is not formatted and nothing on it is
    changed; what is there stays. Enrol a card again to give it another profile or programme, or
    another of what is told here; what is not told stays as before.
    """
    if everything and programme is not None:
        raise SetupProblem("--programme and --everything exclude each other; give one of them.")
    with only_writer(home):
        record = cards.enrol(
            home,
            mount,
            profile,
            name,
            programme,
            everything=everything,
            read_back=read_back,
            new_id=new_id,
            auto=auto,
            unmount=unmount,
        )
        with card_in_hand(home, record.id) as hand:
            remember(home, hand)
    if as_json:
        json_document(record)
        return
    click.echo(shown(f"Enrolled {record.name} (id {record.id}) for {record.profile}."))
    if record.programme is not None:
        click.echo(shown(f"Its programme: {record.programme}"))
    click.echo(shown(f"See what an update would do: syncd plan {shlex.quote(record.name)}"))
