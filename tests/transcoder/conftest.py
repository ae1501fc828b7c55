"""Fixtures of the transcoder's tests."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.store import Store


@pytest.fixture(scope="session")
def tool() -> Ffmpeg:
    return Ffmpeg(find_ffmpeg())


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store") as opened:
        yield opened
