"""Running the program as a person would, in this process: arguments in; status and texts out."""

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from update_kit import Folders

from syncd.cli.main import main


@dataclass(frozen=True)
class Ran:
    """What a command ended with, and what it printed."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> Any:
        """Standard output as one JSON document."""
        return json.loads(self.out)

    @property
    def lines(self) -> list[Any]:
        """Standard output as JSON lines."""
        return [json.loads(line) for line in self.out.splitlines()]


def told(ran: Ran, *words: str) -> None:
    """The error is a sentence that says *words*, and standard output stays empty."""
    for word in words:
        assert word in ran.err
    assert ran.err.strip().endswith((".", ")"))
    assert ran.out == ""


class Program(Folders):
    """``syncd`` with a home of the test's own."""

    def __init__(
        self, base: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
    ) -> None:
        self.base = base
        self._monkeypatch = monkeypatch
        self._capfd = capfd
        for name in ("SYNCD_SETTINGS", "SYNCD_STATE", "SYNCD_STORE"):
            monkeypatch.delenv(name, raising=False)
        monkeypatch.setenv("SYNCD_HOME", str(base / "home"))

    @property
    def home(self) -> Path:
        return self.base / "home"

    def enrol(self) -> None:
        """Make the library known, and the card KITCHEN, which is empty."""
        self.card.mkdir()
        assert self("library", "add", self.music).status == 0
        assert self("enrol", self.card, "--profile", "mcu-mp3", "--name", "KITCHEN").status == 0

    def __call__(self, *arguments: str | Path) -> Ran:
        self._monkeypatch.setattr(sys, "argv", ["syncd", *map(str, arguments)])
        self._capfd.readouterr()
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = self._capfd.readouterr()
        assert isinstance(ended.value.code, int)
        assert "Traceback" not in err
        return Ran(ended.value.code, out, err)
