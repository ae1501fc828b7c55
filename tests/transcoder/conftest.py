"""Fixtures of the transcoder's tests."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))  # for rare_sources_kit

from rare_sources_kit import DSD64_HZ, modulated, tone, write_dff, write_dsf

from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.store import Store


@pytest.fixture(scope="session")
def tool() -> Ffmpeg:
    return Ffmpeg(find_ffmpeg())


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store") as opened:
        yield opened


@pytest.fixture(scope="session")
def one_bit(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A tone of 1 kHz at half modulation left, a quarter right, 0.2 s, as DSF and DSDIFF."""
    folder = tmp_path_factory.mktemp("one_bit")
    bits = [modulated(tone(1000, peak, DSD64_HZ // 5)) for peak in (0.5, 0.25)]
    return {
        "dsf": write_dsf(folder / "a.dsf", bits),
        "dff": write_dff(folder / "a.dff", bits),
    }
