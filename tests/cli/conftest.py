"""Fixtures of the command line's tests: a home with a library, a store, a card."""

import shutil
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))

from cli_kit import Program
from update_kit import make_library


@pytest.fixture
def bare(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Program:
    """A program that was never used."""
    return Program(tmp_path, monkeypatch, capfd)


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where a library lies, and the home of one who has filled a card from it."""
    base = tmp_path_factory.mktemp("furnished")
    make_library(base / "music")
    return base


@pytest.fixture
def program(bare: Program, furnished: Path) -> Program:
    """A library that is known and scanned, and a card, enrolled and empty."""
    shutil.copytree(furnished / "music", bare.music)
    if (furnished / "store").exists():
        shutil.copytree(furnished / "store", bare.home / "store")
    bare.enrol()
    assert bare("scan").status == 0
    return bare


@pytest.fixture
def filled(program: Program, furnished: Path) -> Program:
    """The same, with the card filled."""
    assert program("update", "KITCHEN").status == 0
    if not (furnished / "store").exists():
        shutil.copytree(program.home / "store", furnished / "store")
    return program
