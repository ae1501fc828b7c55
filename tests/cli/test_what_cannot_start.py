"""What cannot start is told in a sentence, with status 2, and nothing is changed."""

import fcntl
from pathlib import Path

import pytest
from cli_kit import Program, told


def test_wrong_usage_starts_nothing(bare: Program) -> None:
    for arguments in (["nonsense"], ["plan"], ["enrol", "/tmp"], ["update", "--what", "x"]):
        ran = bare(*arguments)
        assert ran.status == 2
        assert ran.out == ""
        assert ran.err


def test_without_a_library_nothing_starts(bare: Program) -> None:
    bare.card.mkdir()
    bare("enrol", bare.card, "--profile", "mcu-mp3")
    for arguments in (["scan"], ["plan", "card"], ["update", "card"]):
        ran = bare(*arguments)
        assert ran.status == 2
        told(ran, "No library is known yet", "syncd library add")


def test_a_card_that_nobody_knows_is_told_with_those_that_are_known(program: Program) -> None:
    for command in ("plan", "update", "verify", "browse", "manifest"):
        ran = program(command, "ATTIC")
        assert ran.status == 2
        told(ran, "ATTIC", "KITCHEN")


def test_a_folder_that_was_never_enrolled_is_told_how_to_be(program: Program) -> None:
    (program.base / "plain").mkdir()
    ran = program("update", program.base / "plain")
    assert ran.status == 2
    told(ran, "never enrolled", "syncd enrol")
    assert list((program.base / "plain").iterdir()) == []


def test_a_card_enrolled_at_another_home_is_told_so(filled: Program) -> None:
    other = filled.base / "other home"
    filled("--home", other, "library", "add", filled.music)
    ran = filled("--home", other, "update", filled.card)
    assert ran.status == 2
    told(ran, "enrolled at another home", "Enrol it here as well")
    assert filled("--home", other, "enrol", filled.card, "--profile", "mcu-mp3").status == 0
    done = filled("--home", other, "update", filled.card, "--json")
    assert done.lines[-1]["written"] == 0
    (here,) = filled("cards", "--json").document
    (there,) = filled("--home", other, "cards", "--json").document
    assert here["id"] == there["id"]


def test_a_profile_with_a_typing_error_is_told_by_key_and_file(program: Program) -> None:
    profile = program.base / "mine.toml"
    assert program("profiles", "check", profile).status == 2
    listed = program("profiles", "--json").document
    text = Path(next(item["file"] for item in listed if item["name"] == "mcu-mp3")).read_text()
    profile.write_text(text)
    assert program("profiles", "check", profile).status == 0
    assert program("enrol", program.card, "--profile", profile).status == 0
    profile.write_text(text.replace("quality = 2", "qualty = 2"))
    for arguments in (
        ["profiles", "check", profile],
        ["plan", "KITCHEN"],
        ["update", "KITCHEN"],
        ["enrol", program.card, "--profile", profile],
    ):
        ran = program(*arguments)
        assert ran.status == 2
        assert "qualty" in ran.err
        assert "mine.toml" in ran.err


def test_an_unknown_profile_is_told_with_those_at_hand(program: Program) -> None:
    ran = program("enrol", program.card, "--profile", "no-such")
    assert ran.status == 2
    told(ran, "no-such", "mcu-mp3")


def test_a_faulty_settings_file_is_told(program: Program) -> None:
    (program.home / "syncd.toml").write_text('workers = "many"\n')
    ran = program("update", "KITCHEN")
    assert ran.status == 2
    assert "workers" in ran.err
    assert "syncd.toml" in ran.err


def test_a_programme_with_a_typing_error_is_told(program: Program) -> None:
    programme = program.base / "programme.toml"
    programme.write_text('[[clause]]\ncompser = "bach"\n')
    ran = program("enrol", program.card, "--profile", "mcu-mp3", "--programme", programme)
    assert ran.status == 2
    assert "compser" in ran.err


def test_two_updates_at_once_do_not_meet(program: Program) -> None:
    with (program.home / "state" / "lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        ran = program("update", "KITCHEN")
    assert ran.status == 2
    told(ran, "Another syncd is at work", "try again")


def test_two_homes_do_not_meet_on_one_card(program: Program) -> None:
    with (program.card / "SYNCD" / "card.json").open() as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        ran = program("update", "KITCHEN")
    assert ran.status == 3
    told(ran, "Another syncd is at work on the card KITCHEN")


def test_a_home_that_cannot_be_written_is_a_sentence(bare: Program) -> None:
    (bare.base / "home").write_text("a file where the home should be")
    ran = bare("library", "add", bare.base)
    assert ran.status == 2
    told(ran, "home")


def test_a_lock_that_cannot_be_made_is_a_sentence(bare: Program) -> None:
    (bare.home / "state" / "lock").mkdir(parents=True)
    ran = bare("library", "add", bare.base)
    assert ran.status == 2
    told(ran, "lock")


def test_a_daemons_lock_that_cannot_be_made_is_a_sentence(bare: Program) -> None:
    (bare.home / "state" / "daemon.lock").mkdir(parents=True)
    ran = bare("run")
    assert ran.status == 2
    told(ran, "daemon.lock", "SYNCD_STATE")


@pytest.mark.parametrize("name", ["\n", "a\x1b[2J", "", "  ", "x" * 101, "\u202ex"])
def test_a_card_gets_no_name_that_cannot_be_shown(program: Program, name: str) -> None:
    plain = program.base / "plain"
    plain.mkdir()
    ran = program("enrol", plain, "--profile", "mcu-mp3", "--name", name)
    if name == "":
        assert ran.status == 0  # as if it were not given
    else:
        assert ran.status == 2
        told(ran, "name")
