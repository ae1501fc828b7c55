"""``syncd browse``: a card's catalogue, as its player walks it."""

import click

from syncd import cards
from syncd.catalogue.browse import outline
from syncd.catalogue.reader import Catalogue, find_catalogue
from syncd.settings import Home


@click.command("browse")
@click.argument("card", metavar="CARD")
@click.pass_obj
def command(home: Home, card: str) -> None:
    """Walk through CARD's catalogue as its player does: lists, letters, works, recordings.

    The whole catalogue is printed as an outline.
    """
    _, mount = cards.find(home, card)
    with Catalogue(find_catalogue(mount).path) as catalogue:
        for line in outline(catalogue):
            click.echo(line)
