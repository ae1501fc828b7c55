"""``syncd browse``: a card's catalogue, as its player walks it."""

import sys

import click

from syncd import cards
from syncd.catalogue.browse import run_browse
from syncd.catalogue.reader import Catalogue, find_catalogue
from syncd.settings import Home


@click.command("browse")
@click.argument("card", metavar="CARD")
@click.option("--outline", is_flag=True, help="Print everything at once, also on a terminal.")
@click.pass_obj
def command(home: Home, card: str, outline: bool) -> None:
    """Walk through CARD's catalogue as its player does: lists, letters, works, recordings.

    In a pipe, or with --outline, the whole catalogue is printed as an outline.
    """
    _, mount = cards.find(home, card)
    found = find_catalogue(mount)
    walking = sys.stdin.isatty() and sys.stdout.isatty() and not outline
    with Catalogue(found.path) as catalogue:
        run_browse(catalogue, interactive=walking, out=sys.stdout)
