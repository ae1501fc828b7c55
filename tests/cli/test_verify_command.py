"""``syncd verify`` where what it compares by is itself damaged: catalogue, record, manifest."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from cli_kit import Program


def slot(card: Path) -> tuple[Path, Path]:
    (catalogue,) = (card / "SYNCD").glob("cat-?.db")
    return catalogue, catalogue.with_suffix(".rec")


def cut(catalogue: Path, record: Path) -> None:
    catalogue.write_bytes(catalogue.read_bytes()[:5000])


def gone(catalogue: Path, record: Path) -> None:
    catalogue.unlink()


def without_record(catalogue: Path, record: Path) -> None:
    record.unlink()


def with_torn_record(catalogue: Path, record: Path) -> None:
    record.write_bytes(record.read_bytes()[:60])


def all_gone(catalogue: Path, record: Path) -> None:
    catalogue.unlink()
    record.unlink()


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (cut, "has 5000 bytes instead of"),
        (gone, "The catalogue is not on the card."),
        (without_record, "The record of the catalogue is damaged, or gone"),
        (with_torn_record, "The record of the catalogue is damaged, or gone"),
        (all_gone, "There is no catalogue on the card."),
    ],
)
def test_a_catalogue_that_no_player_opens_is_found_and_mended(
    filled: Program, harm: Callable[[Path, Path], None], words: str
) -> None:
    whole = slot(filled.card)[0].read_bytes()
    harm(*slot(filled.card))
    found = filled("verify", "KITCHEN")
    assert found.status == 1
    assert "1 fault:" in found.out
    assert words in found.out
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert slot(filled.card)[0].read_bytes() == whole
    assert filled("verify", "KITCHEN").status == 0


def test_a_card_without_catalogue_by_its_profile_lacks_none(program: Program) -> None:
    program("enrol", program.card, "--profile", "plain-exfat")
    program("update", "KITCHEN")
    assert program("verify", "KITCHEN").status == 0


@pytest.mark.parametrize("data", [None, b"", b"\x1f\x8bno manifest"])
def test_a_lost_manifest_is_the_one_fault_and_is_mended(
    filled: Program, data: bytes | None
) -> None:
    manifest = filled.card / "SYNCD" / "manifest.gz"
    whole = manifest.read_bytes()
    manifest.unlink() if data is None else manifest.write_bytes(data)
    found = filled("verify", "KITCHEN")
    assert found.status == 1
    assert "1 fault:" in found.out
    assert "SYNCD/manifest.gz: It is damaged, or gone" in found.out
    times = {path: path.stat().st_mtime_ns for path in filled.card.rglob("*.mp3")}
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert manifest.read_bytes() == whole
    assert {path: path.stat().st_mtime_ns for path in filled.card.rglob("*.mp3")} == times


def test_what_is_gone_shows_in_the_catalogue_without_a_manifest(filled: Program) -> None:
    (filled.card / "SYNCD" / "manifest.gz").unlink()
    next(filled.card.rglob("*.mp3")).unlink()
    found = filled("verify", "KITCHEN")
    assert "2 faults:" in found.out
    assert "is not on the card" in found.out


def test_a_card_with_nothing_to_compare_by_is_not_called_sound(program: Program) -> None:
    found = program("verify", "KITCHEN")
    assert found.status == 1
    assert "there was nothing to compare" in found.out
    assert program("verify", "KITCHEN", "--json").document["manifest"] is False


def test_a_repair_that_has_no_source_now_takes_nothing_else_away(filled: Program) -> None:
    """The disk is unmounted, the store was cleared, one movement is lost: the others stay."""
    whole = {path.relative_to(filled.card) for path in filled.card.rglob("*.mp3")}
    lost = next(path for path in sorted(whole) if "Torvald" in str(path))
    (filled.card / lost).unlink()
    shutil.rmtree(filled.home / "store")
    filled.music.rename(filled.base / "unmounted")
    in_part = "(Ilse Torvald): 1 of 2 tracks cannot be made now."
    for words in (
        ("verify", "KITCHEN", "--repair"),
        ("plan", "KITCHEN"),
        ("update", "KITCHEN", "--no-scan"),
        ("update", "KITCHEN"),
    ):
        ran = filled(*words)
        assert ran.status == 1
        assert "On the card in part" in ran.out and in_part in ran.out
        assert "is away (unmounted or missing), and no pressing of it is in the store" in ran.out
        assert ("1 lost file cannot be made anew now:" in ran.out) == (words[0] == "verify")
        left = {path.relative_to(filled.card) for path in filled.card.rglob("*.mp3")}
        assert left == whole - {lost}
    ran = filled("verify", "KITCHEN")
    assert ran.status == 0, "what is there is as it was written"
    assert "On the card in part" in ran.out and in_part in ran.out
    assert len(filled("verify", "KITCHEN", "--json").document["in_part"]) == 1
    (filled.base / "unmounted").rename(filled.music)
    assert filled("update", "KITCHEN").status == 0
    assert {path.relative_to(filled.card) for path in filled.card.rglob("*.mp3")} == whole
    assert "in part" not in filled("verify", "KITCHEN").out


def test_a_lost_file_that_nobody_wants_any_more_is_not_called_lost(filled: Program) -> None:
    next(path for path in filled.card.rglob("*.mp3") if "Low Tide" in str(path)).unlink()
    programme = filled.base / "programme.toml"
    programme.write_text('[[clause]]\nkind = "work"\n', "utf-8")
    filled("enrol", filled.card, "--profile", "mcu-mp3", "--programme", programme)
    assert filled("verify", "KITCHEN").status == 1
    ran = filled("verify", "KITCHEN", "--repair", "--json")
    assert (ran.status, ran.document["lost"]) == (0, [])


def test_a_correction_reaches_the_catalogue_also_while_the_masters_are_away(
    filled: Program,
) -> None:
    files = {path: path.read_bytes() for path in filled.card.rglob("*.mp3")}
    chosen = ("--file", "Quirin Ostrowald/01.flac")
    assert filled("errata", "add", *chosen, "--arranger", "Ove Lindqvist").status == 0
    filled.music.rename(filled.base / "unmounted")
    assert [step["action"] for step in filled("plan", "KITCHEN", "--json").document["steps"]] == [
        "publish"
    ]
    assert filled("update", "KITCHEN").status == 0
    found = filled("verify", "KITCHEN")
    assert found.status == 0, found.out
    assert {path: path.read_bytes() for path in filled.card.rglob("*.mp3")} == files
    assert filled("plan", "KITCHEN", "--json").document["steps"] == []


def test_an_empty_mount_point_is_no_library_without_files(filled: Program) -> None:
    before = sorted(filled.card.rglob("*.mp3"))
    filled.music.rename(filled.base / "unmounted")
    filled.music.mkdir()
    shutil.rmtree(filled.home / "store")
    before[0].write_bytes(b"\0" * before[0].stat().st_size)
    ran = filled("verify", "KITCHEN", "--repair")
    assert ran.status == 1
    assert "1 damaged file cannot be made anew now" in ran.out
    assert "When their masters can be read again, repair again." in ran.err
    assert sorted(filled.card.rglob("*.mp3")) == before
    filled.music.rmdir()
    (filled.base / "unmounted").rename(filled.music)
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert sorted(filled.card.rglob("*.mp3")) == before
    assert filled("verify", "KITCHEN").status == 0


def test_a_damaged_file_that_nobody_wants_any_more_goes(filled: Program) -> None:
    unwanted = next(path for path in filled.card.rglob("*.mp3") if "Low Tide" in str(path))
    unwanted.write_bytes(b"\0" * unwanted.stat().st_size)
    programme = filled.base / "programme.toml"
    programme.write_text('[[clause]]\nkind = "work"\n', "utf-8")
    filled("enrol", filled.card, "--profile", "mcu-mp3", "--programme", programme)
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert not unwanted.exists()
    assert not filled("plan", "KITCHEN", "--json").document["foreign"]
