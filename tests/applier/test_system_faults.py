"""Every system call of an update fails once, in turn: EIO, ENOSPC, EROFS, ENODEV, a short write.

Below the port, on a real folder: after each fault I1 and I2 hold, the fault is a sentence about the
card, and the next update ends as one that was not disturbed. ``SYNCD_DEEP=1`` tries each fault at
each call of several scenes; else each call gets one of them, in rotation.
"""

import errno
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from card_world import (
    SCENES,
    assert_foreign_stays,
    assert_same_end,
    assert_whole_or_absent,
    end_of,
    update,
)

from syncd.applier import flushing
from syncd.applier.folder_volume import FolderVolume
from syncd.errors import CardFull, CardGone, CardProblem

DEEP = os.environ.get("SYNCD_DEEP") == "1"
TRIED = ("all at once", "tight", "remove all", "in the way later") if DEEP else ("all at once",)
SHORT = -1
"""Stands for a write that takes half of what it was given and then finds the card full."""
FAULTS: dict[int, tuple[type[CardProblem], str]] = {
    errno.EIO: (CardProblem, "input/output error"),
    errno.ENOSPC: (CardFull, "is full"),
    errno.EROFS: (CardProblem, "read-only"),
    errno.ENODEV: (CardGone, "went away"),
    SHORT: (CardFull, "is full"),
}
CALLS = ("open", "read", "write", "stat", "mkdir", "rename", "unlink", "rmdir", "scandir")
CALLS += ("fsync", "fstatvfs")


class Faulty:
    """Counts the calls below a card's folder, and lets one of them fail."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.calls: list[str] = []
        self.at: int | None = None
        self.code = 0
        for name in CALLS:
            patch.setattr(os, name, self._wrapped(name, getattr(os, name)))
        patch.setattr(flushing, "syncfs", self._wrapped("syncfs", flushing.syncfs))

    def _wrapped(self, name: str, true: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **named: Any) -> Any:
            if not self._on_card(name, arguments, named):
                return true(*arguments, **named)
            self.calls.append(name)
            if len(self.calls) - 1 != self.at:
                return true(*arguments, **named)
            if self.code != SHORT:
                raise OSError(self.code, os.strerror(self.code))
            if name == "write":
                true(arguments[0], bytes(arguments[1])[: len(arguments[1]) // 2])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        return call

    @staticmethod
    def _on_card(name: str, arguments: tuple[Any, ...], named: dict[str, Any]) -> bool:
        if name in ("rename", "stat", "open", "mkdir", "unlink", "rmdir"):
            return "dir_fd" in named or "src_dir_fd" in named
        return isinstance(arguments[0], int) and arguments[0] > 2


class Card(FolderVolume):
    """A card's folder with what ``end_of`` asks of a card in memory."""

    def content(self) -> dict[str, bytes]:
        return {file.path: self.read(file.path) or b"" for file in self.listing().files}

    def folders(self) -> set[str]:
        every = {Path(folder).relative_to(self.root) for folder, _, _ in os.walk(self.root)}
        return {folder.as_posix() for folder in every} - {"."}


def start(folder: Path, name: str) -> None:
    scene = SCENES[name]
    folder.mkdir()
    with Card(folder) as volume:
        volume.write("SYNCD/card.json", [b"{}"])
        for path, data in scene.foreign.items():
            volume.write(path, [data])
        if scene.before is not None:
            update(volume, scene.before, scene.profile_before)


@pytest.mark.parametrize("name", TRIED)
def test_a_fault_of_any_system_call_is_told_and_the_next_update_ends_alike(
    tmp_path: Path, name: str
) -> None:
    scene = SCENES[name]
    before = tmp_path / "before"
    start(before, name)

    def copied(at: str) -> Path:
        shutil.rmtree(tmp_path / at, ignore_errors=True)
        shutil.copytree(before, tmp_path / at)
        return tmp_path / at

    with Card(copied("clean")) as volume:
        with pytest.MonkeyPatch.context() as patch:
            faulty = Faulty(patch)
            update(volume, scene.after, scene.profile_after)
        wanted = end_of(volume)  # type: ignore[arg-type]
    calls = faulty.calls
    assert {"open", "read", "write", "unlink", "syncfs", "fsync"} <= set(calls)
    codes = list(FAULTS)
    told = 0
    for at, call in enumerate(calls):
        for code in codes if DEEP else [codes[at % len(codes)]]:
            where = f"{call}, number {at}, failed with {code}"
            with Card(copied("card"), "KITCHEN") as volume:
                with pytest.MonkeyPatch.context() as patch:
                    faulty = Faulty(patch)
                    faulty.at, faulty.code = at, code
                    try:
                        update(volume, scene.after, scene.profile_after)
                    except CardProblem as problem:
                        told += 1
                        kind, words = FAULTS[code]
                        assert isinstance(problem, kind), f"{where}: {problem!r}"
                        assert words in str(problem) and "KITCHEN" in str(problem), where
                try:
                    assert_whole_or_absent(volume)
                    assert_foreign_stays(volume, scene.foreign)
                    update(volume, scene.after, scene.profile_after)
                    assert_same_end(end_of(volume), wanted)  # type: ignore[arg-type]
                except Exception as error:
                    raise AssertionError(where) from error
    assert told > len(calls) // 2


def test_writes_that_take_only_a_part_are_gone_on_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "all at once"
    scene = SCENES[name]
    ends = []
    true = os.write

    def part(fd: int, data: bytes) -> int:
        return true(fd, bytes(data[: max(1, len(data) // 3)]))

    for at in ("whole", "parts"):
        start(tmp_path / at, name)
        with Card(tmp_path / at) as volume:
            if at == "parts":
                monkeypatch.setattr(os, "write", part)
            update(volume, scene.after, scene.profile_after)
            monkeypatch.undo()
            ends.append(end_of(volume))  # type: ignore[arg-type]
            assert_whole_or_absent(volume)
    assert_same_end(*ends)
