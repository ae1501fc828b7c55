"""The rules that matter: who imports whom, who reads the environment, what is documented."""

import ast
import importlib
import re
from pathlib import Path

import click
import pytest

from syncd.cli.main import COMMANDS
from syncd.profile import sample_profiles

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "syncd"

# A part may import the parts in its own row and in the rows below it.
LAYERS = (
    ("__main__",),
    ("cli",),
    ("daemon",),
    (
        "cards",
        "refresh",
        "errata_file",
        "demo",
        "at_home",
        "remembered",
        "catalogue_check",
    ),
    ("updating",),
    ("applier", "transcoder"),
    ("catalogue",),
    ("planner",),
    ("works", "library"),
    ("settings", "settings_file", "profile", "toml_config"),
    ("model", "errors", "collector", "utf8"),
)
LEVEL = {part: number for number, row in enumerate(LAYERS) for part in row}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def part_of(path: Path) -> str:
    inside = path.relative_to(PACKAGE)
    return inside.parts[0] if len(inside.parts) > 1 else inside.stem


def imported_parts(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("syncd."):
            found.add((node.module or "").split(".")[1])
        elif isinstance(node, ast.ImportFrom) and node.module == "syncd":
            found |= {name.name for name in node.names if name.name in LEVEL}
        elif isinstance(node, ast.Import):
            found |= {n.name.split(".")[1] for n in node.names if n.name.startswith("syncd.")}
    return found


def test_every_part_has_its_layer() -> None:
    parts = {part_of(path) for path in modules()} - {"__init__"}
    assert parts == set(LEVEL)


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_downward_only(path: Path) -> None:
    part = part_of(path)
    if part == "__init__":
        return
    upward = {other for other in imported_parts(path) if LEVEL[other] < LEVEL[part]}
    assert not upward, f"{path.name} ({part}) imports {upward}, which lie above it"


def test_works_and_library_do_not_know_each_other() -> None:
    for path in modules():
        if part_of(path) == "works":
            assert "library" not in imported_parts(path), path
        if part_of(path) == "library":
            assert "works" not in imported_parts(path), path


def test_the_planner_opens_no_file_but_a_programme_and_knows_no_clock() -> None:
    forbidden = {"os", "time", "datetime", "random", "subprocess", "socket", "logging", "shutil"}
    for path in modules():
        if part_of(path) != "planner":
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [n.name for n in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            assert not forbidden & {name.split(".")[0] for name in names}, path
            called = (
                node.func.id
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
                else ""
            )
            assert called != "open", path


def test_the_environment_is_read_in_one_module() -> None:
    readers = {
        path.name
        for path in modules()
        if re.search(
            r"\bos\.(environb?|getenvb?|putenv|unsetenv)\b|\bfrom os import\b",
            path.read_text("utf-8"),
        )
    }
    assert readers <= {"settings.py", "ffmpeg_port.py"}, "ffmpeg_port hands it on to its child"


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_of_commands_says_what_each_says_of_itself(name: str) -> None:
    module, line = COMMANDS[name]
    command = importlib.import_module(f"syncd.cli.{module}_command").command
    assert isinstance(command, click.Command)
    assert command.name == name
    assert (command.help or "").split("\n")[0].strip() == line


@pytest.mark.parametrize("name", sample_profiles())
def test_the_readme_names_every_profile(name: str) -> None:
    assert f"`{name}`" in (ROOT / "README.md").read_text("utf-8")


def test_every_dependency_has_its_line_for_developers() -> None:
    project = (ROOT / "pyproject.toml").read_text("utf-8")
    block = project.split("dependencies = [")[1].split("]")[0]
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for name in re.findall(r'"([A-Za-z-]+)', block):
        assert f"| {name} |" in text, name


def test_the_readme_gives_the_exit_statuses_that_the_program_has() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    for status in ("0 all done", "1 done", "2 nothing", "3 a card failed", "130 interrupted"):
        assert status in text
