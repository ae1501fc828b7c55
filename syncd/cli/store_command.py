"""``syncd store``: the pressings kept at home."""

import time
from collections import defaultdict
from collections.abc import Callable, Iterable

import click

from syncd.cli.output import count, json_document, shown
from syncd.cli.writer import only_writer
from syncd.planner.amounts import amount
from syncd.settings import Home
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.store import Held, Store, Trimmed

_DAY_S = 86_400
_AGES = ((30, "a month"), (365, "a year"))


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
        size, held = store.size(), store.held()
    version = _version(home)
    kinds = _summed(held, lambda each: each.suffix.removeprefix("."))
    ages = _summed(held, _age)
    others = [each for each in held if each.made_by not in ("", version)]
    if as_json:
        json_document(
            {
                "folder": str(home.store),
                "pressings": size.pressings,
                "pressing_bytes": size.pressing_bytes,
                "pictures": size.pictures,
                "picture_bytes": size.picture_bytes,
                "kinds": kinds,
                "last_used": ages,
                "encoder": version,
                "by_other_versions": len(others),
                "by_unknown_versions": sum(not each.made_by for each in held),
            }
        )
        return
    click.echo(
        f"{home.store}: {count(size.pressings, 'pressing')} ({amount(size.pressing_bytes)}), "
        f"{count(size.pictures, 'picture')} ({amount(size.picture_bytes)})."
    )
    for title, parts in (("By kind", kinds), ("Last used", ages)):
        if parts:
            listed = (f"{name} {part['pressings']} ({amount(part['bytes'])})"
                      for name, part in parts.items())  # fmt: skip
            click.echo(f"  {title}: " + ", ".join(listed))
    if others:
        click.echo(
            shown(
                f"  {count(len(others), 'pressing')} made by another version of ffmpeg than "
                f"{version}: as good as ever; 'syncd store renew' has them made anew."
            )
        )


def _version(home: Home) -> str:
    return Ffmpeg(find_ffmpeg(home.settings().ffmpeg)).version()


def _age(held: Held) -> str:
    days = (time.time() - held.used) / _DAY_S
    return next((f"within {name}" for most, name in _AGES if days <= most), "longer ago")


def _summed(held: Iterable[Held], name_of: Callable[[Held], str]) -> dict[str, dict[str, int]]:
    found: dict[str, dict[str, int]] = defaultdict(lambda: {"pressings": 0, "bytes": 0})
    for each in held:
        part = found[name_of(each)]
        part["pressings"] += 1
        part["bytes"] += each.size
    return dict(sorted(found.items(), key=lambda item: -item[1]["bytes"]))


@command.command("trim")
@click.option("--to", "limit_gb", type=click.FloatRange(min=0), help="Keep at most so many GB.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def trim(home: Home, limit_gb: float | None, as_json: bool) -> None:
    """Remove the pressings that were not used for longest, until the rest fits the limit.

    What the cards that are plugged in hold is not removed, even if the limit is not reached then.
    """
    from syncd.cards import needed_pressings

    limit = home.settings().store_limit_gb if limit_gb is None else limit_gb
    with only_writer(home), Store(home.store) as store:
        done = store.trim(int(limit * 1e9), needed_pressings(home))
    _tell(done, as_json)
    if done.bytes_left > limit * 1e9 and not as_json:
        click.echo("The rest is what the cards that are plugged in hold.")


@command.command("renew")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def renew(home: Home, as_json: bool) -> None:
    """Remove the pressings that another version of ffmpeg made.

    They are made anew when they are needed. What lies on cards stays as it is.
    """
    version = _version(home)
    with only_writer(home), Store(home.store) as store:
        old = [each.key for each in store.held() if each.made_by not in ("", version)]
        done = store.remove(old)
    _tell(done, as_json)


def _tell(done: Trimmed, as_json: bool) -> None:
    if as_json:
        json_document(
            {"removed": done.removed, "bytes_removed": done.bytes_removed, "bytes": done.bytes_left}
        )
        return
    click.echo(
        f"{count(done.removed, 'pressing')} removed ({amount(done.bytes_removed)}); "
        f"{amount(done.bytes_left)} kept."
    )
