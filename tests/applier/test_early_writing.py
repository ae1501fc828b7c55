"""What the system is asked to begin writing out before a barrier."""

from pathlib import Path

import pytest

from syncd.applier import early
from syncd.applier.early import PIECE_BYTES, Early
from syncd.applier.folder_volume import FolderVolume


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The descriptors of the files whose bytes were begun with."""
    found: list[int] = []
    monkeypatch.setattr(early, "_begin", lambda: found.append)
    return found


def test_a_file_is_begun_with_piece_by_piece_and_at_its_end(begun: list[int]) -> None:
    giving = Early(7)
    for _ in range(3):
        giving.given(PIECE_BYTES // 2)
    assert begun == [7]
    giving.complete()
    assert begun == [7, 7]


def test_a_small_file_is_left_to_go_with_others(begun: list[int]) -> None:
    giving = Early(7)
    giving.given(5000)
    giving.complete()
    assert begun == []


def test_a_file_that_is_begun_with_is_whole_after_the_barrier(tmp_path: Path) -> None:
    pieces = [bytes([number]) * (1 << 20) for number in range(20)]
    with FolderVolume(tmp_path) as volume:
        assert volume.write("a/b", pieces)[0] == 20 << 20
        volume.barrier()
    assert (tmp_path / "a" / "b").read_bytes() == b"".join(pieces)


def test_a_system_that_refuses_to_begin_does_not_matter() -> None:
    early._begin()(-1)
