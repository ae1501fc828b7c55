"""``syncd status``: what it says of a daemon's state, and the status that it ends with."""

from typing import Any

import pytest

from syncd.cli import status_command
from syncd.cli.status_command import lines, status_of
from syncd.daemon.state import CardNow, CardStage, Doing, LibraryNow, State, UnknownVolume

NOW = 1_000_000.0


def told(**more: Any) -> dict[str, Any]:
    return {"daemon": "running", "message": "", **State(42, NOW - 60, **more).as_json()}


def card(stage: CardStage, **more: Any) -> CardNow:
    return CardNow("id", "KITCHEN", stage, **more)


@pytest.mark.parametrize(
    ("state", "status"),
    [
        (told(), 0),
        (told(cards=(card(CardStage.DONE),)), 0),
        (told(unknown=(UnknownVolume("/media/a", "no card"),)), 0),
        (told(problems=("The settings cannot be used.",)), 1),
        (told(library=LibraryNow(("/music",), ("/music",))), 1),
        (told(cards=(card(CardStage.FAILED),), problems=("x",)), 3),
        (told(cards=(card(CardStage.TWICE),)), 3),
        (told(cards=(card(CardStage.FAILED),)) | {"daemon": "not running"}, 2),
        (told() | {"daemon": "not answering"}, 2),
    ],
)
def test_the_status_tells_scripts_how_it_stands(state: dict[str, Any], status: int) -> None:
    assert status_of(state) == status


def test_the_help_tells_each_status() -> None:
    text = " ".join((status_command.command.help or "").split())
    for words in ("0 if it runs", "1 if something", "3 if a card", "2 if the daemon does not run"):
        assert words in text


def test_an_update_is_told_with_how_far_it_is_and_how_long_it_takes_still() -> None:
    begun = Doing("update", "KITCHEN", started=NOW - 100, stage_started=NOW - 100)
    doing = begun.at(NOW - 100, stage="write").at(NOW, done=30, total=120)
    assert doing.left_s == 300  # a quarter took 100 s
    text = "\n".join(
        lines(
            told(
                cards=(card(CardStage.UPDATING, mount="/media/me/K", doing=doing),), jobs=(doing,)
            ),
            NOW,
        )
    )
    assert "Now: updating KITCHEN: writing, 30 of 120 (25 %), about 5 min left" in text
    assert "KITCHEN: updating, at /media/me/K" in text


def test_the_share_is_told_by_bytes_where_they_are_known() -> None:
    doing = Doing("update", "KITCHEN", done=1, total=2, bytes_done=10, bytes_total=1000)
    assert doing.share == 1
    assert Doing("scan").share is None
    assert Doing("scan", done=3, total=2).share == 100


def test_what_is_wrong_and_what_is_unknown_is_told_with_its_remedy() -> None:
    text = "\n".join(
        lines(
            told(
                cards=(card(CardStage.FAILED, mount="/m", message="It is read-only. Unlock it."),),
                library=LibraryNow(("/music", "/more"), ("/more",), NOW - 7200),
                unknown=(UnknownVolume("/media/x", "No card. syncd enrol /media/x"),),
                problems=("No watches are left. Raise the limit.",),
                paused=True,
            ),
            NOW,
        )
    )
    for words in (
        "It is read-only. Unlock it.", "/more  (away", "read through 2 hours ago",
        "syncd enrol /media/x", "Raise the limit.", "syncd service resume",
    ):  # fmt: skip
        assert words in text


def test_what_a_scan_could_not_look_into_is_shown_and_none_is_missed_of_an_older_daemon() -> None:
    blind = "The folder /music/x cannot be looked into."
    state = told(library=LibraryNow(("/music",), scanned=NOW, notices=(blind,)))
    assert f"  {blind}" in [*lines(state, NOW)]
    del state["library"]["notices"]
    assert f"  {blind}" not in [*lines(state, NOW)]


def test_a_problem_of_several_lines_is_shown_in_lines() -> None:
    wrong = "The settings file is not valid:\n  line 4: twice.\nThose from before stay in force."
    text = [*lines(told(problems=(wrong,)), NOW)]
    assert text[-3:] == [
        "  The settings file is not valid:", "    line 4: twice.",
        "  Those from before stay in force.",
    ]  # fmt: skip


def test_a_card_that_waits_in_no_daemon_is_only_plugged_in() -> None:
    state = told(cards=(card(CardStage.WAITING, mount="/m"),)) | {
        "daemon": "not running", "message": "The daemon does not run."
    }  # fmt: skip
    text = "\n".join(lines(state, NOW))
    assert "KITCHEN: plugged in, at /m" in text
    assert text.startswith("The daemon does not run.")
