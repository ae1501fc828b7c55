"""``syncd review``: what wants a person's eye."""

import click

from syncd.cli import exits
from syncd.cli.damaged import DamagedFile, damaged_files
from syncd.cli.output import about, bars, count, json_document, shown, some
from syncd.cli.work import snapshot
from syncd.cli.writer import writer_if_free
from syncd.model import LibrarySnapshot
from syncd.settings import Home
from syncd.works.review import NAME_TO_FILL_IN, TITLE_TO_FILL_IN, Doubt, review


@click.command("review")
@click.option("--no-scan", is_flag=True, help="Take the library as the last scan found it.")
@click.option("--all", "everything", is_flag=True, help="List every track of a question.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(home: Home, no_scan: bool, everything: bool, as_json: bool) -> int:
    """List what wants a person's eye.

    Unsure works, gaps in recordings, files that cannot be read or were found damaged. With a
    question stands the command that settles it, and the entry for the errata file that it would
    write: you may as well paste that there yourself.
    Ends with status 1 if there is something to look at.
    """
    with writer_if_free(home) as free, bars(quiet=as_json) as bar:
        library = snapshot(home, bar, scan=free and not no_scan)
    doubts = review((entry.track.address, entry.identity) for entry in library.tracks)
    damaged = damaged_files(home, library)
    if as_json:
        json_document(
            {
                "errata_file": str(home.errata_file),
                "doubts": doubts,
                "unreadable": library.unreadable,
                "damaged": damaged,
                "away": library.away,
            }
        )
    else:
        _tell(home, doubts, library, damaged, None if everything else 5)
    left_out = any(not each.used for each in damaged)
    found = bool(doubts or library.unreadable or library.away or left_out)
    return exits.WITH_REMAINDER if found else exits.DONE


def _tell(
    home: Home,
    doubts: list[Doubt],
    library: LibrarySnapshot,
    damaged: list[DamagedFile],
    most: int | None,
) -> None:
    for doubt in doubts:
        _tell_doubt(doubt, most)
    for item in library.unreadable:
        click.echo(shown(f"Cannot be read: {about(item.path, item.reason)}"))
    _tell_damaged(damaged, most)
    for root in library.away:
        click.echo(shown(f"Away: {root} (unmounted or missing); what is known of it is kept."))
    found = [
        count(number, what)
        for number, what in (
            (len(doubts), "question"),
            (len(library.unreadable), "unreadable file"),
            (len(damaged), "damaged file"),
        )
        if number
    ]
    if found:
        *most_of_it, last = found
        click.echo(f"{', '.join(most_of_it)} and {last}." if most_of_it else f"{last}.")
    elif not library.away:
        click.echo("Nothing wants your eye.")
    if any(doubt.id for doubt in doubts):
        click.echo(
            shown(
                f"Answers are kept in {home.errata_file}; add --dry-run to one to see first what "
                "it would change."
            )
        )


def _tell_damaged(damaged: list[DamagedFile], most: int | None) -> None:
    if not damaged:
        return
    click.echo("Damaged:")
    for line in some(
        (f"  {about(each.path, each.reason)}" for each in damaged if not each.used), most
    ):
        click.echo(shown(line))
    for line in some((f"  used all the same: {each.path}" for each in damaged if each.used), most):
        click.echo(shown(line))
    if any(not each.used for each in damaged):
        click.echo(
            "  They, and the rest of their recordings, are left out of cards. To have one used all "
            "the same: syncd errata add --file PATH --damaged use"
        )
    click.echo()


def _tell_doubt(doubt: Doubt, most: int | None) -> None:
    click.echo(shown(doubt.question))
    folder = doubt.paths[0].rpartition("/")[0]
    together = folder and all(path.rpartition("/")[0] == folder for path in doubt.paths)
    if together:
        click.echo(shown(f"  in {folder}"))
    names = (path.rpartition("/")[2] if together else path for path in doubt.paths)
    for line in some((f"    {name}" for name in names), most):
        click.echo(shown(line))
    if doubt.id:
        for word, options in _answers(doubt):
            click.echo(f"  {word + ':':<12} syncd errata add --settle {doubt.id}{options}")
        for line in doubt.entry.splitlines():
            click.echo(shown(f"      {line}"))
    click.echo()


def _answers(doubt: Doubt) -> list[tuple[str, str]]:
    """What the answer may be, and the options that give it. Nothing of a tag's text is in them."""
    if "kind" in doubt.values:
        return [("if popular", ""), ("if works", " --kind work")]
    key = next(iter(doubt.values))
    other = f' --{key} "{NAME_TO_FILL_IN if key == "is-composer" else TITLE_TO_FILL_IN}"'
    return [("answer with", other)] if doubt.to_fill_in else [("if so", ""), ("if not", other)]
