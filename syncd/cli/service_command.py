"""``syncd service``: the daemon as a service of the listener's session, and a word with it."""

import click

from syncd.cli import exits
from syncd.cli.output import notice, shown
from syncd.daemon import service
from syncd.daemon.asking import ask
from syncd.settings import Home


@click.group("service")
def command() -> None:
    """Have the daemon started with your session, or talk to it.

    A systemd user unit, or a launchd agent on macOS. Nothing of it needs root.
    """


@command.command("install")
@click.option("--print", "only_print", is_flag=True, help="Show what would be written; do nothing.")
@click.option("--replace", is_flag=True, help="Put aside another file that is in the way.")
@click.pass_obj
def install(home: Home, only_print: bool, replace: bool) -> int:
    """Write the service for this home, and start it now and with every session.

    A file that is not ours, or was edited, is not replaced without --replace. Ends with status 1
    if the file is written but the service could not be started.
    """
    made = service.service(home)
    if only_print:
        click.echo(f"# {made.path}", err=True)
        click.echo(made.text, nl=False)
        return exits.DONE
    before = service.read(made.path)
    problems = service.install(home, made, replace=replace)
    click.echo(shown(f"Written: {made.path}"))
    if before is not None and before != made.text:
        where = f"; that is {made.before} now" if not service.is_ours(before) else " of syncd's"
        notice(f"It took the place of another one{where}.")
    if problems:
        _tell(problems, "The service is written, but could not be started:")
        return exits.WITH_REMAINDER
    click.echo("The daemon runs, and starts with your session. 'syncd status' shows what it does.")
    if made.path.name == service.UNIT:
        click.echo("To have it run also while you are not logged in: loginctl enable-linger")
    return exits.DONE


@command.command("remove")
@click.option("--force", is_flag=True, help="Remove it also if it was edited.")
@click.pass_obj
def remove(home: Home, force: bool) -> int:
    """End the service and remove its file. What was in its place before is put back."""
    made = service.service(home)
    problems = service.remove(made, force=force)
    click.echo(shown(f"Removed: {made.path}"))
    if problems:
        _tell(problems, "Its file is gone, but:")
        return exits.WITH_REMAINDER
    return exits.DONE


@command.command("show")
@click.pass_obj
def show(home: Home) -> int:
    """Show the service file that is installed. Ends with status 1 if it is none of this home's."""
    made = service.service(home)
    present = service.read(made.path)
    if present is None:
        notice(f"No service is installed: there is no {made.path}.")
        return exits.WITH_REMAINDER
    click.echo(f"# {shown(made.path)}", err=True)
    for line in present.splitlines():
        click.echo(shown(line))
    if not service.is_ours(present):
        notice("It is not as syncd wrote it.")
    elif present == made.text:
        return exits.DONE
    else:
        notice("It is of another home, version or setting; 'syncd service install' renews it.")
    return exits.WITH_REMAINDER


@command.command("rescan")
@click.pass_obj
def rescan(home: Home) -> None:
    """Have the daemon scan the library, and look at cards and settings, now."""
    ask(home, "rescan")
    click.echo("The daemon looks through the library.")


@command.command("update")
@click.argument("card", metavar="CARD")
@click.pass_obj
def update(home: Home, card: str) -> None:
    """Have the daemon update CARD now; this does not wait for it."""
    name = ask(home, "update", card=card)["card"]
    click.echo(shown(f"The daemon updates {name}. 'syncd status' shows how far it is."))


@command.command("pause")
@click.pass_obj
def pause(home: Home) -> None:
    """Have the daemon stop at a safe point and begin nothing until 'resume', or a new start."""
    ask(home, "pause")
    click.echo("The daemon pauses.")


@command.command("resume")
@click.pass_obj
def resume(home: Home) -> None:
    """Have the daemon go on after a pause."""
    ask(home, "resume")
    click.echo("The daemon goes on.")


@command.command("stop")
@click.pass_obj
def stop(home: Home) -> None:
    """End the daemon at a safe point. As a service it starts again with the next session."""
    ask(home, "stop")
    click.echo("The daemon ends.")


def _tell(problems: list[str], title: str) -> None:
    notice(title)
    for problem in problems:
        notice(f"  {problem}")
