"""Cards that are copies, from another computer, at work elsewhere, lost, or written over."""

import gzip
import json
import os
import shutil
import signal
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from cli_kit import Program

from syncd.applier import manifest
from syncd.applier.folder_volume import FolderVolume


def everything(card: Path) -> dict[str, bytes]:
    return {
        file.relative_to(card).as_posix(): file.read_bytes()
        for file in sorted(card.rglob("*"))
        if file.is_file()
    }


@pytest.fixture
def copied(filled: Program) -> Path:
    """A copy of the card, byte for byte, beside it."""
    return Path(shutil.copytree(filled.card, filled.base / "copy"))


# -- copies --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["KITCHEN", "card", "copy"])
def test_a_copied_card_is_noticed_and_neither_is_written_to(
    filled: Program, copied: Path, name: str
) -> None:
    (filled.card / "DCIM").mkdir()
    next(filled.card.rglob("*.mp3")).unlink()
    before = everything(filled.card), everything(copied)
    asked = name if name == "KITCHEN" else filled.base / name
    # The copy at a place that nobody knows of is met when it is named.
    if name == "KITCHEN":
        record = next((filled.home / "state" / "cards").glob("*.json"))
        data = json.loads(record.read_text())
        assert data["mount"] == str(filled.card)
        ran = filled("update", copied)
    else:
        ran = filled("update", asked) if name == "copy" else filled("verify", copied)
    assert ran.status == 3
    assert str(filled.card) in ran.err and str(copied) in ran.err
    assert "--new-id" in ran.err
    assert (everything(filled.card), everything(copied)) == before


def test_enrolling_a_copy_without_a_new_id_is_refused(filled: Program, copied: Path) -> None:
    before = everything(copied)
    ran = filled("enrol", copied, "--profile", "mcu-mp3", "--name", "GARDEN")
    assert ran.status == 3
    assert "--new-id" in ran.err
    assert everything(copied) == before


def test_a_copy_becomes_a_card_of_its_own_and_nothing_is_written_twice(
    filled: Program, copied: Path
) -> None:
    same_name = filled("enrol", copied, "--new-id", "--profile", "mcu-mp3")
    assert same_name.status == 2 and "--name" in same_name.err
    ran = filled("enrol", copied, "--new-id", "--profile", "mcu-mp3", "--name", "GARDEN")
    assert ran.status == 0
    ids = {card["id"] for card in filled("cards", "--json").document}
    assert len(ids) == 2
    for name in ("KITCHEN", "GARDEN"):
        done = filled("update", name, "--json")
        assert done.status == 0
        assert done.lines[-1]["bytes_written"] == 0


def test_one_volume_at_two_places_is_no_copy(filled: Program) -> None:
    link = filled.base / "link"
    link.symlink_to(filled.card)
    assert filled("update", link, "--json").lines[-1]["bytes_written"] == 0
    assert filled("update", "KITCHEN").status == 0


# -- another computer ----------------------------------------------------------------------------


def test_a_card_written_by_another_computer_works_by_its_manifest(
    filled: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = everything(filled.card)
    monkeypatch.setenv("SYNCD_HOME", str(filled.base / "other"))
    assert filled("library", "add", filled.music).status == 0
    ran = filled("update", filled.card)
    assert ran.status == 2
    assert "another home" in ran.err and f"syncd enrol {filled.card}" in ran.err
    assert filled("enrol", filled.card, "--profile", "mcu-mp3").status == 0
    done = filled("update", filled.card, "--json").lines[-1]
    assert (done["pressed"], done["bytes_written"]) == (0, 0)
    assert filled("verify", filled.card).status == 0
    assert everything(filled.card) == before


# -- two at once ---------------------------------------------------------------------------------


def test_enrolling_waits_for_an_update_elsewhere(filled: Program) -> None:
    before = everything(filled.card)
    with FolderVolume(filled.card) as volume:
        assert volume.lock("SYNCD/card.json")
        ran = filled("enrol", filled.card, "--profile", "mcu-mp3", "--name", "OTHER")
    assert ran.status == 3
    assert "Another syncd" in ran.err
    assert everything(filled.card) == before


def test_a_lock_dies_with_its_holder_and_leaves_nothing_on_the_card(filled: Program) -> None:
    before = everything(filled.card)
    hold = (
        "import sys, time; from pathlib import Path;"
        "from syncd.applier.folder_volume import FolderVolume;"
        "v = FolderVolume(Path(sys.argv[1])); print(v.lock('SYNCD/card.json'), flush=True);"
        "sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(filled.card)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "True\n"
        assert filled("update", "KITCHEN").status == 3
        holder.send_signal(signal.SIGKILL)
        holder.wait()
    assert filled("update", "KITCHEN").status == 0
    assert everything(filled.card) == before


# -- newer formats, wrong clocks -----------------------------------------------------------------


@pytest.mark.parametrize("part", ["card.json", "manifest.gz", "journal"])
def test_a_newer_format_is_refused_and_nothing_is_written(filled: Program, part: str) -> None:
    place = filled.card / "SYNCD" / part
    if part == "card.json":  # a form of which no more is known than that it is newer
        place.write_text('{"format": 9, "who": {"uuid": "x"}}')
    elif part == "manifest.gz":
        place.write_bytes(gzip.compress(b'{"syncd": "manifest", "format": 9, "form": "rows"}\n'))
    else:
        body = b'{"kind": "fetch", "format": 9, "entry": 5}'
        place.write_bytes(b"\n%08x %b\n" % (zlib.crc32(body), body))
    before = everything(filled.card)
    for command in (["plan"], ["update"], ["verify", "--repair"]):
        ran = filled(command[0], filled.card, *command[1:])
        assert ran.status == 3
        assert "newer syncd" in ran.err and "Update syncd" in ran.err
        assert everything(filled.card) == before


@pytest.mark.parametrize("time", [0, 315_532_800, 4_354_819_199])  # FAT: 1980 to 2107
def test_times_on_the_card_mean_nothing(filled: Program, time: int) -> None:
    for file in filled.card.rglob("*"):
        os.utime(file, (time, time))
    assert filled("update", "KITCHEN", "--json").lines[-1]["bytes_written"] == 0


# -- files of ours that are not what was written ---------------------------------------------------


def test_a_listeners_file_written_over_ours_stays_and_ours_goes_beside_it(filled: Program) -> None:
    song = next(filled.card.rglob("*.mp3"))
    song.write_bytes(b"the listener's own recording" * 1000)
    ran = filled("update", "KITCHEN", "--json")
    assert ran.status in (0, 1)
    assert song.read_bytes() == b"the listener's own recording" * 1000
    beside = song.with_name(f"{song.stem} (2).mp3")
    assert beside.is_file()
    done = ran.lines[-1]
    assert done["written"] == 1
    assert any(song.name in notice for notice in done["notices"])
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert song.read_bytes() == b"the listener's own recording" * 1000
    assert filled("update", "KITCHEN", "--json").lines[-1]["bytes_written"] == 0


@pytest.mark.parametrize("how", ["cut", "cut and zeroed", "empty"])
def test_a_file_of_ours_that_lost_clusters_is_written_anew_in_its_place(
    filled: Program, how: str
) -> None:
    before = everything(filled.card)
    song = next(filled.card.rglob("*.mp3"))
    data = song.read_bytes()
    left = {"cut": data[:4096], "cut and zeroed": data[:4096] + bytes(512), "empty": b""}[how]
    song.write_bytes(left)
    found = filled("verify", "KITCHEN", "--json")
    assert found.status == 1
    assert len(found.document["faults"]) == 1
    assert filled("verify", "KITCHEN", "--repair").status == 0
    after = everything(filled.card)
    assert {k: v for k, v in after.items() if "/cat-" not in k} == {
        k: v for k, v in before.items() if "/cat-" not in k
    }


def test_a_flipped_bit_and_a_lost_cluster_are_told_apart_and_the_card_is_to_be_replaced(
    filled: Program,
) -> None:
    one, two, three, four = sorted(filled.card.rglob("*.mp3"))[:4]
    flipped = bytearray(one.read_bytes())
    flipped[5000] ^= 4
    one.write_bytes(flipped)
    zeroed = bytearray(two.read_bytes())
    zeroed[4096:] = bytes(len(zeroed) - 4096)
    two.write_bytes(zeroed)
    three.write_bytes(four.read_bytes()[:4096] + three.read_bytes()[4096:])
    ran = filled("verify", "KITCHEN", "--json")
    reasons = {filled.card / f["path"]: f["reason"] for f in ran.document["faults"]}
    assert len(reasons) == 3
    assert "zeros" in reasons[two]
    assert four.relative_to(filled.card).as_posix() in reasons[three]
    assert ran.document["replace"] is True
    words = filled("verify", "KITCHEN")
    assert words.status == 1
    assert "should be replaced" in " ".join(words.err.split())


def test_a_file_that_the_listener_removed_is_no_reason_to_replace_the_card(
    filled: Program,
) -> None:
    next(filled.card.rglob("*.mp3")).unlink()
    assert filled("verify", "KITCHEN", "--json").document["replace"] is False


def test_a_lost_manifest_costs_no_file_of_the_listeners_and_writes_none_twice(
    filled: Program,
) -> None:
    (filled.card / "Music" / "mine.mp3").write_bytes(b"mine")
    before = everything(filled.card)
    (filled.card / manifest.MANIFEST).unlink()
    done = filled("update", "KITCHEN", "--json").lines[-1]
    assert (done["written"], done["removed"]) == (0, 0)
    after = everything(filled.card)
    assert {k: v for k, v in after.items() if "/cat-" not in k} == {
        k: v for k, v in before.items() if "/cat-" not in k
    }


# -- reading back --------------------------------------------------------------------------------


def test_reading_back_is_told_and_can_be_turned_off(program: Program) -> None:
    done = program("update", "KITCHEN", "--json").lines[-1]
    assert done["read_back"] == done["written"] == 6
    shutil.rmtree(program.card / "Music")
    done = program("update", "KITCHEN", "--no-read-back", "--json").lines[-1]
    assert (done["written"], done["read_back"]) == (6, 0)
    enrol = ["enrol", program.card, "--profile", "mcu-mp3"]
    assert program(*enrol, "--no-read-back").status == 0
    assert program(*enrol).status == 0  # what was said before is kept
    shutil.rmtree(program.card / "Music")
    assert program("update", "KITCHEN", "--json").lines[-1]["read_back"] == 0
    assert program(*enrol, "--read-back").status == 0
    shutil.rmtree(program.card / "Music")
    assert program("update", "KITCHEN", "--json").lines[-1]["read_back"] == 6


# -- the store -----------------------------------------------------------------------------------


def test_the_store_keeps_what_another_card_that_is_plugged_in_holds(filled: Program) -> None:
    other = filled.base / "other card"
    other.mkdir()
    (filled.home / "syncd.toml").write_text("format = 1\nstore_limit_gb = 0.000001\n")
    assert filled("enrol", other, "--profile", "mcu-flac16", "--name", "OTHER").status == 0
    assert filled("update", "OTHER").status == 0  # carries all over, and needs no pressing itself
    assert filled("store", "--json").document["pressings"] == 5
    shutil.rmtree(filled.card)
    assert filled("update", "OTHER").status == 0
    assert filled("store", "--json").document["pressings"] == 0


# -- a card that lost who it is ------------------------------------------------------------------


def test_a_card_whose_own_file_is_damaged_is_told_so_by_its_name_too(filled: Program) -> None:
    (filled.card / "SYNCD" / "card.json").write_text("{")
    for asked in ("KITCHEN", filled.card):
        ran = filled("plan", asked)
        assert ran.status == 3
        assert "SYNCD/card.json on" in ran.err and "Enrol the card again" in ran.err
        assert "JSON" not in ran.err and "Expecting" not in ran.err
    assert filled("enrol", filled.card, "--profile", "mcu-mp3", "--name", "KITCHEN").status == 0
    assert "nothing to do" in filled("plan", "KITCHEN").out


def test_a_newer_card_is_told_so_by_its_name_too(filled: Program) -> None:
    own = filled.card / "SYNCD" / "card.json"
    own.write_text(own.read_text().replace('"format": 1', '"format": 9'))
    ran = filled("plan", "KITCHEN")
    assert ran.status == 3
    assert "newer syncd (format 9)" in ran.err


def test_a_card_without_our_folder_is_forgotten_and_enrolled_again(filled: Program) -> None:
    shutil.rmtree(filled.card / "SYNCD")
    before = everything(filled.card)
    said = filled("update", "KITCHEN").err
    assert "where there is no folder SYNCD now" in said
    assert "syncd cards --forget KITCHEN, then enrol it again" in said
    again = ("enrol", filled.card, "--profile", "mcu-mp3", "--name", "KITCHEN")
    refused = filled(*again)
    assert refused.status == 2
    assert "syncd cards --forget" in refused.err
    assert "Forgot KITCHEN" in filled("cards", "--forget", "kitchen").out
    assert filled("cards", "--json").document == []
    assert filled(*again).status == 0
    assert filled("update", "KITCHEN", "--json").lines[-1]["written"] == 0
    music = {path: facts for path, facts in everything(filled.card).items() if "SYNCD" not in path}
    assert music == before


def test_only_a_known_card_is_forgotten(filled: Program) -> None:
    ran = filled("cards", "--forget", "PANTRY")
    assert ran.status == 2
    assert "No card is called 'PANTRY'" in ran.err and "KITCHEN (" in ran.err
