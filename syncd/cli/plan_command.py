"""``syncd plan``: what an update would do."""

from collections.abc import Iterator
from pathlib import Path

import click

from syncd.cli import exits
from syncd.cli.output import about, bars, count, json_document, shown, some
from syncd.cli.work import card_in_hand, snapshot, updater
from syncd.cli.writer import writer_if_free
from syncd.planner.amounts import amount
from syncd.planner.clauses import ClauseTold, ProgrammeTold
from syncd.planner.costing import RESERVE_BYTES
from syncd.planner.plan import Action, Plan
from syncd.settings import Home


@click.command("plan")
@click.argument("card", metavar="CARD")
@click.option(
    "--programme",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Try another programme; the card keeps its own.",
)
@click.option("--no-scan", is_flag=True, help="Take the library as the last scan found it.")
@click.option("--all", "everything", is_flag=True, help="List every step.")
@click.option("--tracks", is_flag=True, help="Say for each track what is done, and why.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(
    home: Home,
    card: str,
    programme: Path | None,
    no_scan: bool,
    everything: bool,
    tracks: bool,
    as_json: bool,
) -> int:
    """Show what an update of CARD would do, and what would not fit. Changes nothing on it.

    Where the card has a programme, it tells what each clause took, what it did not, and why.
    Ends with status 1 if something would be left out or would not fit.
    """
    with writer_if_free(home) as free, bars(quiet=as_json) as bar:
        library = snapshot(home, bar, scan=free and not no_scan)
        with card_in_hand(home, card, programme) as hand, updater(home, library) as work:
            plan, reading = work.plan(hand.target)
    if as_json:
        json_document(
            {
                "card": hand.record.name,
                "steps": [_step(step) for step in plan.steps],
                "not_fitting": plan.not_fitting,
                "left_out": plan.left_out,
                "other_forms": plan.other_forms,
                "in_part": plan.in_part,
                "foreign": plan.foreign,
                "cautions": plan.cautions,
                **({"programme": plan.programme} if plan.programme is not None else {}),
                "bytes_free_before": plan.bytes_free_before,
                "bytes_free_after": plan.bytes_free_after,
                "free_is_exact": plan.free_is_exact,
                "bytes_reserved": RESERVE_BYTES,
                "notices": reading.notices,
                **({"tracks": list(_tracks(plan))} if tracks else {}),
            }
        )
    else:
        for text in reading.notices:
            click.echo(shown(text))
        for line in described(plan, hand.record.name, None if everything else 12):
            click.echo(shown(line))
        for line in _told(plan) if tracks else ():
            click.echo(shown(line))
    left = plan.left_out or plan.not_fitting or plan.other_forms
    return exits.WITH_REMAINDER if left else exits.DONE


def _step(step: object) -> dict[str, object]:
    from dataclasses import asdict

    return {key: value for key, value in asdict(step).items() if value is not None}  # type: ignore[call-overload]


def _tracks(plan: Plan) -> Iterator[dict[str, object]]:
    """For each track of the end state: its file, where it comes from, its recipe, and why."""
    for place in plan.end:
        recipe = place.recipe
        if place.track is None or recipe is None:
            continue
        made: dict[str, object] = {
            "codec": recipe.codec,
            "container": recipe.container,
            "sample_rate_hz": recipe.sample_rate_hz,
            "channels": recipe.channels,
            "bits_per_sample": recipe.bits,
            "quality": recipe.quality,
            "bitrate_kbps": recipe.bitrate_kbps,
        }
        yield {
            "path": place.path,
            "source": place.track.track.address,
            "action": recipe.action,
            **{name: value for name, value in made.items() if value is not None},
            "recipe": recipe.key,
            "reasons": recipe.reasons,
        }


def _told(plan: Plan) -> Iterator[str]:
    """The same in words: a line of each reason under the track's file."""
    yield "What is done for each track, and why:"
    for place in plan.end:
        if place.track is not None and place.recipe is not None:
            yield f"  {place.path}"
            yield f"    from {place.track.track.address}"
            yield from (f"    {reason}" for reason in place.recipe.reasons)


def described(plan: Plan, name: str, most: int | None) -> Iterator[str]:
    """The plan in words, at most *most* lines of each kind."""
    if not plan.steps:
        yield f"{name} is up to date: nothing to do."
    else:
        yield f"An update of {name} would take these steps:"
    words = {
        Action.MEASURE: ("measure", "find out how loud it is"),
        Action.PRESS: ("press", "encode at home"),
        Action.WRITE: ("write", "write to the card"),
        Action.RENAME: ("rename", "move on the card"),
        Action.REMOVE: ("remove", "remove from the card"),
    }
    for action, (word, meaning) in words.items():
        steps = [step for step in plan.steps if step.action is action]
        if not steps:
            continue
        size = sum(step.bytes for step in steps)
        roughly = f", about {amount(size)}" if action in (Action.PRESS, Action.WRITE) else ""
        yield f"{word}: {count(len(steps), 'file')} ({meaning}){roughly}"
        yield from some((f"  {step.target}: {step.reason}" for step in steps), most)
    published = [step for step in plan.steps if step.action is Action.PUBLISH]
    if published:
        target = published[-1].target
        yield f"publish: the {target} ({_PUBLISHED[target]})"
    if len(published) > 1:
        yield f"  {target}, at first: {published[0].reason}"
    if plan.programme is not None:
        yield from clauses(plan.programme, most)
    elif plan.not_fitting:
        what = count(len(plan.not_fitting), "recording or album", "recordings and albums")
        yield f"No room for {what}:"
        yield from some((f"  {item.title}: {item.reason}" for item in plan.not_fitting), most)
    if plan.left_out:
        yield f"Left out, {count(len(plan.left_out), 'track')}:"
        yield from some(("  " + about(item.path, item.reason) for item in plan.left_out), most)
    if plan.other_forms:
        yield f"Made for another profile, and staying, {count(len(plan.other_forms), 'file')}:"
        yield from some(("  " + about(item.path, item.reason) for item in plan.other_forms), most)
    if plan.in_part:
        yield f"{IN_PART}:"
        yield from some((f"  {text}" for text in plan.in_part), most)
    if plan.foreign:
        yield "In the way, and staying where they are:"
        yield from some((f"  {path}" for path in plan.foreign), most)
    yield from plan.cautions
    about_so = "" if plan.free_is_exact else "about "
    yield (
        f"Free on the card: {amount(plan.bytes_free_before)} now, "
        f"{about_so}{amount(plan.bytes_free_after)} afterwards."
    )


IN_PART = "On the card in part, until the rest can be made"

_PUBLISHED = {"catalogue": "what the player shows", "manifest": "which files are syncd's"}
"""What is written to the card at the end of an update, and what it tells."""


def programme_notes(told: ProgrammeTold) -> Iterator[str]:
    """What clauses ask for and the library does not have, in words, for an update's end."""
    for number, clause in enumerate(told.clauses, 1):
        for note in clause.notes:
            yield f"Clause {number} of its programme, {clause.title}: {note}"
    yield from (f"In what its programme leaves out: {note}" for note in told.notes)


def clauses(told: ProgrammeTold, most: int | None) -> Iterator[str]:
    """What the programme came to, clause by clause; at most *most* titles of each kind."""
    if told.fit:
        yield told.fit
    yield "By its programme:"
    for number, clause in enumerate(told.clauses, 1):
        yield f"  {number}. {clause.title}: {_taken(clause)}"
        yield from (f"     {note}" for note in clause.notes)
        for what, items in (
            ("beyond its limit", clause.beyond_limit),
            ("without room", clause.no_room),
        ):
            if items:
                yield f"     {what}: {_groups(len(items))}"
                yield from some((f"       {item.title}: {item.reason}" for item in items), most)
    rest = [
        f"{_groups(told.left_out)} left out by it" if told.left_out else "",
        f"{_groups(told.unchosen)} that no clause asks for" if told.unchosen else "",
    ]
    if any(rest):
        yield f"  Besides: {'; '.join(filter(None, rest))}."
    yield from (f"  In what it leaves out: {note}" for note in told.notes)


def _taken(clause: ClauseTold) -> str:
    said = [f"{clause.taken} of {_groups(clause.fitting)}"]
    if clause.taken:
        said.append(f"{amount(clause.bytes)}, {_time(clause.hours)}")
    if clause.earlier:
        said.append(f"{clause.earlier} taken up by clauses before it")
    if clause.unplayable:
        said.append(f"{clause.unplayable} left out (see below)")
    return "; ".join(said)


def _time(hours: float) -> str:
    """So many *hours* in words, to the minute; below one minute to the second."""
    if hours * 60 < 1:
        return f"{round(hours * 3600)} s"
    whole, minutes = divmod(round(hours * 60), 60)
    return f"{f'{whole} h ' if whole else ''}{minutes} min"


def _groups(number: int) -> str:
    return count(number, "recording or album", "recordings and albums")
