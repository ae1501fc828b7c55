"""``syncd catalogue``: the catalogue's contract, for who writes a player's firmware."""

from pathlib import Path

import click

from syncd.catalogue.header import header as header_text
from syncd.errors import SetupProblem


@click.group("catalogue")
def command() -> None:
    """Print what a player's firmware needs to read catalogues."""


@command.command("header")
@click.option(
    "--output",
    "-o",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write FILE instead of printing.",
)
def header(output: Path | None) -> None:
    """Print the C header of the catalogue's contract.

    It holds the form, statements, columns, limits, and the rule by which a player chooses a slot.
    docs/firmware.md explains them and has a whole program that uses them.
    """
    if output is None:
        click.echo(header_text(), nl=False)
        return
    try:
        output.write_text(header_text(), "ascii", newline="\n")
    except OSError as error:
        raise SetupProblem(
            f"The header cannot be written to {output}: {error.strerror}. "
            "Name a file in a folder that is there and can be written."
        ) from error
