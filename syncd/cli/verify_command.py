"""``syncd verify``: read a card again and compare."""

import shlex
from collections.abc import Sequence
from contextlib import AbstractContextManager

import click

from syncd.applier.reading import read_card
from syncd.applier.verify import Verified, verify
from syncd.catalogue_check import with_catalogue
from syncd.cli import exits
from syncd.cli.output import Bars, bars, count, json_document, notice, shown, some
from syncd.cli.plan_command import IN_PART
from syncd.cli.update_command import summary
from syncd.cli.work import Hand, card_in_hand, snapshot, updater
from syncd.cli.writer import only_writer, writer_if_free
from syncd.errors import CardProblem, SetupProblem
from syncd.planner.amounts import amount
from syncd.planner.plan import Plan
from syncd.settings import Home
from syncd.updating.values import Outcome


@click.command("verify")
@click.argument("card", metavar="CARD")
@click.option("--repair", is_flag=True, help="Write damaged files anew, from the store.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(home: Home, card: str, repair: bool, as_json: bool) -> int:
    """Read every byte on CARD again and compare it with what was written.

    The catalogue is compared row by row with what it should say: each track must be reached by
    every way that should lead to it, and by no other. What the system holds in memory is dropped
    first, so that the card itself is read. Ends with status 1 if a difference was found, unless
    --repair mended it. A card that does not keep what was written to it should be replaced.
    """
    outcome: Outcome | None = None
    with _alone(home, repair), bars(quiet=as_json) as bar, card_in_hand(home, card) as hand:
        if not hand.target.volume.space().read_only:
            hand.target.volume.barrier()  # memory lets go of what is written only
        reading = read_card(hand.target.volume, largest_file_bytes=hand.target.largest_file_bytes)
        total = sum(entry.size for entry in reading.state.entries)
        read = 0

        def told(path: str, size: int) -> None:
            nonlocal read
            read += size
            bar.show("verify", "Reading", read, total)

        found = verify(hand.target.volume, reading, told)
        plan = _plan(home, bar, hand)
        found = with_catalogue(found, hand.mount, reading, plan, hand.target.profile)
        if repair and (found.faults or reading.state.unfinished):
            library = snapshot(home, bar, scan=False)
            with updater(home, library, bar) as work:
                outcome = work.update(hand.target, found)
    # An update that was interrupted before its first end has a journal to compare by.
    nothing_known = reading.manifest_absent and not found.faults and not reading.state.entries
    in_part = plan.in_part if plan is not None and outcome is None else ()
    _tell(found, hand, outcome, nothing_known, in_part, as_json)
    if outcome is None:
        sound = not (found.faults or nothing_known)
    else:
        sound = not (outcome.unmended or outcome.lost)
    return exits.DONE if sound else exits.WITH_REMAINDER


def _alone(home: Home, repair: bool) -> AbstractContextManager[object]:
    """To read alone need not wait for another card's update, but the daemon is asked to pause."""
    return only_writer(home) if repair else writer_if_free(home, "")


def _plan(home: Home, bar: Bars, hand: Hand) -> Plan | None:
    """What an update would do, None where no library is known, or nothing can be planned."""
    try:
        library = snapshot(home, bar, scan=False)
        with updater(home, library, bar) as work:
            return work.plan(hand.target)[0]
    except (SetupProblem, CardProblem):
        return None  # then the catalogue is checked without


def _tell(
    found: Verified,
    hand: Hand,
    outcome: Outcome | None,
    nothing_known: bool,
    in_part: Sequence[str],
    as_json: bool,
) -> None:
    if as_json:
        json_document(
            {
                "card": hand.record.name,
                "manifest": not nothing_known,
                "files": found.files,
                "bytes": found.bytes,
                "faults": found.faults,
                "repaired": outcome is not None,
                "unmended": outcome.unmended if outcome is not None else (),
                "lost": outcome.lost if outcome is not None else (),
                "in_part": outcome.plan.in_part if outcome is not None else in_part,
                "replace": found.failing,
                "read_from_memory": found.from_memory,
            }
        )
        return
    if nothing_known:
        click.echo(
            f"{hand.record.name}: there is no manifest on it, so there was nothing to compare: no "
            "update was made yet, or it was lost. An update makes it anew, and knows syncd's own "
            "files by what they hold."
        )
    else:
        _tell_compared(found, hand)
    if in_part:
        click.echo(f"{IN_PART}:")
        for line in some((f"  {text}" for text in in_part), 12, "--json lists them"):
            click.echo(shown(line))
    if outcome is not None:
        for line in summary(outcome, hand.record.name):
            click.echo(shown(line))
        if outcome.unmended:
            _list(outcome.unmended, "damaged file")
            notice("They stay as they are. When their masters can be read again, repair again.")
        if outcome.lost:
            _list(outcome.lost, "lost file")
            notice("When their masters can be read again, an update brings them.")
    elif found.faults:
        named = shlex.quote(hand.record.name)
        notice(f"'syncd verify {named} --repair' mends it, from the store or the library.")
    if found.from_memory:
        notice(
            f"The system may have given {count(found.from_memory, 'file')} from its memory instead "
            "of the card. To be sure, take the card out, put it in again and verify again."
        )
    if found.failing:
        notice(
            f"Unless something else wrote to these files, the card {hand.record.name} does not "
            "keep what is written to it: it should be replaced."
        )


def _list(paths: Sequence[str], what: str) -> None:
    click.echo(f"{count(len(paths), what)} cannot be made anew now:")
    for line in some((f"  {path}" for path in paths), 12, "--json lists them"):
        click.echo(shown(line))


def _tell_compared(found: Verified, hand: Hand) -> None:
    click.echo(
        f"{hand.record.name}: {count(found.files, 'file')}, {amount(found.bytes)} read; "
        + (f"{count(len(found.faults), 'fault')}:" if found.faults else "all as written.")
    )
    for line in some(
        (f"  {fault.path}: {fault.reason}" for fault in found.faults), 50, "--json lists them"
    ):
        click.echo(shown(line))
