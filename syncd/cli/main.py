"""The program ``syncd``: global options, the list of commands, and how it ends.

Each command lives in a small module of its own that is imported only when it is called, so that a
scan with nothing new does not wait for the parts that it does not need.
"""

import gc
import importlib
import os
import signal
import sys
import threading

import click

from syncd import __version__
from syncd.cli import exits
from syncd.cli.output import shown
from syncd.errors import SyncdError
from syncd.settings import find_home

# Command -> (module below syncd.cli, the line that --help shows). The lines stand here so that
# listing the commands loads none of them; a test holds them against the commands' own help.
COMMANDS = {
    "demo": ("demo", "Make an invented library and a card, and show the whole job on them."),
    "library": (
        "library",
        "Say where the master library is: add, list, remove folders; check its files.",
    ),
    "scan": ("scan", "Look for what changed in the master library."),
    "identify": (
        "identify",
        "Show how the files at PATH (files or folders) would be catalogued, and why.",
    ),
    "review": ("review", "List what wants a person's eye."),
    "errata": ("errata", "Correct what the tags say: add, list, check the corrections."),
    "profiles": ("profiles", "List the player profiles, or check one of your own."),
    "enrol": ("enrol", "Make the card mounted at MOUNT known, for a certain player."),
    "cards": ("cards", "List the cards that are known, and which are plugged in."),
    "plan": (
        "plan",
        "Show what an update of CARD would do, and what would not fit. Changes nothing on it.",
    ),
    "update": (
        "update",
        "Bring CARD up to date: make what is missing, write it, publish the catalogue.",
    ),
    "verify": ("verify", "Read every byte on CARD again and compare it with what was written."),
    "browse": (
        "browse",
        "Walk through CARD's catalogue as its player does: lists, letters, works, recordings.",
    ),
    "manifest": (
        "manifest",
        "List every file that syncd put on CARD, with its size and content hash (xxh3_128).",
    ),
    "catalogue": ("catalogue", "Print what a player's firmware needs to read catalogues."),
    "store": ("store", "Show or trim the pressings kept at home."),
    "run": ("run", "Watch the library and update enrolled cards whenever they are plugged in."),
    "status": ("status", "Show what the daemon is doing, how far it is, and what is wrong."),
    "service": ("service", "Have the daemon started with your session, or talk to it."),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"syncd.cli.{COMMANDS[cmd_name][0]}_command")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="syncd")
@click.option("--home", metavar="DIR", help="Keep settings, state and store in DIR.")
@click.option("--settings", metavar="FILE", help="Read the settings from FILE.")
@click.option("--state", metavar="DIR", help="Keep library index, card records, errata in DIR.")
@click.option("--store", metavar="DIR", help="Keep the pressings in DIR.")
@click.pass_context
def cli(
    ctx: click.Context,
    home: str | None,
    settings: str | None,
    state: str | None,
    store: str | None,
) -> None:
    """Keep the cards of simple music players in step with your master library.

    syncd finds out composer, work, recording and movement of your files, makes for each player
    what it can play, and brings its card up to date with a catalogue to browse by. It never writes
    to your library, and on a card it touches only files of its own.

    \b
    The usual way:
      syncd library add ~/Music
      syncd scan
      syncd enrol /media/me/CARD --profile mcu-mp3
      syncd update /media/me/CARD

    CARD, in the commands below, is a mount point, a card's name or its id. The places of settings,
    state and store can also be given as SYNCD_HOME, SYNCD_SETTINGS, SYNCD_STATE, SYNCD_STORE.

    \b
    Exit status: 0 all done; 1 done, with items left out or a difference found;
    2 nothing started; 3 a card failed; 130 interrupted.
    """
    ctx.obj = find_home(home, settings, state, store)


_COLLECT_AFTER = 50_000
"""New objects after which Python looks for cycles. Modules are made of objects, and none is one:
its usual 700 cost an update's start a tenth of its time."""

CHANGING = frozenset({"demo", "scan", "update", "verify"})
"""Commands that stop half way when nobody reads their output any more."""


def _asked_to_end(number: int, frame: object) -> None:
    """Take SIGTERM and SIGHUP as Ctrl-C: encoders are ended, and nothing half made is left."""
    raise KeyboardInterrupt


def _misused(error: click.ClickException) -> str:
    """What is wrong with the words of a call, in the form of all our errors."""
    message = error.format_message()
    if message.startswith("Usage: "):  # called without any words: the help itself
        return message
    message = shown(message) if message.endswith((".", "?")) else shown(message) + "."
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is not None:
        message += f" '{context.command_path} --help' shows how it is called."
    return f"syncd: {message}"


def main() -> None:
    """Run the program and exit with its status."""
    gc.set_threshold(_COLLECT_AFTER)
    if threading.current_thread() is threading.main_thread():
        for asking in (signal.SIGTERM, signal.SIGHUP):
            if signal.getsignal(asking) is signal.SIG_DFL:  # nohup's wish to go on is kept
                signal.signal(asking, _asked_to_end)
    try:
        # Not cli.main(): that would end with status 1 when the reader of a pipe goes away.
        with cli.make_context("syncd", sys.argv[1:]) as context:
            status = cli.invoke(context)
        sys.stdout.flush()
        sys.exit(status if isinstance(status, int) else exits.DONE)
    except click.exceptions.Exit as ended:
        sys.exit(ended.exit_code)
    except click.ClickException as error:
        click.echo(_misused(error), err=True)
        sys.exit(exits.NOT_STARTED)
    except (KeyboardInterrupt, click.Abort):
        click.echo(
            "\nInterrupted. What was finished is kept; the same command goes on from there.",
            err=True,
        )
        sys.exit(exits.INTERRUPTED)
    except SyncdError as error:
        lines = str(error).split("\n")
        click.echo("syncd: " + "\n".join(shown(line) for line in lines), err=True)
        sys.exit(exits.status_of(error))
    except BrokenPipeError:
        # The reader of a pipe went away (head, less): nothing more to say, to nobody.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(exits.INTERRUPTED if CHANGING & set(sys.argv[1:]) else exits.DONE)
