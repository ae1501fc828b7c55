"""What the system is asked to begin writing before a barrier; no fault is lost by it."""

import errno
import os
from pathlib import Path

import pytest

from syncd.applier import early, flushing
from syncd.applier.early import PIECE_BYTES, Early
from syncd.applier.folder_volume import FolderVolume
from syncd.errors import CardProblem


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The descriptors of the files whose bytes were begun with."""
    found: list[int] = []
    monkeypatch.setattr(early, "_begin", lambda: found.append)
    return found


def test_files_are_begun_with_piece_by_piece_and_at_their_ends(begun: list[int]) -> None:
    giving = Early(os.open("/", os.O_RDONLY))
    for _ in range(3):
        giving.given(7, PIECE_BYTES // 2)
    assert begun == [7]
    giving.given(7, 0, complete=True)
    assert begun == [7, 7]


def test_small_files_are_left_to_go_together(begun: list[int]) -> None:
    giving = Early(os.open("/", os.O_RDONLY))
    for fd in range(100):
        giving.given(fd, 5000)
        giving.given(fd, 0, complete=True)
    assert begun == []


def test_a_file_that_is_begun_with_is_whole_after_the_barrier(tmp_path: Path) -> None:
    pieces = [bytes([number]) * (1 << 20) for number in range(20)]
    with FolderVolume(tmp_path) as volume:
        assert volume.write("a/b", pieces)[0] == 20 << 20
        volume.barrier()
    assert (tmp_path / "a" / "b").read_bytes() == b"".join(pieces)


def test_a_fault_that_was_told_before_the_barrier_fails_the_barrier(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    faults = [OSError(errno.EIO, os.strerror(errno.EIO))]

    def syncfs(fd: int) -> None:
        if faults:
            raise faults.pop()  # as the kernel does: once, to whoever asks first

    monkeypatch.setattr(flushing, "magic", lambda fd: flushing.FUSE)
    monkeypatch.setattr(flushing, "syncfs", syncfs)
    with FolderVolume(tmp_path) as volume:
        volume.write("a", [bytes(PIECE_BYTES)])
        with pytest.raises(CardProblem, match="input/output error"):
            volume.barrier()
        volume.barrier()
