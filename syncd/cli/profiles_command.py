"""``syncd profiles``: the player profiles at hand."""

from pathlib import Path

import click

from syncd.cli.output import json_document
from syncd.profile import read_profile, sample_profiles


@click.group("profiles", invoke_without_command=True)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """List the player profiles, or check one of your own.

    To make your own, copy the file nearest to your player and change it.
    """
    if ctx.invoked_subcommand is not None:
        return
    listed = [(name, path, read_profile(path)) for name, path in sample_profiles().items()]
    if as_json:
        json_document(
            [
                {**profile.model_dump(), "name": name, "title": profile.name, "file": str(path)}
                for name, path, profile in listed
            ]
        )
        return
    for name, path, profile in listed:
        click.echo(f"{name}\n  {profile.name}. {profile.description}\n  {path}")


@command.command("check")
@click.argument("file", type=click.Path(path_type=Path))
def check(file: Path) -> None:
    """Say whether FILE is a valid player profile, and if not, what is wrong with it."""
    profile = read_profile(file)
    click.echo(f"{file} is valid: {profile.name}.")
