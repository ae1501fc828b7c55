"""``syncd scan``: the library index brought up to date."""

import click

from syncd.cli import exits
from syncd.cli.output import about, bars, count, json_document, shown
from syncd.cli.work import refreshed
from syncd.cli.writer import only_writer
from syncd.errors import SetupProblem
from syncd.library.index import LibraryIndex
from syncd.settings import Home


@click.command("scan")
@click.option("--deep", is_flag=True, help="Read every file again, even if it looks unchanged.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(home: Home, deep: bool, as_json: bool) -> int:
    """Look for what changed in the master library.

    Files whose size, time and place are as before are believed; new and changed ones are read.
    Ends with status 1 if some file that should be music cannot be read.
    """
    with only_writer(home), LibraryIndex(home.index_file) as index:
        if not index.roots():
            raise SetupProblem(
                "No library is known yet. Say where your music is: syncd library add DIR."
            )
        with bars(quiet=as_json) as bar:
            result = refreshed(home, index, bar, deep=deep)
        found = result.scan
        unreadable = index.unreadable() if found.unreadable else ()
    if as_json:
        json_document(
            {
                "seen": found.seen,
                "new": found.new,
                "changed": found.changed,
                "moved": found.moved,
                "gone": found.gone,
                "identified": result.identified,
                "unreadable": unreadable,
                "away": found.away,
                "notices": found.notices,
            }
        )
    else:
        click.echo(
            f"{count(found.seen, 'music file')}: {found.new} new, {found.changed} changed, "
            f"{found.moved} moved, {found.gone} gone."
        )
        for item in unreadable:
            click.echo(shown(f"  cannot be read: {about(item.path, item.reason)}"))
    return exits.WITH_REMAINDER if unreadable or found.away else exits.DONE
