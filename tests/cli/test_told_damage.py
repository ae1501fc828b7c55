"""A card that fails ends with status 3; damage at home and on it is told and made anew."""

import errno
import os
import shutil
import sqlite3

import pytest
from cli_kit import Program, told

from syncd.applier.folder_volume import FolderVolume


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
