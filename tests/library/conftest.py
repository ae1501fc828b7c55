"""One short file in every format, made once a session by ffmpeg from the same samples.

Also a root with all of them, and an index of it.
"""

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import imageio_ffmpeg
import pytest
import soundfile
from library_kit import ENCODERS, FRAMES, RATE_HZ, chord

from syncd.library import tags
from syncd.library.index import LibraryIndex

sys.path.insert(0, str(Path(__file__).parent.parent))  # for rare_sources_kit


@pytest.fixture(scope="session")
def ffmpeg() -> str:
    return imageio_ffmpeg.get_ffmpeg_exe()


@pytest.fixture(scope="session")
def run_ffmpeg(ffmpeg: str) -> Callable[..., bytes]:
    """Run ffmpeg with arguments; returns what it wrote on its standard output."""

    def run(*arguments: str | Path) -> bytes:
        command = [ffmpeg, "-nostdin", "-loglevel", "error", "-y", *map(str, arguments)]
        return subprocess.run(command, check=True, capture_output=True, timeout=120).stdout

    return run


@pytest.fixture(scope="session")
def masters(tmp_path_factory: pytest.TempPathFactory, run_ffmpeg: Callable[..., bytes]) -> Path:
    """A folder with one file for each entry of ENCODERS. Not to be changed by a test."""
    folder = tmp_path_factory.mktemp("masters")
    source = folder / "source.wav"
    soundfile.write(source, chord(FRAMES), RATE_HZ, subtype="PCM_16")
    for name, how in ENCODERS.items():
        run_ffmpeg("-i", source, "-map_metadata", "-1", *how, folder / name)
    source.unlink()
    return folder


@pytest.fixture
def copy_of(masters: Path, tmp_path: Path) -> Callable[..., Path]:
    """A copy of one of the masters, which the test may change."""

    def copy(name: str, new_name: str | None = None) -> Path:
        target = tmp_path / (new_name or name)
        target.parent.mkdir(parents=True, exist_ok=True)
        return Path(shutil.copyfile(masters / name, target))

    return copy


@pytest.fixture
def music(tmp_path: Path, masters: Path) -> Path:
    """A root with one album: a file of every format in a folder."""
    root = tmp_path / "music"
    (root / "album").mkdir(parents=True)
    for name in ENCODERS:
        shutil.copyfile(masters / name, root / "album" / name)
    return root.resolve()


@pytest.fixture
def index(tmp_path: Path, music: Path) -> Iterator[LibraryIndex]:
    """An index that knows the root ``music`` and has scanned nothing."""
    with LibraryIndex(tmp_path / "home" / "library.db") as opened:
        opened.add_root(music)
        yield opened


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The paths that are read from now on, in the order of reading."""
    paths: list[str] = []
    real = tags.read_file

    def counted(path):
        paths.append(path)
        return real(path)

    monkeypatch.setattr(tags, "read_file", counted)
    return paths
