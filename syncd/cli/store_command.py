"""``syncd store``: the pressings kept at home."""

import click

from syncd.cli.output import amount, count, json_document
from syncd.settings import Home
from syncd.transcoder.store import Store


@click.group("store", invoke_without_command=True)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """Show or trim the pressings kept at home.

    They are only a convenience: whatever is removed is made again when it is needed.
    """
    if ctx.invoked_subcommand is not None:
        return
    home: Home = ctx.obj
    with Store(home.store) as store:
        held = store.size()
    if as_json:
        json_document({"folder": str(home.store), **_facts(held)})
        return
    click.echo(
        f"{home.store}: {count(held.pressings, 'pressing')} ({amount(held.pressing_bytes)}), "
        f"{count(held.pictures, 'picture')} ({amount(held.picture_bytes)})."
    )


def _facts(held: object) -> dict[str, int]:
    names = ("pressings", "pressing_bytes", "pictures", "picture_bytes")
    return {name: getattr(held, name) for name in names}


@command.command("trim")
@click.option("--to", "limit_gb", type=click.FloatRange(min=0), help="Keep at most so many GB.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def trim(home: Home, limit_gb: float | None, as_json: bool) -> None:
    """Remove the pressings that were not used for longest, until the rest fits the limit."""
    limit = home.settings().store_limit_gb if limit_gb is None else limit_gb
    with home.only_writer(), Store(home.store) as store:
        done = store.trim(int(limit * 1e9))
    if as_json:
        json_document(
            {"removed": done.removed, "bytes_removed": done.bytes_removed, "bytes": done.bytes_left}
        )
        return
    click.echo(
        f"{count(done.removed, 'pressing')} removed ({amount(done.bytes_removed)}); "
        f"{amount(done.bytes_left)} kept."
    )
