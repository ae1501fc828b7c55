"""``syncd verify`` where what it compares by is itself damaged: catalogue, record, manifest."""

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
