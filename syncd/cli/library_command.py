"""``syncd library``: the roots of the master library."""

from pathlib import Path

import click

from syncd.cli import exits
from syncd.cli.output import about, bars, count, json_document, shown
from syncd.cli.writer import only_writer
from syncd.library.index import LibraryIndex
from syncd.model import LeftOut
from syncd.settings import Home


@click.group("library")
def command() -> None:
    """Say where the master library is: add, list, remove folders; check its files.

    The folders are only ever read.
    """


@command.command("add")
@click.argument("folders", nargs=-1, required=True, metavar="DIR...", type=click.Path())
@click.pass_obj
def add(home: Home, folders: tuple[str, ...]) -> None:
    """Add folders with music; everything below them belongs to the library."""
    with only_writer(home), LibraryIndex(home.index_file) as index:
        for folder in folders:
            root = index.add_root(Path(folder).expanduser())
            click.echo(f"Added {shown(root)}. 'syncd scan' reads it.")


@command.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def list_roots(home: Home, as_json: bool) -> None:
    """List the library's folders."""
    with LibraryIndex(home.made().index_file) as index:
        roots = index.roots()
    listed = [{"path": root, "present": Path(root).is_dir()} for root in roots]
    if as_json:
        json_document(listed)
        return
    if not listed:
        click.echo("No library is known yet. Add one with: syncd library add DIR")
    for root in listed:
        click.echo(shown(root["path"]) + ("" if root["present"] else "  (away: not there now)"))


@command.command("remove")
@click.argument("folder", metavar="DIR", type=click.Path())
@click.pass_obj
def remove(home: Home, folder: str) -> None:
    """Forget a folder. Its files stay; they leave the cards at their next update."""
    with only_writer(home), LibraryIndex(home.index_file) as index:
        root = index.remove_root(Path(folder).expanduser())
        click.echo(f"Forgot {shown(root)}. The files in it are untouched.")


@command.command("check")
@click.option("--again", is_flag=True, help="Check also what was checked before.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def check(home: Home, again: bool, as_json: bool) -> int:
    """Decode every file to its end and list what is damaged.

    May be stopped and called again: it goes on where it was. Ends with status 1 if damage was
    found.
    """
    from syncd.cli.damaged import damaged_files
    from syncd.cli.work import snapshot
    from syncd.planner.recipe import Recipe
    from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
    from syncd.transcoder.pool import check_all
    from syncd.transcoder.store import Store

    settings = home.settings()
    problems: list[LeftOut] = []
    with only_writer(home), bars(quiet=as_json) as bar:
        library = snapshot(home, bar, scan=True)
        lost = {item.path for item in library.unreadable}
        away = tuple(root.rstrip("/") + "/" for root in library.away)
        with Store(home.store) as store:
            known = store.checks()
            if again:
                known.forget()
            tracks = [entry.track for entry in library.tracks if entry.track.path not in lost]
            items = [
                (track, Recipe("carry", track.audio.codec, track.audio.container, 0, 0))
                for track in tracks
                if not track.path.startswith(away)
            ]
            beyond = len(tracks) - len(items)
            todo = [item for item in items if not known.known(item[0].audio_hash)]
            total = int(sum(track.audio.duration_s for track, _ in todo))
            done_s = 0.0
            tool = Ffmpeg(find_ffmpeg(settings.ffmpeg))
            outcomes = check_all(todo, known, tool, workers=settings.workers)
            for done, outcome in enumerate(outcomes, 1):
                if outcome.problem is not None:
                    problems.append(LeftOut(outcome.track.address, outcome.problem.reason))
                done_s += outcome.track.audio.duration_s
                bar.show("check", f"Checking {done}/{len(todo)}", int(done_s), total)
        damaged = damaged_files(home, library)
    if as_json:
        json_document(
            {
                "tracks": len(tracks),
                "checked": len(todo),
                "damaged": damaged,
                "failed": problems,
                "away": library.away,
                "tracks_away": beyond,
            }
        )
    else:
        what = count(len(damaged), "damaged file") if damaged else "nothing damaged"
        what += " as far as is known" if beyond else ""
        click.echo(f"{count(len(tracks), 'track')}, {len(todo)} checked now: {what}.")
        for each in damaged:
            click.echo(shown(f"  {about(each.path, each.reason)}"))
        for problem in problems:
            click.echo(shown(f"  cannot be checked: {about(problem.path, problem.reason)}"))
        for root in library.away:
            click.echo(shown(f"Away: {root} (unmounted or missing)."))
        if beyond:
            click.echo(
                f"{count(beyond, 'track')} could not be read now. Mount what is away, and check "
                "again."
            )
    return exits.WITH_REMAINDER if damaged or problems or library.away else exits.DONE
