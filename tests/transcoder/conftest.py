"""Fixtures of the transcoder's tests."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.store import Store

sys.path.insert(0, str(Path(__file__).parent.parent))  # for rare_sources_kit


@pytest.fixture(scope="session")
def tool() -> Ffmpeg:
    return Ffmpeg(find_ffmpeg())


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store") as opened:
        yield opened
