"""Every command from the outside: help, exit statuses, JSON, sentences on standard error."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from cli_kit import Program, told

from syncd.applier.folder_volume import FolderVolume
from syncd.cli.main import COMMANDS, cli


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


def test_a_hostile_name_on_a_card_reaches_no_terminal(program: Program) -> None:
    path = program.card / "SYNCD" / "card.json"
    data = json.loads(path.read_text())
    path.write_text(json.dumps({**data, "name": "\x1b[2J\x07evil\n" + "x" * 5000}))
    ran = program("enrol", program.card, "--profile", "mcu-mp3")
    assert ran.status == 0
    assert "\x1b" not in ran.out + ran.err
    assert len(ran.out) < 1000


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
