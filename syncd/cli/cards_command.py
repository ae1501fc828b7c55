"""``syncd cards``: the cards that are known."""

from pathlib import Path

import click

from syncd import cards
from syncd.cli.output import json_document, notice, shown
from syncd.cli.writer import only_writer
from syncd.settings import Home


@click.command("cards")
@click.option("--forget", metavar="CARD", help="Forget the card of this name or id.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(home: Home, forget: str | None, as_json: bool) -> None:
    """List the cards that are known, and which are plugged in.

    A card that is forgotten keeps what is on it, and is not updated any more until it is enrolled
    again.
    """
    if forget is not None:
        with only_writer(home):
            gone = cards.forget(home, forget)
        click.echo(shown(f"Forgot {gone.name} (id {gone.id}). What is on it stays."))
        return
    known = cards.records(home)
    mounted = list(cards.mounted_cards()) if known else []
    listed = []
    copied = []
    for record in known:
        last = [Path(record.mount)] if record.mount else []
        places = [str(place) for place in cards.places_of(record.id, last, mounted)]
        if len(places) > 1:
            copied.append(f"{record.name} is plugged in more than once: {', '.join(places)}.")
        listed.append(
            {
                "name": record.name,
                "id": record.id,
                "profile": record.profile,
                "programme": record.programme,
                "plugged_in": bool(places),
                "mount": places[0] if places else None,
                "copies": places[1:],
            }
        )
    damaged = cards.damaged_records(home)
    for text in (*damaged, *copied):
        notice(text)
    if as_json:
        json_document(listed)
        return
    if not listed and not damaged:
        click.echo("No card is known yet. Make one known with: syncd enrol MOUNT --profile NAME")
    for card in listed:
        place = f"at {card['mount']}" if card["plugged_in"] else "not plugged in"
        click.echo(shown(f"{card['name']}  {card['id']}  {card['profile']}  {place}"))
