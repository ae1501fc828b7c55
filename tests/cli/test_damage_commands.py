"""Damaged files in the commands: checked, shown for review, used by a word of the listener."""

import shutil
from pathlib import Path

import pytest
from cli_kit import Program


@pytest.fixture
def damaged(bare: Program, furnished: Path) -> Program:
    """A library in which one movement's checksum is another, and a card for it."""
    shutil.copytree(furnished / "music", bare.music)
    path = bare.music / "Classical" / "Ilse Torvald" / "01.flac"
    data = bytearray(path.read_bytes())
    data[data.index(b"fLaC") + 30] ^= 1
    path.write_bytes(data)
    bare.enrol()
    return bare


def test_library_check_finds_what_is_damaged_and_goes_on_where_it_was(damaged: Program) -> None:
    ran = damaged("library", "check", "--json")
    assert ran.status == 1
    assert (ran.document["tracks"], ran.document["checked"]) == (6, 6)
    (found,) = ran.document["damaged"]
    assert found["path"].endswith("Ilse Torvald/01.flac")
    assert "checksum" in found["reason"]
    assert found["used"] is False
    assert damaged("library", "check", "--json").document["checked"] == 0
    assert damaged("library", "check", "--again", "--json").document["checked"] == 6
    assert "1 damaged file" in damaged("library", "check").out


def test_damage_shows_in_review_and_the_errata_settle_it(damaged: Program) -> None:
    assert damaged("review", "--json").document["damaged"] == []
    assert damaged("update", "KITCHEN").status == 1
    ran = damaged("review")
    assert ran.status == 1
    assert "Damaged:" in ran.out
    assert "--damaged use" in ran.out
    left = damaged("plan", "KITCHEN", "--json").document["left_out"]
    assert len(left) == 2
    done = damaged("errata", "add", "--file", "Ilse Torvald/01.flac", "--damaged", "use")
    assert done.status == 0
    assert damaged("update", "KITCHEN").status == 0
    assert len(list(damaged.card.rglob("*.mp3"))) == 6
    (found,) = damaged("review", "--json").document["damaged"]
    assert found["used"] is True
    assert "used all the same" in damaged("review").out


def test_a_word_about_damage_says_nothing_of_what_a_track_is(damaged: Program) -> None:
    files = [str(path) for path in sorted(damaged.music.rglob("*.flac"))]
    before = damaged("identify", "--json", *files)
    damaged("scan")
    damaged("errata", "add", "--file", "Ilse Torvald/01.flac", "--damaged", "use")
    assert damaged("identify", "--json", *files).out == before.out


def test_the_settings_may_have_all_damaged_files_used(damaged: Program) -> None:
    (damaged.home / "syncd.toml").write_text('damaged = "use"\n')
    assert damaged("update", "KITCHEN").status == 0
    assert len(list(damaged.card.rglob("*.mp3"))) == 6
    damaged("errata", "add", "--file", "Ilse Torvald/01.flac", "--damaged", "leave out")
    assert damaged("update", "KITCHEN").status == 1
    assert len(list(damaged.card.rglob("*.mp3"))) == 4


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('file = "01.flac"\ndamaged = "perhaps"', "is not known"),
        ('composer = "*"\ndamaged = "use"', "not by composer"),
    ],
)
def test_a_wrong_word_about_damage_is_told_with_its_line(
    damaged: Program, entry: str, words: str
) -> None:
    damaged("scan")
    (damaged.home / "state" / "errata.toml").write_text(f"[[entry]]\n{entry}\n")
    ran = damaged("scan")
    assert ran.status == 2
    assert words in ran.err
    assert "line 3" in ran.err
