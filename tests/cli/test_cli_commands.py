"""Every command from the outside: exit statuses, JSON, sentences on standard error."""

import errno
import fcntl
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import click
import pytest
from cli_kit import Program, Ran

from syncd.applier.folder_volume import FolderVolume
from syncd.cli.main import COMMANDS, cli


def told(ran: Ran, *words: str) -> None:
    """The error is a sentence that says *words*, and standard output stays empty."""
    for word in words:
        assert word in ran.err
    assert ran.err.strip().endswith((".", ")"))
    assert ran.out == ""


# -- help ----------------------------------------------------------------------------------------


def test_help_lists_every_command_with_the_line_of_its_own_help(bare: Program) -> None:
    text = " ".join(bare("--help").out.split())
    context = click.Context(cli)
    for name, (_, line) in COMMANDS.items():
        command = cli.get_command(context, name)
        assert command is not None
        assert f"{name} {line}" in text
        assert command.help is not None


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(bare: Program, name: str) -> None:
    ran = bare(name, "--help")
    assert ran.status == 0
    assert f"syncd {name}" in ran.out
    assert not (bare.home / "state").exists()


def test_wrong_usage_starts_nothing(bare: Program) -> None:
    for arguments in (["nonsense"], ["plan"], ["enrol", "/tmp"], ["update", "--what", "x"]):
        ran = bare(*arguments)
        assert ran.status == 2
        assert ran.out == ""
        assert ran.err


# -- the usual way -------------------------------------------------------------------------------


def test_plan_json_is_one_document_with_what_scripts_rely_on(program: Program) -> None:
    ran = program("plan", "KITCHEN", "--json")
    assert ran.status == 0
    plan = ran.document
    assert {"steps", "not_fitting", "left_out", "foreign"} <= plan.keys()
    assert plan["bytes_free_before"] > plan["bytes_free_after"] > 0
    actions = {step["action"] for step in plan["steps"]}
    assert actions == {"press", "write", "publish"} or actions == {"write", "publish"}
    for step in plan["steps"]:
        assert {"action", "target", "bytes", "reason"} <= step.keys()
        assert isinstance(step["bytes"], int)
        assert step["reason"]
    assert os.listdir(program.card) == ["SYNCD"]


def test_plan_says_for_each_track_what_is_done_and_why(program: Program) -> None:
    told = program("plan", "KITCHEN", "--json", "--tracks").document["tracks"]
    assert told
    for track in told:
        assert {"path", "source", "action", "codec", "container", "recipe"} <= track.keys()
        assert Path(track["source"]).is_file()
        assert track["action"] in ("carry", "remux", "encode")
        assert track["reasons"] and all(track["reasons"])
    words = program("plan", "KITCHEN", "--tracks").out
    for track in told:
        assert track["path"] in words and track["source"] in words
        assert all(reason in words for reason in track["reasons"])
    assert "tracks" not in program("plan", "KITCHEN", "--json").document


def test_update_json_is_lines_that_end_with_done(program: Program) -> None:
    ran = program("update", "KITCHEN", "--json")
    assert ran.status == 0
    *progress, done = ran.lines
    assert all(line["event"] in ("check", "press", "write", "compare") for line in progress)
    assert progress[-1]["done"] == progress[-1]["total"]
    assert done["event"] == "done"
    keys = "pressed from_store written renamed removed bytes_written left_out seconds"
    assert set(keys.split()) <= done.keys()
    assert done["written"] == 6
    assert done["pressed"] + done["from_store"] == 5
    again = program("update", str(program.card), "--json")
    assert again.status == 0
    assert again.lines[-1]["written"] == again.lines[-1]["bytes_written"] == 0


def test_manifest_json_is_one_object_a_file(filled: Program) -> None:
    ran = filled("manifest", "KITCHEN", "--json")
    assert ran.status == 0
    assert len(ran.lines) == 6
    for entry in ran.lines:
        assert {"path", "size", "xxh3_128", "source"} <= entry.keys()
        assert (filled.card / entry["path"]).stat().st_size == entry["size"]
        assert len(bytes.fromhex(entry["xxh3_128"])) == 16


@pytest.mark.parametrize(
    "arguments",
    [
        ["cards", "--json"],
        ["library", "list", "--json"],
        ["scan", "--json"],
        ["profiles", "--json"],
        ["store", "--json"],
        ["store", "trim", "--json"],
        ["review", "--json"],
        ["plan", "KITCHEN", "--json"],
        ["verify", "KITCHEN", "--json"],
    ],
    ids=" ".join,
)
def test_json_is_one_document_and_nothing_else(filled: Program, arguments: list[str]) -> None:
    ran = filled(*arguments)
    assert ran.status in (0, 1)
    assert isinstance(ran.document, dict | list)


def test_a_card_is_found_by_mount_point_name_and_id(filled: Program) -> None:
    (card,) = filled("cards", "--json").document
    assert card["plugged_in"]
    assert card["mount"] == str(filled.card)
    for name in ("KITCHEN", "kitchen", card["id"], str(filled.card)):
        assert filled("plan", name, "--no-scan").status == 0


def test_a_file_that_cannot_be_read_ends_with_status_1_and_is_named(program: Program) -> None:
    (program.music / "broken.flac").write_text("no audio at all")
    ran = program("plan", "KITCHEN", "--json")
    assert ran.status == 1
    assert [Path(item["path"]).name for item in ran.document["left_out"]] == ["broken.flac"]
    assert ran.document["left_out"][0]["reason"].endswith(".")
    assert program("update", "KITCHEN").status == 1
    assert program("scan").status == 1


def test_verify_finds_damage_and_repairs_it(filled: Program) -> None:
    song = next(filled.card.rglob("*.mp3"))
    data = bytearray(song.read_bytes())
    data[-100] ^= 1
    song.write_bytes(data)
    found = filled("verify", "KITCHEN", "--json")
    assert found.status == 1
    assert [Path(fault["path"]).name for fault in found.document["faults"]] == [song.name]
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert filled("verify", "KITCHEN").status == 0


def test_browse_in_a_pipe_shows_the_whole_catalogue(filled: Program) -> None:
    ran = filled("browse", "KITCHEN")
    assert ran.status == 0
    for word in ("Beethoven", "Adagio", "Marnesund Five", "Ebb"):
        assert word in ran.out


def test_the_home_can_be_given_as_a_flag(bare: Program) -> None:
    ran = bare("--home", bare.base / "elsewhere", "library", "add", bare.base)
    assert ran.status == 0
    assert (bare.base / "elsewhere" / "state").is_dir()
    assert not bare.home.exists()


# -- what cannot start: status 2 -----------------------------------------------------------------


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


# -- a card that fails: status 3 -----------------------------------------------------------------


def failing(monkeypatch: pytest.MonkeyPatch, name: str, code: int) -> None:
    """Every call of *name* below the card fails with *code*."""
    true = getattr(os, name)

    def fail(*arguments: object, **named: object) -> object:
        writes = name != "open" or int(str(arguments[1])) & (os.O_WRONLY | os.O_RDWR)
        if writes and (name != "open" or "dir_fd" in named):
            raise OSError(code, os.strerror(code))
        return true(*arguments, **named)

    monkeypatch.setattr(os, name, fail)


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.EROFS, "read-only"),
        (errno.ENOSPC, "is full"),
        (errno.EIO, "input/output error"),
        (errno.ENODEV, "went away"),
    ],
)
def test_a_failing_card_is_a_sentence_and_status_3(
    program: Program, monkeypatch: pytest.MonkeyPatch, code: int, words: str
) -> None:
    with monkeypatch.context() as patch:
        failing(patch, "open", code)
        ran = program("update", "KITCHEN", "--json")
    assert ran.status == 3
    assert words in ran.err
    assert "KITCHEN" in ran.err
    assert ran.lines[-1]["event"] == "failed"
    assert words in ran.lines[-1]["message"]
    assert program("update", "KITCHEN").status == 0


def test_a_full_card_is_told_before_anything_is_written(
    program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    space = FolderVolume.space

    def full(volume: FolderVolume):  # type: ignore[no-untyped-def]
        found = space(volume)
        return type(found)(free=4096, total=found.total, cluster=found.cluster)

    monkeypatch.setattr(FolderVolume, "space", full)
    plan = program("plan", "KITCHEN", "--json")
    assert plan.status == 1
    assert len(plan.document["not_fitting"]) == 3
    ran = program("update", "KITCHEN", "--json")
    assert ran.status == 1
    assert len(ran.lines[-1]["not_fitting"]) == 3
    assert ran.lines[-1]["written"] == 0


def test_a_card_that_is_not_plugged_in_is_told_where_it_was(filled: Program) -> None:
    filled.card.rename(filled.base / "drawer")
    for command in ("plan", "update", "verify", "browse", "manifest"):
        ran = filled(command, "KITCHEN")
        assert ran.status == 3
        told(ran, "KITCHEN is not plugged in", str(filled.card), "Plug it in")
    (card,) = filled("cards", "--json").document
    assert not card["plugged_in"]
    # Mounted elsewhere it is the same card.
    assert filled("plan", filled.base / "drawer").status == 0


def test_an_empty_folder_at_the_mount_point_is_not_the_card(filled: Program) -> None:
    filled.card.rename(filled.base / "drawer")
    filled.card.mkdir()
    assert filled("update", "KITCHEN").status == 3
    assert filled("update", filled.card).status == 2
    assert list(filled.card.iterdir()) == []


def test_a_newer_card_is_left_as_it_is(filled: Program) -> None:
    path = filled.card / "SYNCD" / "card.json"
    newer = path.read_text().replace('"format": 1', '"format": 2')
    path.write_text(newer)
    for arguments in (
        ["update", filled.card],
        ["enrol", filled.card, "--profile", "mcu-mp3"],
        ["enrol", filled.card, "--profile", "mcu-mp3", "--name", "OTHER"],
    ):
        ran = filled(*arguments)
        assert ran.status == 3
        assert "newer syncd" in ran.err
    assert path.read_text() == newer


# -- damage at home and on the card: told, set aside, made anew ----------------------------------


@pytest.mark.parametrize("content", ["", "{", "[]", '{"id": 5, "name": "x"}', "\0" * 100, "null"])
def test_a_damaged_card_file_is_told_and_enrolling_makes_it_the_same_card(
    filled: Program, content: str
) -> None:
    (before,) = filled("cards", "--json").document
    (filled.card / "SYNCD" / "card.json").write_text(content)
    ran = filled("update", filled.card)
    assert ran.status == 3
    told(ran, "card.json", "syncd enrol")
    again = filled("enrol", filled.card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    assert again.status == 0
    (after,) = filled("cards", "--json").document
    assert after["id"] == before["id"]
    assert filled("update", "KITCHEN", "--json").lines[-1]["written"] == 0


@pytest.mark.parametrize("content", ["", "{", "[]", '{"id": 5}', "\0\0", '{"id":"a","name":7}'])
def test_a_damaged_card_record_hides_no_other_card(filled: Program, content: str) -> None:
    attic = filled.base / "attic"
    attic.mkdir()
    assert filled("enrol", attic, "--profile", "mcu-mp3").status == 0
    listed = {card["name"]: card for card in filled("cards", "--json").document}
    record = filled.home / "state" / "cards" / f"{listed['KITCHEN']['id']}.json"
    record.write_text(content)
    cards = filled("cards", "--json")
    assert cards.status == 0
    assert [card["name"] for card in cards.document] == ["attic"]
    assert "damaged" in cards.err
    assert filled("plan", "attic").status == 0
    ran = filled("plan", filled.card)
    assert ran.status == 2
    told(ran, record.name, "damaged", "syncd enrol")
    assert filled("enrol", filled.card, "--profile", "mcu-mp3").status == 0
    assert filled("update", "KITCHEN", "--json").lines[-1]["written"] == 0


def test_a_damaged_index_is_told_and_made_anew(filled: Program) -> None:
    index = filled.home / "state" / "library.db"
    index.write_bytes(b"damaged" * 1000)
    ran = filled("scan")
    assert ran.status == 0
    assert "damaged" in ran.err
    assert str(index) in ran.err
    done = filled("update", "KITCHEN", "--json").lines[-1]
    assert (done["pressed"], done["written"], done["removed"]) == (0, 0, 0)


def test_a_damaged_index_never_empties_a_card(filled: Program) -> None:
    """Its roots are lost with it: that must not look like an empty library."""
    index = filled.home / "state" / "library.db"
    index.write_bytes(index.read_bytes()[:1000])
    ran = filled("update", "KITCHEN")
    assert ran.status == 2 or "up to date" in ran.out
    assert len(list(filled.card.rglob("*.mp3"))) == 6


def test_a_damaged_store_index_is_made_anew(filled: Program) -> None:
    database = filled.home / "store" / "store.db"
    assert database.read_bytes()[:15] == b"SQLite format 3"
    database.write_bytes(b"damaged" * 1000)
    shutil.rmtree(filled.card / "Music")
    done = filled("update", "KITCHEN", "--json").lines[-1]
    assert (done["pressed"], done["from_store"], done["written"]) == (0, 5, 6)
    with sqlite3.connect(database) as connection:
        connection.execute("SELECT count(*) FROM pressings")
    connection.close()


def test_a_damaged_manifest_is_told_and_made_anew(filled: Program) -> None:
    (filled.card / "SYNCD" / "manifest.gz").write_bytes(b"damaged")
    ran = filled("update", "KITCHEN", "--json")
    assert ran.status == 0
    assert ran.lines[-1]["written"] == 0
    assert any("damaged" in text for text in ran.lines[-1]["notices"])
    assert filled("manifest", "KITCHEN").err == ""


def test_a_library_that_is_away_is_told_and_the_card_stays(filled: Program) -> None:
    filled.music.rename(filled.base / "unplugged")
    ran = filled("update", "KITCHEN")
    assert "music" in ran.err
    assert len(list(filled.card.rglob("*.mp3"))) == 6
    listed = filled("library", "list", "--json").document
    assert [root["present"] for root in listed] == [False]


def test_two_cards_of_one_name_are_told_apart(filled: Program) -> None:
    """Both were called so at different homes; neither may be taken for the other."""
    other = filled.base / "other"
    other.mkdir()
    far = filled.base / "far home"
    filled("--home", far, "enrol", other, "--profile", "mcu-mp3", "--name", "KITCHEN")
    ran = filled("enrol", other, "--profile", "mcu-mp3")
    assert ran.status == 2
    told(ran, "Another card is called KITCHEN", "--name")
    assert filled("enrol", other, "--profile", "mcu-mp3", "--name", "SECOND").status == 0


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


def test_a_hostile_name_on_a_card_reaches_no_terminal(program: Program) -> None:
    path = program.card / "SYNCD" / "card.json"
    data = json.loads(path.read_text())
    path.write_text(json.dumps({**data, "name": "\x1b[2J\x07evil\n" + "x" * 5000}))
    ran = program("enrol", program.card, "--profile", "mcu-mp3")
    assert ran.status == 0
    assert "\x1b" not in ran.out + ran.err
    assert len(ran.out) < 1000


# -- from the outside altogether -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "status"), [(["manifest", "KITCHEN"], 0), (["update", "KITCHEN", "--json"], 130)]
)
def test_a_reader_that_goes_away_ends_the_program_without_a_word(
    program: Program, arguments: list[str], status: int
) -> None:
    program("update", "KITCHEN")
    shutil.rmtree(program.card / "Music" / "Marnesund Five")
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, "-m", "syncd", *arguments]
    ran = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert ran.stderr == b""
    assert ran.returncode == status
    assert program("update", "KITCHEN").status == 0


def test_a_hostile_path_reaches_no_terminal(program: Program) -> None:
    ran = program("update", "\x1b[2J\x07")
    assert ran.status == 2
    assert "\x1b" not in ran.err


def test_a_stop_ends_with_130_and_the_next_update_goes_on(
    program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    true_rename = FolderVolume.rename

    def stopping(volume: FolderVolume, origin: str, target: str) -> None:
        if origin.startswith("SYNCD/incoming/"):
            raise KeyboardInterrupt
        true_rename(volume, origin, target)

    with monkeypatch.context() as patch:
        patch.setattr(FolderVolume, "rename", stopping)
        ran = program("update", "KITCHEN")
    assert ran.status == 130
    told(ran, "Interrupted", "goes on from there")
    again = program("update", "KITCHEN")
    assert again.status == 0
    assert "did not have to be written again" in again.out
