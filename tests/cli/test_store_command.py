"""``syncd store``: what it tells, and what it never takes away."""

import shutil
import sqlite3

from cli_kit import Program


def made_by(program: Program, version: str, most: int) -> None:
    with sqlite3.connect(program.home / "store" / "store.db") as db:
        db.execute(
            "UPDATE pressings SET made_by = ? WHERE audio_hash IN "
            "(SELECT audio_hash FROM pressings LIMIT ?)",
            (version, most),
        )
    db.close()


def test_the_store_tells_its_content_by_kind_age_and_version(filled: Program) -> None:
    told = filled("store", "--json").document
    assert told["kinds"]["mp3"]["pressings"] == told["pressings"] == 5
    assert told["kinds"]["mp3"]["bytes"] == told["pressing_bytes"]
    assert told["last_used"] == {"within a month": told["kinds"]["mp3"]}
    assert (told["by_other_versions"], told["by_unknown_versions"]) == (0, 0)
    made_by(filled, "1.0", 2)
    assert filled("store", "--json").document["by_other_versions"] == 2
    assert "2 pressings made by another version" in filled("store").out


def test_another_version_alone_throws_nothing_away_and_renew_does(filled: Program) -> None:
    made_by(filled, "1.0", 2)
    again = filled("update", "KITCHEN", "--json").lines[-1]
    assert (again["pressed"], again["written"]) == (0, 0)
    assert filled("store", "renew", "--json").document["removed"] == 2
    again = filled("update", "KITCHEN", "--json").lines[-1]
    assert (again["pressed"], again["written"]) == (0, 0)
    shutil.rmtree(filled.card / "Music")
    again = filled("update", "KITCHEN", "--json").lines[-1]
    assert (again["pressed"], again["written"]) == (2, 6)
    assert filled("store", "--json").document["by_other_versions"] == 0


def test_a_trim_leaves_what_a_card_that_is_plugged_in_holds(filled: Program) -> None:
    assert filled("store", "trim", "--to", "0", "--json").document["removed"] == 0
    assert "plugged in" in filled("store", "trim", "--to", "0").out
    filled.card.rename(filled.base / "drawer")
    assert filled("store", "trim", "--to", "0", "--json").document["removed"] == 5


def test_while_the_needs_of_a_card_are_not_known_nothing_is_trimmed(filled: Program) -> None:
    for path in (filled.card / "SYNCD").glob("manifest*"):
        path.write_bytes(b"damaged")
    ran = filled("store", "trim", "--to", "0", "--json")
    assert ran.status == 3
    assert "KITCHEN" in ran.err
    assert filled("store", "--json").document["pressings"] == 5
    assert filled("update", "KITCHEN").status == 0
    assert filled("store", "trim", "--to", "0", "--json").document["removed"] == 0
