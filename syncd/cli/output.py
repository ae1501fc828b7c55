"""How commands print: JSON for scripts, plain sentences for people, progress on terminals.

Standard output carries what was asked for and nothing else; progress and notices go to standard
error.
"""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import click
import msgspec

from syncd.utf8 import for_json, printable


def shown(text: object) -> str:
    """*text* fit to be printed: odd bytes of file names and control characters made harmless."""
    cleaned = printable(str(text))
    return "".join(letter if letter.isprintable() else "�" for letter in cleaned)


def json_line(value: Any) -> None:
    """Print *value* as one line of JSON."""
    click.echo(msgspec.json.encode(for_json(value)).decode())


def json_document(value: Any) -> None:
    """Print *value* as one JSON document, indented."""
    click.echo(msgspec.json.format(msgspec.json.encode(for_json(value)), indent=2).decode())


def notice(text: str) -> None:
    """Tell the person something beside the result."""
    click.echo(shown(text), err=True)


def about(path: str, reason: str) -> str:
    """What is wrong with *path*, which the sentence may name already."""
    return reason if path in reason else f"{path}: {reason}"


def count(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: "1 track", "3 tracks"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def some(
    lines: Iterable[str], most: int | None, elsewhere: str = "--all lists them"
) -> Iterator[str]:
    """At most *most* of *lines*, then how many more there are; all if *most* is None.

    *elsewhere* says where all of them are listed.
    """
    listed = list(lines)
    if most is None or len(listed) <= most:
        yield from listed
        return
    yield from listed[:most]
    yield f"  ... and {len(listed) - most} more ({elsewhere})"


class Bars:
    """Progress bars on a terminal; nothing where standard error is none."""

    def __init__(self, progress: Any) -> None:
        self._progress = progress
        self._tasks: dict[str, Any] = {}

    def show(self, stage: str, text: str, done: float, total: float) -> None:
        """Show that *done* of *total* is done in *stage*; *total* 0 while unknown."""
        if self._progress is None:
            return
        task = self._tasks.get(stage)
        if task is None:
            task = self._tasks[stage] = self._progress.add_task(text, total=total or None)
        self._progress.update(task, description=text, completed=done, total=total or None)


@contextmanager
def bars(*, quiet: bool = False) -> Iterator[Bars]:
    """Progress bars for long work, gone when it is done."""
    if quiet or not sys.stderr.isatty():
        yield Bars(None)
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(bar_width=None),
        TextColumn("{task.percentage:>3.0f}%"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        yield Bars(progress)
