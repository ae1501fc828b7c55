"""A second opinion on the level of pressings: pydub's AudioSegment, which decodes by itself."""

import subprocess
from pathlib import Path

import pytest
from pydub import AudioSegment
from transcoder_kit import master, music, recipe_for

from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


@pytest.mark.parametrize("codec", ["mp3", "flac", "opus", "vorbis"])
def test_pydub_finds_the_level_of_the_source_in_the_pressing(
    codec: str, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "master.flac", music(60_000))
    setting = {"bitrate_kbps": 192} if codec != "flac" else {}
    pressing = press(
        source.track, recipe_for(source.track.audio, codec=codec, **setting), store, tool
    )

    def level_dbfs(path: Path) -> float:
        # Through WAV: pydub asks ffprobe about anything else, which not every machine has.
        out = tmp_path / "level.wav"
        decode = [find_ffmpeg(), "-v", "error", "-y", "-i", path, "-c:a", "pcm_s16le", out]
        subprocess.run(decode, check=True)
        return float(AudioSegment.from_wav(out).dBFS)

    # Half a decibel: the limit that the project sets itself for every pressing.
    assert abs(level_dbfs(pressing.path) - level_dbfs(Path(source.track.path))) < 0.5
