"""The demo: the newcomer's first five minutes."""

import json
from pathlib import Path

from click.testing import CliRunner

from syncd.cli.main import cli


def test_the_demo_shows_that_only_what_changed_is_done(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    result = CliRunner().invoke(cli, ["demo", str(place), "--json"], standalone_mode=False)
    assert result.exception is None
    told = json.loads(result.stdout)
    first, second = told["first"], told["second"]
    assert first["written"] >= 40 and first["pressed"] > 0 and first["left_out"] == []
    # A tag, a recording of four tracks, a moved folder, a recording of four removed.
    assert second["pressed"] == 4
    assert second["written"] == 5
    assert second["removed"] == 5
    assert (place / "card" / "shopping list.txt").read_text() == "bread, cheese, batteries\n"
    formats = {file.suffix for file in (place / "library").rglob("*.*")} - {".jpg"}
    assert len(formats) >= 5


def test_the_demo_refuses_a_folder_with_something_in_it(tmp_path: Path) -> None:
    (tmp_path / "diary.txt").write_text("dear diary")
    result = CliRunner().invoke(cli, ["demo", str(tmp_path)], standalone_mode=False)
    assert "not empty" in str(result.exception)
    assert [file.name for file in tmp_path.iterdir()] == ["diary.txt"]
