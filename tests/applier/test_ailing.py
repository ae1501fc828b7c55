"""What kind of damage a file has, and whether what lies in its place is a rest of it."""

import errno
import fcntl
from collections.abc import Iterator
from pathlib import Path

import pytest
from card_world import library, profile, song, update
from counting_volume import CountingVolume
from hypothesis import given
from hypothesis import strategies as st

from syncd.applier.ailing import is_rest
from syncd.applier.folder_volume import FolderVolume
from syncd.applier.reading import read_card
from syncd.applier.verify import verify
from syncd.errors import CardProblem

MUSIC = library(*(song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)))


def pieces(data: bytes, size: int) -> list[bytes]:
    return [data[at : at + size] for at in range(0, len(data), size)]


@given(
    st.binary(min_size=2, max_size=200),
    st.data(),
    st.integers(1, 50),
    st.integers(1, 50),
)
def test_a_rest_holds_bytes_of_the_whole_and_zeros_and_nothing_else(
    whole: bytes, data: st.DataObject, one: int, two: int
) -> None:
    end = data.draw(st.integers(0, len(whole)))
    lost = data.draw(st.sets(st.integers(0, len(whole) - 1)))
    rest = bytes(0 if at in lost else byte for at, byte in enumerate(whole[:end]))
    assert is_rest(pieces(rest, one), pieces(whole, two))
    if rest:
        at = data.draw(st.integers(0, len(rest) - 1))
        other = data.draw(st.integers(1, 255).filter(lambda byte: byte != whole[at]))
        changed = rest[:at] + bytes([other]) + rest[at + 1 :]
        assert not is_rest(pieces(changed, one), pieces(whole, two))
    assert not is_rest(pieces(whole + b"x", one), pieces(whole, two))


class UnsteadyVolume(CountingVolume):
    """Gives another byte each time that one file is read; *well* of the times, the right ones."""

    def __init__(self, well: int) -> None:
        super().__init__()
        self.well = well
        self.unsteady = ""
        self.times = 0

    def chunks(self, path: str) -> Iterator[bytes]:
        data = b"".join(super().chunks(path))
        if path == self.unsteady:
            self.times += 1
            if self.times <= 1 or self.times > 1 + self.well:
                data = bytes([data[0] ^ self.times]) + data[1:]
        yield data


@pytest.mark.parametrize(("well", "words"), [(0, "otherwise each time"), (1, "read again")])
def test_a_card_that_reads_unsteadily_is_told_so_and_to_be_replaced(well: int, words: str) -> None:
    volume = UnsteadyVolume(well)
    update(volume, MUSIC, profile())
    reading = read_card(volume)
    volume.unsteady = str(reading.state.entries[0].path)
    found = verify(volume, reading)
    (fault,) = found.faults
    assert words in fault.reason
    assert found.failing


class UnreadableVolume(CountingVolume):
    """Cannot read one file."""

    unreadable = ""

    def chunks(self, path: str) -> Iterator[bytes]:
        if path == self.unreadable:
            raise CardProblem(f"{path} gives an input/output error.")
        return super().chunks(path)


def test_one_file_that_cannot_be_read_keeps_no_other_from_being_read() -> None:
    volume = UnreadableVolume()
    update(volume, MUSIC, profile())
    reading = read_card(volume)
    volume.unreadable = str(reading.state.entries[0].path)
    read: list[str] = []
    found = verify(volume, reading, lambda path, size: read.append(path))
    assert [fault.path for fault in found.faults] == [volume.unreadable]
    assert read == [str(reading.state.entries[1].path)]
    assert found.failing


def test_a_file_system_without_locks_keeps_no_one_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "card.json").write_bytes(b"{}")

    def none(fd: int, how: int) -> None:
        raise OSError(errno.ENOLCK, "no locks")

    monkeypatch.setattr(fcntl, "flock", none)
    with FolderVolume(tmp_path) as volume:
        assert volume.lock("card.json")
