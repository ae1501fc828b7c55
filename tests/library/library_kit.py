"""What the library's tests share: formats, how ffmpeg makes them, sound, damage at random."""

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from syncd.errors import ItemProblem
from syncd.library.audiohash import hash_file
from syncd.library.tags import read_file
from syncd.model import LibraryPath, LibrarySnapshot

RATE_HZ = 44100
FRAMES = 17640  # 0.4 s; 17640 mod 1152 = 360, so ffmpeg's capped MP3 padding plays no part

ENCODERS: dict[str, list[str]] = {
    "a.flac": ["-c:a", "flac"],
    "a24.flac": ["-c:a", "flac", "-sample_fmt", "s32", "-bits_per_raw_sample", "24"],
    "a.mp3": ["-c:a", "libmp3lame", "-b:a", "128k"],
    "vbr.mp3": ["-c:a", "libmp3lame", "-q:a", "2"],
    "aac.m4a": ["-c:a", "aac"],
    "alac.m4a": ["-c:a", "alac"],
    "a.ogg": ["-c:a", "libvorbis"],
    "a.opus": ["-c:a", "libopus"],
    "flac.oga": ["-c:a", "flac", "-f", "ogg"],
    "a.wav": ["-c:a", "pcm_s16le"],
    "float.wav": ["-c:a", "pcm_f32le"],
    "a.aiff": ["-c:a", "pcm_s16be"],
    "a.wv": ["-c:a", "wavpack"],
    "a.aac": ["-c:a", "aac", "-f", "adts"],
}
CONTAINERS = {
    ".flac": "flac", ".mp3": "mp3", ".m4a": "mp4", ".ogg": "ogg", ".opus": "ogg", ".oga": "ogg",
    ".wav": "wav", ".aiff": "aiff", ".wv": "wavpack", ".aac": "aac",
}  # fmt: skip
JPEG = b"\xff\xd8\xff\xe0" + bytes(100)  # what tells a JPEG file, and no picture


def names(snapshot: LibrarySnapshot, root: Path) -> list[str]:
    """The paths of all tracks below *root*."""
    return [os.path.relpath(each.track.path, root) for each in snapshot.tracks]


def chord(frames: int, rate_hz: int = RATE_HZ) -> np.ndarray:
    """A stereo chord with a little noise, so that encoders have something to do."""
    time = np.arange(frames) / rate_hz
    noise = np.random.default_rng(7).normal(0, 0.01, (frames, 2))
    tones = np.stack([np.sin(2 * np.pi * f * time) for f in (440.0, 554.37)], axis=1)
    return 0.3 * tones + noise


# -- files damaged at random ----------------------------------------------------------------------

DRAWN = settings(
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@dataclass(frozen=True)
class HeadDamage:
    """Some bytes written over the beginning of a file, and its end cut off."""

    edits: list[tuple[int, bytes]]
    cut: int

    def of(self, content: bytes) -> bytes:
        """*content* damaged so."""
        left = bytearray(content)
        for position, data in self.edits:
            left[position : position + len(data)] = data
        return bytes(left[: len(left) - self.cut])


DAMAGES = st.builds(
    HeadDamage,
    edits=st.lists(
        st.tuples(st.integers(0, 700), st.binary(min_size=1, max_size=8)), min_size=1, max_size=6
    ),
    cut=st.integers(0, 3000),
)


def survives(path: Path, content: bytes) -> None:
    """Reading and hashing *content* either work or raise ItemProblem."""
    path.write_bytes(content)
    try:
        reading = read_file(LibraryPath(str(path)))
    except ItemProblem as found:
        assert found.reason.endswith(".")
        found.reason.encode("utf-8")
        return
    assert reading.audio.sample_rate_hz > 0 and reading.audio.channels > 0
    assert reading.audio.duration_s > 0
    assert reading.audio.samples is None or reading.audio.samples > 0
    for name, values in reading.tags.items():
        assert all("\0" not in value for value in values)
        "".join((name, *values)).encode("utf-8")
    try:
        hash_file(LibraryPath(str(path)), reading.audio.container)
    except ItemProblem as found:
        assert found.reason.endswith(".")
