"""Broken, mislabelled and hostile files end as ItemProblems with a sentence, never otherwise."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from library_kit import CONTAINERS, DAMAGES, DRAWN, ENCODERS, HeadDamage, survives

from syncd.errors import ItemProblem
from syncd.library.kinds import AUDIO_SUFFIXES, FOREIGN_SUFFIXES
from syncd.library.masterfile import OpeningProblem
from syncd.library.tags import read_file
from syncd.model import LibraryPath

Copy = Callable[..., Path]


def problem(path: Path | str) -> str:
    """The sentence with which *path* is refused: names it, ends with a remedy and a full stop."""
    with pytest.raises(ItemProblem) as caught:
        read_file(LibraryPath(str(path)))
    reason = caught.value.reason
    assert str(path) in reason and caught.value.item == str(path)
    assert reason.endswith(".")
    return reason


@pytest.mark.parametrize("suffix", sorted(AUDIO_SUFFIXES))
def test_an_empty_file_is_refused(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    path.touch()
    assert "empty (0 bytes)" in problem(path)


@pytest.mark.parametrize("suffix", sorted(AUDIO_SUFFIXES))
def test_text_under_an_audio_name_is_refused_as_text(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    path.write_text("Liner notes, größer.\n" * 300)
    assert f"is text, though it is named {suffix}" in problem(path)


@pytest.mark.parametrize("suffix", sorted(FOREIGN_SUFFIXES))
def test_audio_of_other_kinds_is_refused_with_that_reason(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    path.write_bytes(b"x" * 100)
    assert "of a kind that syncd does not read" in problem(path)


@pytest.mark.parametrize("name", [name for name in ENCODERS if name != "a.aac"])
@pytest.mark.parametrize("part", [0.5, 0.9])
def test_a_truncated_file_is_refused(copy_of: Copy, name: str, part: float) -> None:
    """ADTS frames state no length, so that a cut cannot be told from a short file there."""
    path = copy_of(name)
    os.truncate(path, int(path.stat().st_size * part))
    reason = problem(path)
    assert "cut off" in reason or "damaged" in reason


@pytest.mark.parametrize("name", ENCODERS)
def test_a_file_cut_within_its_first_bytes_is_refused(copy_of: Copy, name: str) -> None:
    path = copy_of(name)
    os.truncate(path, 30)
    problem(path)


def test_a_flac_that_lacks_only_the_end_of_its_last_frame_is_refused(copy_of: Copy) -> None:
    path = copy_of("a.flac")
    os.truncate(path, path.stat().st_size - 3)
    assert "cut off" in problem(path)


def test_a_flac_with_odd_bytes_after_its_end_is_read(copy_of: Copy) -> None:
    path = copy_of("a.flac")
    path.write_bytes(path.read_bytes() + bytes(1000))
    assert read_file(LibraryPath(str(path))).audio.samples == 17640


@pytest.mark.parametrize("name", ENCODERS)
@pytest.mark.parametrize("suffix", [".flac", ".mp3", ".wav"])
def test_mislabelled_audio_is_read_as_what_it_is(copy_of: Copy, name: str, suffix: str) -> None:
    path = copy_of(name, f"mislabelled{suffix}")
    reading = read_file(LibraryPath(str(path)))
    container = CONTAINERS[Path(name).suffix]
    assert reading.audio.container == container
    named = AUDIO_SUFFIXES[suffix]
    assert any("its content is" in note for note in reading.notes) == (named != container)


def test_a_folder_and_a_pipe_under_audio_names_are_refused_without_waiting(tmp_path: Path) -> None:
    folder, pipe = tmp_path / "a.flac", tmp_path / "b.flac"
    folder.mkdir()
    os.mkfifo(pipe)
    for path in (folder, pipe):
        assert "folder" in problem(path).lower()


def test_a_missing_file_is_to_be_tried_again(tmp_path: Path) -> None:
    with pytest.raises(OpeningProblem):
        read_file(LibraryPath(str(tmp_path / "gone.flac")))


def test_a_name_that_is_not_utf8_is_read_and_shown_with_a_mark(copy_of: Copy) -> None:
    path = copy_of("a.flac")
    odd = os.fsencode(path.parent) + b"/caf\xe9.flac"
    shutil.copyfile(path, odd)
    assert read_file(LibraryPath(os.fsdecode(odd))).audio.samples == 17640
    Path(os.fsdecode(odd)).write_bytes(b"")
    with pytest.raises(ItemProblem) as caught:
        read_file(LibraryPath(os.fsdecode(odd)))
    assert "caf\ufffd.flac" in caught.value.reason
    caught.value.reason.encode("utf-8")


MAGICS = [
    b"", b"fLaC", b"fLaC\0\0\0\x22", b"OggS\0\x02", b"RIFF\xff\xff\0\0WAVEfmt ",
    b"ID3\x04\0\0\0\0\0\x10", b"FORM\0\0\0\x40AIFFCOMM", b"wvpk", b"\0\0\0\x18ftypM4A ",
    b"\xff\xfb\x90\x44", b"\xff\xf1\x50\x80",
    b"RF64\xff\xff\xff\xffWAVEds64", b"OggS\0\x02" + bytes(20) + b"\x01\x1e\x01vorbis",
    b"OggS\0\x02" + bytes(20) + b"\x01\x13OpusHead\x01\x02",
]  # fmt: skip


@settings(DRAWN, max_examples=300)
@given(magic=st.sampled_from(MAGICS), rest=st.binary(max_size=400))
def test_arbitrary_bytes_never_raise_anything_but_an_item_problem(
    tmp_path: Path, magic: bytes, rest: bytes
) -> None:
    survives(tmp_path / "a.flac", magic + rest)


@settings(DRAWN, max_examples=300)
@given(name=st.sampled_from(sorted(ENCODERS)), damage=DAMAGES)
def test_damaged_heads_never_raise_anything_but_an_item_problem(
    masters: Path, tmp_path: Path, name: str, damage: HeadDamage
) -> None:
    survives(tmp_path / name, damage.of((masters / name).read_bytes()))


@settings(DRAWN, max_examples=150)
@given(
    frames=st.lists(
        st.tuples(
            st.sampled_from(
                [b"TIT2", b"TXXX", b"APIC", b"TMCL", b"TIPL", b"COMM", b"MVIN", b"TCON", b"TDRC"]
            ),
            st.binary(max_size=60),
        ),
        max_size=6,
    ),
    version=st.sampled_from([2, 3, 4]),
    flags=st.sampled_from([0, 0x40, 0x80, 0xC0, 0x10]),
)
def test_broken_id3_frames_cost_tags_but_not_the_audio(
    masters: Path, tmp_path: Path, frames: list[tuple[bytes, bytes]], version: int, flags: int
) -> None:
    body = b"".join(kind + len(data).to_bytes(4, "big") + b"\0\0" + data for kind, data in frames)
    head = b"ID3" + bytes([version, 0, flags, 0, 0, len(body) >> 7, len(body) & 0x7F])
    path = tmp_path / "a.mp3"
    path.write_bytes(head + body + (masters / "a.mp3").read_bytes())
    if flags != 0x10:
        assert read_file(LibraryPath(str(path))).audio.samples == 17640
    survives(path, path.read_bytes())
