"""The invented library, made once a session with the ffmpeg that comes with imageio-ffmpeg."""

from pathlib import Path

import imageio_ffmpeg
import pytest

from syncd.demo.make import make_library


@pytest.fixture(scope="session")
def ffmpeg() -> str:
    return str(imageio_ffmpeg.get_ffmpeg_exe())


@pytest.fixture(scope="session")
def demo_library(tmp_path_factory: pytest.TempPathFactory, ffmpeg: str) -> Path:
    """Read-only: tests that change the library copy it."""
    folder = tmp_path_factory.mktemp("demo") / "library"
    make_library(folder, ffmpeg)
    return folder
