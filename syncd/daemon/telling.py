"""What is said of what was done: notices for the listener, from the outcome of a job."""

import shlex
from collections.abc import Mapping
from typing import Any

from syncd.daemon.ports import Notice


def _size(count: int) -> str:
    value = float(count)
    for unit in ("bytes", "kB", "MB", "GB"):
        if value < 1000:
            return f"{value:.0f} {unit}" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} TB"


def _files(number: int) -> str:
    return f"{number:,} file" + ("" if number == 1 else "s")


def done_text(outcome: Mapping[str, Any]) -> str:
    """What an update did to a card, in a person's words."""
    parts = []
    if outcome["written"]:
        parts.append(f"{_files(outcome['written'])} written ({_size(outcome['bytes_written'])})")
    if outcome["renamed"]:
        parts.append(f"{_files(outcome['renamed'])} moved")
    if outcome["removed"]:
        parts.append(f"{_files(outcome['removed'])} removed")
    said = ", ".join(parts) + "." if parts else "Nothing had to be done."
    if outcome["not_fitting"]:
        said += f" No room for {len(outcome['not_fitting'])} recordings or albums."
    if outcome["left_out"]:
        said += f" {outcome['left_out']} tracks were left out; 'syncd plan' says why."
    if outcome.get("other_forms"):
        said += (
            f" {_files(outcome['other_forms'])} made for another profile stayed and may not play; "
            "'syncd plan' names them."
        )
    return said


def done_notice(name: str, outcome: Mapping[str, Any]) -> Notice:
    """The notice of an update that came to its end."""
    said = done_text(outcome)
    if outcome["unmount_problem"]:
        return Notice(f"{name} is up to date", f"{said} {outcome['unmount_problem']}", urgent=True)
    ready = (
        "It is unmounted and may be removed."
        if outcome["unmounted"]
        else "All is written to it: it may be removed."
    )
    return Notice(f"{name} is up to date", f"{said} {ready}")


def failed_notice(name: str, message: str) -> Notice:
    """The notice of an update that failed; the message has the remedy."""
    return Notice(f"{name} is not up to date", message, urgent=True)


def asking_notice(name: str, place: str) -> Notice:
    """The notice of a card that is not updated by itself."""
    return Notice(
        f"{name} is here",
        f"It is at {place}. To bring it up to date: syncd update {shlex.quote(name)}",
    )


def gone_text(name: str) -> str:
    """What to say of a card that left while it was updated."""
    return (
        f"The card {name} went away during the update. Plug it in again; the update goes on from "
        "there, and until then the player finds what was on it before."
    )


def library_text(event: Mapping[str, Any]) -> str:
    """What a scan found to be another than before, in a person's words."""
    kinds = ("new", "altered", "moved", "gone")
    words = ("new", "changed", "moved", "gone")
    counts = [f"{event[kind]:,} {word}" for kind, word in zip(kinds, words, strict=True)]
    if any(event[kind] for kind in kinds):
        return f"The library changed: {', '.join(counts)}."
    if event.get("pictures"):
        return "The library changed: other covers."
    return "The library changed: works were identified anew."
