"""``syncd update``: bring a card up to date."""

import shlex
from dataclasses import replace
from typing import Any

import click

from syncd.cli import exits
from syncd.cli.output import about, bars, count, json_line, shown, some
from syncd.cli.plan_command import IN_PART, programme_notes
from syncd.cli.work import card_in_hand, snapshot, updater
from syncd.cli.writer import only_writer
from syncd.errors import SyncdError
from syncd.planner.amounts import amount
from syncd.settings import Home
from syncd.updating.values import Outcome, Progress


@click.command("update")
@click.argument("card", metavar="CARD")
@click.option("--no-scan", is_flag=True, help="Take the library as the last scan found it.")
@click.option("--no-read-back", is_flag=True, help="Do not read again and compare what is written.")
@click.option("--json", "as_json", is_flag=True, help="Print progress and result as JSON lines.")
@click.pass_obj
def command(home: Home, card: str, no_scan: bool, no_read_back: bool, as_json: bool) -> int:
    """Bring CARD up to date: make what is missing, write it, publish the catalogue.

    May be stopped with Ctrl-C, and the card may be pulled, at any moment: the player then finds
    what was there before, and the next update goes on. Ends with status 1 if something was left
    out or did not fit.
    """
    try:
        with only_writer(home), bars(quiet=as_json) as bar:
            library = snapshot(home, bar, scan=not no_scan)
            with card_in_hand(home, card) as hand, updater(home, library, bar) as work:
                if as_json:
                    work.shop.report = _report
                target = hand.target
                if no_read_back:
                    target = replace(target, read_back=False)
                outcome = work.update(target)
    except SyncdError as error:
        if as_json:
            json_line({"event": "failed", "message": str(error)})
        raise
    if as_json:
        json_line(done_event(outcome))
    else:
        for line in summary(outcome, hand.record.name):
            click.echo(shown(line))
    plan = outcome.plan
    left = plan.left_out or plan.not_fitting or plan.other_forms
    return exits.WITH_REMAINDER if left else exits.DONE


def _report(progress: Progress) -> None:
    json_line(
        {
            "event": progress.stage,
            "done": progress.done,
            "total": progress.total,
            "item": progress.item,
        }
    )


def done_event(outcome: Outcome) -> dict[str, Any]:
    """The object with which ``syncd update --json`` ends."""
    applied, plan = outcome.applied, outcome.plan
    return {
        "event": "done",
        "pressed": outcome.pressed,
        "from_store": outcome.from_store,
        "written": applied.written,
        "renamed": applied.renamed,
        "removed": applied.removed,
        "kept": applied.kept_from_before,
        "bytes_written": applied.bytes_written,
        "read_back": applied.read_back,
        "read_from_memory": applied.from_memory,
        "written_again": applied.mended,
        "left_out": plan.left_out,
        "not_fitting": plan.not_fitting,
        "other_forms": plan.other_forms,
        "in_part": plan.in_part,
        "foreign": plan.foreign,
        "bytes_free": plan.bytes_free_after,
        "seconds": round(outcome.seconds, 3),
        "cautions": plan.cautions if outcome.applied.written else (),
        "notices": outcome.notices,
    }


def summary(outcome: Outcome, name: str) -> list[str]:
    """What an update did, in words."""
    applied, plan = outcome.applied, outcome.plan
    lines = list(outcome.notices)
    listed = f"'syncd plan {shlex.quote(name)} --all' lists them"
    if applied.kept_from_before:
        kept = count(applied.kept_from_before, "file")
        lines.append(
            f"An earlier update was interrupted; {kept} of it did not have to be written again."
        )
    if not plan.steps:
        lines.append(f"{name} was up to date; nothing was written.")
    else:
        lines.append(
            f"{name} is up to date: {count(applied.written, 'file')} written, {applied.renamed} "
            f"moved, {applied.removed} removed ({amount(applied.bytes_written)} in "
            f"{outcome.seconds:.1f} s); {outcome.pressed} encoded, {outcome.from_store} from the "
            "store."
        )
    if plan.programme is not None:
        lines += programme_notes(plan.programme)
    if plan.not_fitting:
        what = count(len(plan.not_fitting), "recording or album", "recordings and albums")
        lines.append(f"No room for {what}:")
        lines += some((f"  {item.title}: {item.reason}" for item in plan.not_fitting), 12, listed)
    if plan.left_out:
        lines.append(f"Left out, {count(len(plan.left_out), 'track')}:")
        lines += some(("  " + about(item.path, item.reason) for item in plan.left_out), 12, listed)
    if plan.other_forms:
        files = count(len(plan.other_forms), "file")
        lines.append(f"Made for another profile, and staying, {files}:")
        lines += some(("  " + about(item.path, item.reason) for item in plan.other_forms), 12)
    if plan.in_part:
        lines.append(f"{IN_PART}:")
        lines += some((f"  {text}" for text in plan.in_part), 12, listed)
    if plan.foreign:
        lines.append("In the way, and left where they are:")
        lines += some((f"  {path}" for path in plan.foreign), 12, listed)
    if applied.written:
        lines += plan.cautions
    return lines
