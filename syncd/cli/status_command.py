"""``syncd status``: what the daemon is doing; what the files at home tell when it does not run."""

import time
from collections.abc import Iterator
from typing import Any

import click

from syncd.cli import exits
from syncd.cli.output import json_document, shown
from syncd.daemon.asking import NoAnswer, NoDaemon, ask
from syncd.daemon.state import CardStage
from syncd.settings import Home

_STAGES = {
    "look": "looking",
    "read": "reading files",
    "identify": "identifying",
    "check": "checking files",
    "measure": "measuring loudness",
    "press": "pressing",
    "compare": "reading back",
    "write": "writing",
}
_WRONG = (CardStage.FAILED.value, CardStage.TWICE.value)


@click.command("status")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_obj
def command(home: Home, as_json: bool) -> int:
    """Show what the daemon is doing, how far it is, and what is wrong.

    Ends with status 0 if it runs and all is well, 1 if something wants a person's eye, 3 if a card
    failed, 2 if the daemon does not run or does not answer; then the files at home tell the rest.
    """
    told = _told(home)
    if as_json:
        json_document(told)
    else:
        for line in lines(told, time.time()):
            click.echo(shown(line))
    return status_of(told)


def _told(home: Home) -> dict[str, Any]:
    try:
        answer = ask(home, "status")
        return {"daemon": "running", "message": ""} | {
            name: value for name, value in answer.items() if name != "ok"
        }
    except (NoDaemon, NoAnswer) as problem:
        from syncd.daemon.absent import seems_to_run, state_without_daemon

        runs = isinstance(problem, NoAnswer) or seems_to_run(home)
        message = str(problem)
        if runs and isinstance(problem, NoDaemon):
            message = "The daemon runs, but has no socket to be asked by; its log says why."
        return {
            "daemon": "not answering" if runs else "not running",
            "message": message,
            **state_without_daemon(home).as_json(),
        }


def status_of(told: dict[str, Any]) -> int:
    """The exit status that goes with what was *told*."""
    if told["daemon"] != "running":
        return exits.NOT_STARTED
    if any(card["stage"] in _WRONG for card in told["cards"]):
        return exits.CARD_FAILED
    return exits.WITH_REMAINDER if told["problems"] or told["library"]["away"] else exits.DONE


def lines(told: dict[str, Any], now: float) -> Iterator[str]:
    """What was *told*, for people."""
    if told["daemon"] == "running":
        since = time.strftime("%Y-%m-%d %H:%M", time.localtime(told["started"]))
        yield f"The daemon runs, process {told['pid']}, since {since}."
    else:
        yield told["message"]
    if told["paused"]:
        yield "It is paused: 'syncd service resume' goes on."
    if told["giving_way"]:
        yield "It gives way to a command, and goes on after that."
    yield from _library(told["library"], now)
    for job in told["jobs"]:
        yield f"Now: {_doing(job)}"
    yield from _cards(told, now)
    if told["unknown"]:
        yield "Volumes that are no cards of yours:"
        for volume in told["unknown"]:
            yield from _below(volume["message"], "  ")
    if told["problems"]:
        yield "Problems:"
        for problem in told["problems"]:
            yield from _below(problem, "  ")


def _below(text: str, before: str) -> Iterator[str]:
    """*text*, which may have several lines, below what it belongs to."""
    for line in text.splitlines():
        yield before + line


def _library(library: dict[str, Any], now: float) -> Iterator[str]:
    if library["message"]:
        yield f"Library: {library['message']}"
    for root in library["roots"]:
        yield f"Library: {root}" + ("  (away: not there now)" if root in library["away"] else "")
    if library["scanned"] is not None:
        due = "; it will be again soon" if library["scan_due"] else ""
        yield f"  was read through {_ago(now - library['scanned'])}{due}."
    for notice in library.get("notices", ()):  # a daemon of an older version tells none
        yield f"  {notice}"


def _cards(told: dict[str, Any], now: float) -> Iterator[str]:
    if not told["cards"]:
        yield "No card is known yet. Make one known with: syncd enrol MOUNT --profile NAME"
        return
    running = told["daemon"] == "running"
    yield "Cards:"
    for card in told["cards"]:
        stage = card["stage"]
        if not running and card["mount"]:
            stage = "plugged in"
        place = f", at {card['mount']}" if card["mount"] else ""
        updated = ""
        if card["updated"] is not None:
            updated = f"; updated {_ago(now - card['updated'])}"
        yield f"  {card['name']}: {stage}{place}{updated}"
        if card["doing"] is not None:
            yield f"    {_doing(card['doing'])}"
        elif card["message"]:
            yield from _below(card["message"], "    ")


def _doing(job: dict[str, Any]) -> str:
    what = {"scan": "reading the library", "ahead": "pressing ahead of time"}.get(job["what"])
    if what is None:
        what = f"updating {job['card']}"
    elif job["card"]:
        what += f", for {job['card']}"
    if job["stage"]:
        what += f": {_STAGES.get(job['stage'], job['stage'])}"
    if job["total"]:
        what += f", {job['done']:,} of {job['total']:,}"
    if job["share"] is not None:
        what += f" ({job['share']} %)"
    if job["left_s"] is not None:
        what += f", about {_span(job['left_s'])} left"
    return what


def _span(seconds: float) -> str:
    for unit, size in (("days", 86400.0), ("hours", 3600.0), ("min", 60.0)):
        if seconds >= 1.5 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{max(1, round(seconds))} s"


def _ago(seconds: float) -> str:
    return "just now" if seconds < 1.5 else f"{_span(seconds)} ago"
