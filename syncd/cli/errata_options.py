"""The options of ``syncd errata add``: one for each key that an entry of the errata may have."""

import difflib
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import click

from syncd.errors import SetupProblem
from syncd.works.errata import LISTS, VALUES
from syncd.works.selectors import SELECTORS, Patterns

WHICH = {
    "file": ("PATH", "This file: its path, or how its path ends."),
    "folder": ("PATH", "All in this folder and below."),
    "album": ("NAME", "All of this album, as the tags name it."),
    "artist": ("NAME", "Whatever this artist plays, as the tags name them."),
    "composer": ("NAME", "Whatever the tags say is by this composer."),
}

WHAT = {
    "kind": ("KIND", "work, popular or unknown."),
    "is-composer": ("NAME", "Who composed it: Family name, Given names."),
    "work": ("TITLE", "The title of the work, without key and number."),
    "catalogue": ("NUMBER", "A catalogue number, as Op. 67 or BWV 988."),
    "key": ("KEY", "The key, as C minor."),
    "movement": ("NUMBER", "Which movement it is."),
    "movement-title": ("TITLE", "What the movement is called."),
    "conductor": ("NAME", "Who conducts."),
    "ensembles": ("NAME", "An orchestra, quartet or the like."),
    "choirs": ("NAME", "A choir."),
    "soloists": ("NAME", "A soloist: Name (instrument or voice)."),
    "arranger": ("NAME", "Who arranged it."),
    "recording": ("NAME", "Tracks with the same name here are one recording."),
    "tags": ("WORD", "A word of your own, that programmes of cards can ask for."),
    "damaged": ("use|leave out", "Whether it is put on cards although its audio is damaged."),
}

Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def corrections(function: Decorated) -> Decorated:
    """Give *function* an option for each selector (may be repeated) and each value."""
    for name in reversed((*SELECTORS, *VALUES)):
        metavar, text = WHICH.get(name) or WHAT[name]
        several = name in SELECTORS or name in LISTS
        function = click.option(f"--{name}", metavar=metavar, help=text, multiple=several)(function)
    return function


def selectors_of(given: Mapping[str, object]) -> dict[str, Patterns]:
    """The selectors among the options that were given."""
    found: dict[str, Patterns] = {}
    for name in SELECTORS:
        patterns = given.get(name)
        if isinstance(patterns, tuple) and patterns:
            found[name] = patterns[0] if len(patterns) == 1 else patterns
    return found


def values_of(given: Mapping[str, object]) -> dict[str, object]:
    """The values among the options that were given; a list that is given empty means nobody.

    Raises SetupProblem for an empty text.
    """
    found: dict[str, object] = {}
    for name in VALUES:
        value = given.get(name.replace("-", "_"))
        if value is None or value == ():
            continue
        if name in LISTS and isinstance(value, tuple):
            found[name] = tuple(item for item in value if item.strip())
            continue
        text = str(value).strip()
        if not text:
            raise SetupProblem(f"--{name} is empty. Write what is so, or leave it out.")
        found[name] = int(text) if name == "movement" and text.isdecimal() else text
    return found


class CorrectionCommand(click.Command):
    """A command whose help tells the two sorts of options apart, and that knows what it has not."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as error:
            names = [f"--{name}" for name in (*SELECTORS, *VALUES)]
            near = difflib.get_close_matches(str(error.option_name), names, n=1)
            meant = f" Did you mean {near[0]}?" if near else ""
            raise click.UsageError(
                f"{error.option_name} is not known here.{meant} Tracks are chosen by "
                f"{_options(SELECTORS)}; corrected can be {_options(VALUES)}.",
                ctx,
            ) from error

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        rows: dict[str, list[tuple[str, str]]] = {"which": [], "what": [], "options": []}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is None:
                continue
            name = (parameter.name or "").replace("_", "-")
            sort = "which" if name in WHICH else "what" if name in WHAT else "options"
            rows[sort].append(record)
        titles = {
            "which": "Which tracks (* and ? stand for letters; repeated: one of them)",
            "what": "What is so (those for several names may be repeated)",
            "options": "Options",
        }
        for sort, records in rows.items():
            with formatter.section(titles[sort]):
                formatter.write_dl(records)


def _options(names: tuple[str, ...]) -> str:
    return ", ".join(f"--{name}" for name in names)
