"""``syncd errata``: the listener's corrections, added, listed and checked without an editor."""

from collections.abc import Callable, Mapping
from pathlib import Path

import click

from syncd.cli import exits
from syncd.cli.errata_options import CorrectionCommand, corrections, selectors_of, values_of
from syncd.cli.output import count, json_document, notice, shown, some
from syncd.errata_file import add_correction, errata_text
from syncd.errors import SetupProblem
from syncd.library.index import LibraryIndex
from syncd.model import Kind, LibraryPath
from syncd.planner.matching import known_composer, known_composer_near
from syncd.settings import Home
from syncd.works.corrections import Change, effect, tracks_by_line
from syncd.works.errata import (
    Entry,
    Errata,
    check_entry,
    entry_text,
    examine,
    read_errata,
)
from syncd.works.identify import to_json, unit_of
from syncd.works.review import Doubt, review
from syncd.works.selectors import Patterns, literal


@click.group("errata")
def command() -> None:
    """Correct what the tags say: add, list, check the corrections.

    They are kept at home in a text file, the errata; the master library is never touched. The file
    may also be written by hand: comments and order stay as they are.
    """


@command.command("add", cls=CorrectionCommand)
@corrections
@click.option(
    "--settle", metavar="ID", help="The tracks, and the answer, of a question of 'syncd review'."
)
@click.option("--dry-run", is_flag=True, help="Show what would change; write nothing.")
@click.option("--anyway", is_flag=True, help="Write it even if it changes nothing now.")
@click.option("--all", "everything", is_flag=True, help="List every track that changes.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def add(
    home: Home,
    /,
    settle: str | None,
    dry_run: bool,
    anyway: bool,
    everything: bool,
    as_json: bool,
    **given: object,
) -> int:
    """Add a correction, and show what it changes.

    Say which tracks are meant and what is so; more than one choice of tracks: all have to fit. The
    library is taken as the last scan found it; the next scan files it anew.

    \b
      syncd errata add --folder "Box/CD 1" --is-composer "Haydn, Joseph"
      syncd errata add --artist "Lowlands Trio" --is-composer Weber
      syncd errata add --file "CD 1/03*" --work "Piano Sonata No. 3" --movement 2
      syncd errata add --settle 3f9a01c2
    """
    before = _sound(home)
    with LibraryIndex(home.made().index_file) as index:
        roots = index.roots()
        if not roots:
            raise SetupProblem(
                "No library is known yet. Say where your music is: syncd library add DIR."
            )
        selectors = _placed(selectors_of(given), roots)
        values = values_of(given)
        if settle is not None:
            selectors, values = _settled(index, settle, selectors, values)
        entry = check_entry(selectors, values)
        units = index.tagged_units(unit_of, everything=True)
        paths, altered = effect(units, before, entry)
    if not altered and not anyway and not (paths and "damaged" in values):
        raise SetupProblem(_without_effect(paths))
    line = None if dry_run else add_correction(home, selectors, values)
    text = entry_text(selectors, values)
    if as_json:
        json_document(
            {
                "errata_file": str(home.errata_file),
                "entry": text,
                "written": line is not None,
                "line": line,
                "tracks": paths,
                "changes": [_as_json(change) for change in altered],
            }
        )
        return exits.DONE
    _tell_changes(altered, len(paths), None if everything else 5)
    if meant := _meant(values.get("is-composer")):
        notice(meant)
    for row in text.splitlines():
        click.echo(shown(f"    {row}"))
    click.echo()
    if line is None:
        click.echo(shown(f"This was a dry run: {home.errata_file} stays as it is."))
    else:
        click.echo(
            shown(f"Added to {home.errata_file}, line {line}. The next scan files the tracks so.")
        )
    return exits.DONE


@command.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def list_entries(home: Home, as_json: bool) -> None:
    """List the corrections, and how many tracks each touches.

    The library is taken as the last scan found it.
    """
    errata = _sound(home)
    touched = _touched(home, errata)
    if as_json:
        json_document({"errata_file": str(home.errata_file), "entries": _rows(errata, touched)})
        return
    if not errata.entries:
        click.echo(shown(f"No corrections yet. They are kept in {home.errata_file}."))
    for entry in errata.entries:
        click.echo(shown(_sentence(entry, touched)))


@command.command("check")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def check(home: Home, as_json: bool) -> int:
    """Say which corrections are wrong, or touch no track.

    Ends with status 2 if an entry is wrong (then no command takes the errata), with status 1 if one
    touches no track of the library as the last scan found it.
    """
    errata, faults = examine(errata_text(home) or "", str(home.errata_file))
    touched = _touched(home, errata)
    idle = [entry for entry in errata.entries if touched is not None and not touched[entry.line]]
    if as_json:
        json_document(
            {
                "errata_file": str(home.errata_file),
                "faults": faults,
                "entries": _rows(errata, touched),
                "touch_nothing": [entry.line for entry in idle],
            }
        )
    else:
        for fault in faults:
            click.echo(shown(fault.message))
        for entry in idle:
            click.echo(
                shown(
                    f"{home.errata_file}, line {entry.line}: {_which(entry)} fits no track of the "
                    "library. Correct the name, scan if the music is new, or remove the entry."
                )
            )
        if touched is None:
            click.echo("No library is known yet, so nobody can tell which tracks are touched.")
        if not faults and not idle:
            click.echo(f"{count(len(errata.entries), 'correction')}, nothing wrong.")
    if faults:
        return exits.NOT_STARTED
    return exits.WITH_REMAINDER if idle else exits.DONE


def _meant(composer: object) -> str:
    """That a composer who is not known may be one who is; empty where there is nothing to say."""
    name = str(composer or "")
    if not name or known_composer(name) is not None:
        return ""
    near = known_composer_near(name)
    if near is None or near == name:
        return ""
    return f"No composer “{name}” is known. If {near} is meant, give --is-composer that name.\n"


# -- what an entry does --------------------------------------------------------------------------


def _sound(home: Home) -> Errata:
    """The errata, empty where there is no file. Raises SetupProblem, naming the line of a fault."""
    return read_errata(errata_text(home) or "", str(home.errata_file))


def _touched(home: Home, errata: Errata) -> dict[int, int] | None:
    """How many tracks each entry touches, by its line; None where no library is known."""
    with LibraryIndex(home.made().index_file) as index:
        if not index.roots():
            return None
        units = index.tagged_units(unit_of, everything=True)
        return tracks_by_line(errata, (file for unit in units for file in unit))


def _placed(
    selectors: Mapping[str, Patterns], roots: tuple[LibraryPath, ...]
) -> dict[str, Patterns]:
    """*selectors*, with what names a file or folder of the library named from its root on."""

    def placed(text: str) -> str:
        found = Path(text).expanduser().resolve()
        for root in map(Path, roots):
            if root in found.parents and found.exists():
                return literal(f"{root.name}/{found.relative_to(root)}".lstrip("/"))
            if root == found:
                return literal(str(root))
        return text

    def each(patterns: Patterns, change: Callable[[str], str]) -> Patterns:
        if isinstance(patterns, str):
            return change(patterns)
        return tuple(change(pattern) for pattern in patterns)

    return {
        name: each(patterns, placed) if name in ("file", "folder") else patterns
        for name, patterns in selectors.items()
    }


def _settled(
    index: LibraryIndex, wanted: str, selectors: dict[str, Patterns], values: dict[str, object]
) -> tuple[dict[str, Patterns], dict[str, object]]:
    """Selectors and values that settle the question with the id *wanted*."""
    if selectors:
        raise SetupProblem(
            f"--settle {shown(wanted)} chooses the tracks already; leave out "
            f"{', '.join(f'--{name}' for name in selectors)}."
            + (" Who composed them is said by --is-composer." if "composer" in selectors else "")
        )
    doubts = review((entry.track.address, entry.identity) for entry in index.snapshot().tracks)
    doubt = next((doubt for doubt in doubts if doubt.id and doubt.id == wanted.lower()), None)
    if doubt is None:
        raise SetupProblem(
            f"No question has the id {shown(wanted)}. 'syncd review' lists the questions that are "
            "open, with their ids."
        )
    return dict(doubt.selectors), values or _answer(doubt)


def _answer(doubt: Doubt) -> dict[str, object]:
    if doubt.to_fill_in:
        raise SetupProblem(
            f"{shown(doubt.question)} Answer with "
            f"{', '.join(f'--{key} TEXT' for key in doubt.to_fill_in)}."
        )
    return {**doubt.values}


def _without_effect(paths: list[str]) -> str:
    if not paths:
        return (
            "No track of the library fits, as the last scan found it, so nothing was written. "
            "Correct the names (* stands for any letters), scan if the music is new, or add "
            "--anyway for music that is still to come."
        )
    return (
        f"Nothing would change: {count(len(paths), 'track is', 'tracks are')} filed so already, "
        "or it has no place there (popular music has no works and movements). So nothing was "
        "written. To write it all the same, add --anyway."
    )


# -- telling -------------------------------------------------------------------------------------


def _tell_changes(altered: list[Change], fitting: int, most: int | None) -> None:
    click.echo(
        f"Chosen: {count(fitting, 'track')}. Filed otherwise, or more surely: {len(altered):,}.\n"
    )
    groups: dict[tuple[object, ...], list[Change]] = {}
    for change in altered:
        folder = change.path.rpartition("/")[0]
        groups.setdefault((folder, change.differences), []).append(change)
    for group in groups.values():
        for line in some((change.path for change in group), most):
            click.echo(shown(line))
        for name, old, new in group[0].differences:
            click.echo(shown(f"  {name + ':':<15} {old or 'not told'} → {new or 'not told'}"))
        if not group[0].differences:
            click.echo("  filed as before, and more surely")
        click.echo()


def _as_json(change: Change) -> dict[str, object]:
    return {
        "path": change.path,
        "differences": [
            {"what": name, "before": old or None, "after": new or None}
            for name, old, new in change.differences
        ],
        "before": to_json(change.path, change.before),
        "after": to_json(change.path, change.after),
    }


def _rows(errata: Errata, touched: Mapping[int, int] | None) -> list[dict[str, object]]:
    return [
        {
            "line": entry.line,
            "selectors": dict(entry.selectors),
            "values": dict(entry.values),
            "tracks": None if touched is None else touched[entry.line],
        }
        for entry in errata.entries
    ]


def _sentence(entry: Entry, touched: Mapping[int, int] | None) -> str:
    said = ", ".join(f"{name} {_quoted(value, ' and ')}" for name, value in entry.values)
    many = "" if touched is None else f"  ({count(touched[entry.line], 'track')})"
    return f"line {entry.line}: {_which(entry)}: {said}{many}"


def _which(entry: Entry) -> str:
    return " and ".join(f"{name} {_quoted(value, ' or ')}" for name, value in entry.selectors)


def _quoted(value: object, between: str) -> str:
    if isinstance(value, tuple):
        return between.join(_quoted(item, between) for item in value) if value else "nobody"
    return f"“{value.value if isinstance(value, Kind) else value}”"
