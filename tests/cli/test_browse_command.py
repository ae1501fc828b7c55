"""``syncd browse`` and the catalogue's part of ``syncd verify``, as a person runs them."""

import builtins
import os
import pty
import shutil
import sqlite3
import subprocess
import sys
import time
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from cli_kit import Program

from syncd.catalogue import slots


def test_a_list_is_printed_by_name(filled: Program) -> None:
    ran = filled("browse", "KITCHEN", "--list", "composers")
    assert ran.status == 0
    assert "Beethoven, Ludwig van" in ran.out
    rows = filled("browse", "KITCHEN", "--list", "composers", "--json").document["rows"]
    assert [row["label"] for row in rows] == [
        line.rpartition("  ")[0] for line in ran.out.splitlines()
    ]


def test_text_is_searched_by_its_letters(filled: Program) -> None:
    ran = filled("browse", "KITCHEN", "--search", "Beeth")
    assert ran.status == 0
    assert ran.out.splitlines()[0].startswith("Beethoven, Ludwig van")
    assert filled("browse", "KITCHEN", "--search", "zzz").out == ""


def test_a_letter_without_a_list_and_an_unknown_letter_are_told(filled: Program) -> None:
    alone = filled("browse", "KITCHEN", "--letter", "B")
    assert (alone.status, "--list" in alone.err) == (2, True)
    short = filled("browse", "KITCHEN", "--list", "composers", "--letter", "B")
    assert (short.status, "has no letters" in short.err) == (2, True)


def test_the_whole_catalogue_is_one_json_document(filled: Program) -> None:
    document = filled("browse", "KITCHEN", "--json").document
    assert document["counts"]["tracks"] == 6 == str(document).count("'path'")


def test_the_cost_of_each_step_is_told_beside_its_budget(filled: Program) -> None:
    ran = filled("browse", "KITCHEN", "--list", "composers", "--cost")
    assert "Step list: " in ran.err
    assert "At most 6 are promised." in ran.err
    (boot, step) = filled("browse", "KITCHEN", "--list", "composers", "--cost", "--json").document[
        "cost"
    ]
    assert (boot["step"], boot["reads"], boot["budget"]) == ("boot", 3, 3)
    assert 0 < step["reads"] <= step["budget"] == 6


def test_cost_without_the_library_that_counts_says_what_to_install(
    filled: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *more: Any, **also: Any) -> Any:
        if name == "apsw":
            raise ImportError(name)
        return real(name, *more, **also)

    monkeypatch.setattr(builtins, "__import__", without)
    ran = filled("browse", "KITCHEN", "--cost")
    assert ran.status == 2
    assert "pip install apsw" in ran.err


def test_a_terminal_is_walked_by_keys(filled: Program) -> None:
    """Through a real pseudo-terminal: arrow keys in, screens out, the terminal as it was."""
    master, terminal = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "syncd", "browse", "KITCHEN"],
        stdin=terminal,
        stdout=terminal,
        env={**os.environ, "SYNCD_HOME": str(filled.home), "COLUMNS": "80", "LINES": "24"},
    )
    os.close(terminal)
    shown = b""

    def until(text: bytes) -> None:
        nonlocal shown
        end = time.monotonic() + 60
        while text not in shown and time.monotonic() < end:
            shown += os.read(master, 4096)
        assert text in shown
        shown = shown.partition(text)[2]

    until(b"Catalogue")
    until(b"q: end")
    os.write(master, b"\x1b[C")
    until(b"Composers  1 of")
    until(b"q: end")
    os.write(master, b"/b")
    until(b"Search: b_")
    os.write(master, b"\x1b[D")
    until(b"q: end")
    os.write(master, b"q")
    assert process.wait(timeout=60) == 0
    os.close(master)


def spoil(card: Path, change: str) -> None:
    """Change the catalogue as if it had been written so: its record fits."""
    slot = "a" if (card / slots.record_path("a")).exists() else "b"
    file, record_file = card / slots.catalogue_path(slot), card / slots.record_path(slot)
    connection = sqlite3.connect(file)
    assert connection.execute(change).rowcount > 0
    connection.commit()
    connection.close()
    data = file.read_bytes()
    record = slots.decode(record_file.read_bytes())
    assert record is not None
    fitting = replace(record, size_bytes=len(data), crc32=zlib.crc32(data))
    record_file.write_bytes(slots.encode(fitting))


def test_verify_compares_the_catalogue_with_the_library_and_renews_it(filled: Program) -> None:
    assert filled("verify", "KITCHEN", "--json").document["faults"] == []
    spoil(filled.card, "UPDATE tracks SET label = label, number = 77 WHERE id = 1")
    found = filled("verify", "KITCHEN", "--json")
    assert found.status == 1
    assert "its number is not that of the movement" in found.document["faults"][0]["reason"]
    assert filled("verify", "KITCHEN", "--repair").status == 0
    assert filled("verify", "KITCHEN", "--json").document["faults"] == []


def test_verify_checks_a_catalogue_by_itself_where_the_library_has_changed(
    filled: Program,
) -> None:
    shutil.rmtree(next(path for path in sorted(filled.music.iterdir()) if path.is_dir()))
    assert filled("scan").status == 0
    assert filled("verify", "KITCHEN").status == 0, "an older catalogue is no fault"
    spoil(filled.card, "UPDATE tracks SET path = 'nowhere.mp3' WHERE id = 1")
    found = filled("verify", "KITCHEN", "--json")
    assert found.status == 1
    assert "nowhere.mp3 is not on the card" in found.document["faults"][0]["reason"]


def test_a_damaged_catalogue_is_told_in_a_sentence(filled: Program) -> None:
    slot = "a" if (filled.card / slots.record_path("a")).exists() else "b"
    file = filled.card / slots.catalogue_path(slot)
    data = bytearray(file.read_bytes())
    data[1024:] = b"\xa5" * (len(data) - 1024)
    file.write_bytes(data)
    ran = filled("browse", "KITCHEN")
    assert ran.status == 3
    assert "is damaged" in ran.err
    assert "Update the card" in ran.err
