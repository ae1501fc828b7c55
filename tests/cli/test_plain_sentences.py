"""What commands say of faults is said once, in plain words, and names what to type next."""

import fcntl
import shutil
from pathlib import Path

import pytest
from cli_kit import Program

from syncd.cli.plan_command import clauses
from syncd.errors import SetupProblem
from syncd.planner.clauses import ClauseTold, ProgrammeTold
from syncd.planner.programme import read_programme
from syncd.profile import read_profile


def test_identify_names_an_unreadable_file_once(bare: Program) -> None:
    bare.music.mkdir()
    file = bare.music / "empty.flac"
    file.write_bytes(b"")
    ran = bare("identify", bare.music)
    assert ran.status == 1
    assert ran.err.count(str(file)) == 1


def test_review_counts_three_kinds_in_one_list(program: Program) -> None:
    for name in ("a.flac", "b.mp3"):
        (program.music / name).write_bytes(b"")
    program("scan")
    last = [line for line in program("review").out.splitlines() if "unreadable file" in line][-1]
    assert "2 unreadable files" in last
    assert last.count(" and ") <= 1


def test_a_card_without_catalogue_by_its_profile_is_no_failed_card(program: Program) -> None:
    assert program("enrol", program.card, "--profile", "plain-exfat").status == 0
    ran = program("browse", program.card)
    assert ran.status == 2
    assert "plain-exfat asks for none" in ran.err
    assert "syncd manifest KITCHEN" in ran.err


def test_a_card_that_lost_its_catalogue_is_told_to_be_updated(program: Program) -> None:
    ran = program("browse", program.card)
    assert ran.status == 3
    assert "Update the card" in ran.err


def test_verify_names_the_very_command_that_repairs(filled: Program) -> None:
    next(filled.card.rglob("*.mp3")).unlink()
    assert "'syncd verify KITCHEN --repair'" in filled("verify", "KITCHEN").err


def test_a_file_that_is_no_utf_8_is_told_with_its_line(tmp_path: Path) -> None:
    file = tmp_path / "p.toml"
    file.write_bytes('format = 1\nname = "Küche"\n'.encode("latin-1"))
    with pytest.raises(SetupProblem, match=r"not text in UTF-8 \(line 2\)"):
        read_profile(file)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('fit = "yes"\n[[clause]]\neverything = true\n', "must be true or false, or a table"),
        ('[[clause]]\nnewest = "a"\n', "must be a whole number"),
        ("[fit]\nlowest_kbps = -5\n[[clause]]\neverything = true\n", "must be "),
    ],
)
def test_faults_of_kind_and_range_are_told_in_plain_words(
    tmp_path: Path, text: str, words: str
) -> None:
    file = tmp_path / "p.toml"
    file.write_text(text, "utf-8")
    with pytest.raises(SetupProblem) as caught:
        read_programme(file)
    assert words in str(caught.value)
    for jargon in ("dictionary", "instance of", "valid integer", "equal to"):
        assert jargon not in str(caught.value)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["plan"], "syncd: Missing argument 'CARD'. 'syncd plan --help' shows how it is called."),
        (["updat"], "syncd: No such command 'updat'."),
        (["plan", "a", "b"], "syncd: Got unexpected extra argument (b). 'syncd plan --help'"),
        (["errata", "add", "--iscomposer", "x"], "Did you mean --is-composer?"),
    ],
)
def test_a_wrong_call_is_told_like_every_other_fault(
    bare: Program, words: list[str], said: str
) -> None:
    ran = bare(*words)
    assert ran.status == 2
    assert ran.err.startswith("syncd: ")
    assert "Error:" not in ran.err
    assert said in ran.err


def test_a_composer_whom_nobody_knows_is_asked_about(program: Program) -> None:
    said = program("errata", "add", "--artist", "*", "--is-composer", "Mozzart", "--dry-run")
    assert "If Mozart, Wolfgang Amadeus is meant" in said.err
    said = program("errata", "add", "--artist", "*", "--is-composer", "Mozart", "--dry-run")
    assert "is known" not in said.err


def test_more_than_is_shown_is_where_it_is_said_to_be(filled: Program) -> None:
    for path in filled.card.rglob("*.mp3"):
        path.unlink()
    for number in range(60):
        (filled.music / f"{number:02d}.flac").write_bytes(b"fLaC")
    updated = filled("update", "KITCHEN").out
    assert "... and 48 more ('syncd plan KITCHEN --all' lists them)" in updated
    assert "59.flac" in filled("plan", "KITCHEN", "--all").out


def test_a_plan_says_for_whom_something_is_published(program: Program) -> None:
    told = program("plan", "KITCHEN").out
    assert "publish: the catalogue (what the player shows)\n" in told
    program("enrol", program.card, "--profile", "plain-exfat")
    assert "publish: the manifest (which files are syncd's)\n" in program("plan", "KITCHEN").out


def test_an_update_tells_what_its_programme_did_not_find(program: Program) -> None:
    programme = program.base / "programme.toml"
    programme.write_text('[[clause]]\ncomposer = "Nobody Known"\n', "utf-8")
    program("enrol", program.card, "--profile", "mcu-mp3", "--programme", programme)
    said = "Clause 1 of its programme, composer Nobody Known: No composer “Nobody Known” is in the"
    assert said in program("update", "KITCHEN").out


def test_reading_commands_work_while_another_one_is_at_work(filled: Program) -> None:
    shutil.rmtree(filled.music / "Popular")
    with (filled.home / "state" / "lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        for words in (["review"], ["plan", "KITCHEN"]):
            ran = filled(*words)
            assert ran.status in (0, 1), ran.err
            assert "this is how the last scan found it" in ran.err
        assert "nothing to do" in filled("plan", "KITCHEN").out
        assert filled("verify", "KITCHEN").status == 0
        assert filled("verify", "KITCHEN", "--repair").status == 2
    assert "remove: " in filled("plan", "KITCHEN").out


def test_a_check_with_the_library_away_says_what_was_not_checked(filled: Program) -> None:
    filled.music.rename(filled.base / "unmounted")
    ran = filled("library", "check")
    assert ran.status == 1
    assert ran.out.startswith("6 tracks, 0 checked now: nothing damaged as far as is known.")
    assert f"Away: {filled.music} (unmounted or missing)" in ran.out
    assert "6 tracks could not be read now. Mount what is away, and check again." in ran.out


@pytest.mark.parametrize(
    ("hours", "words"), [(9.4 / 3600, "9 s"), (1 / 60, "1 min"), (2.51, "2 h 31 min"), (0, "0 s")]
)
def test_little_music_is_told_in_seconds(hours: float, words: str) -> None:
    told = ProgrammeTold((ClauseTold("x", 1, 0, 1, 1, 1000, hours, 0),))
    assert f"1.0 kB, {words}" in next(line for line in clauses(told, None) if "1. x" in line)
