"""``syncd review``: what wants a person's eye."""

import click

from syncd.cli import exits
from syncd.cli.output import about, bars, count, json_document, shown, some
from syncd.cli.work import snapshot
from syncd.model import LibrarySnapshot
from syncd.settings import Home
from syncd.works.review import Doubt, review


@click.command("review")
@click.option("--no-scan", is_flag=True, help="Take the library as the last scan found it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(home: Home, no_scan: bool, as_json: bool) -> int:
    """List what wants a person's eye.

    Unsure works, gaps in recordings, files that cannot be read. With each question stands the
    entry for the errata file that would settle it: paste it there, fill it in, and scan again.
    Ends with status 1 if there is something to look at.
    """
    with home.only_writer(), bars(quiet=as_json) as bar:
        library = snapshot(home, bar, scan=not no_scan)
    doubts = review((entry.track.path, entry.identity) for entry in library.tracks)
    if as_json:
        json_document(
            {
                "errata_file": str(home.errata_file),
                "doubts": doubts,
                "unreadable": library.unreadable,
                "away": library.away,
            }
        )
    else:
        _tell(home, doubts, library)
    found = bool(doubts or library.unreadable or library.away)
    return exits.WITH_REMAINDER if found else exits.DONE


def _tell(home: Home, doubts: list[Doubt], library: LibrarySnapshot) -> None:
    for doubt in doubts:
        click.echo(shown(doubt.question))
        for line in some((f"  {path}" for path in doubt.paths), 5):
            click.echo(shown(line))
        for line in doubt.entry.splitlines():
            click.echo(shown(f"    {line}"))
        click.echo()
    for item in library.unreadable:
        click.echo(shown(f"Cannot be read: {about(item.path, item.reason)}"))
    for root in library.away:
        click.echo(shown(f"Away: {root} (unmounted or missing); what is known of it is kept."))
    if doubts:
        click.echo(
            shown(f"{count(len(doubts), 'question')}. The errata file is {home.errata_file}.")
        )
    elif not library.unreadable:
        click.echo("Nothing wants your eye.")
