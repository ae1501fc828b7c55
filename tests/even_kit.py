"""What the tests of even loudness in whole updates share: music of known samples, and players."""

from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from update_kit import RATE, tag, tag_movement

from syncd.profile import Encode, Levelling, Plays, Profile

Samples = np.ndarray[Any, np.dtype[np.float64]]

LEVELS = (-30.0, -16.0, -24.0)
SECONDS = (2.0131, 1.507, 2.2222)


def music(seconds: float, level_db: float, seed: int) -> Samples:
    dice = np.random.default_rng(seed)
    t = np.arange(round(seconds * RATE)) / RATE
    wave = sum(np.sin(2 * np.pi * hz * t + seed) for hz in (220, 277, 331, 1400))
    data = np.stack([wave, wave * 0.8], axis=1) * (0.7 + 0.3 * np.sin(2 * np.pi * 2 * t))[:, None]
    data = data + 0.05 * dice.normal(size=data.shape)
    return np.asarray(data / np.abs(data).max() * 10 ** (level_db / 20))


def make_music(root: Path) -> tuple[list[Samples], list[Samples]]:
    """A recording of three movements and an album of two songs; their samples."""
    movements, songs = [], []
    for number, (seconds, level) in enumerate(zip(SECONDS, LEVELS, strict=True), 1):
        path = root / "Classical" / f"{number:02}.flac"
        path.parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(path, music(seconds, level, number), RATE, format="FLAC")
        movements.append(soundfile.read(path)[0])
        title = ("Allegro", "Adagio", "Prestissimo")[number - 1]
        tag_movement(
            path,
            number,
            title,
            "Quirin Ostrowald",
            album="Sonatas",
            replaygain_track_gain="+99.00 dB",
            replaygain_album_gain="+99.00 dB",
            r128_track_gain="9999",
        )
    for number, level in ((1, -10.0), (2, -2.0)):
        path = root / "Popular" / f"{number:02}.flac"
        path.parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(path, music(1.3, level, 10 + number), RATE, format="FLAC")
        songs.append(soundfile.read(path)[0])
        tag(
            path,
            artist="Marnesund Five",
            album="Low Tide",
            title=f"Tide {number}",
            tracknumber=str(number),
            genre="Pop",
        )
    return movements, songs


def player(codec: str, loudness: Levelling, *more: str, **encode: Any) -> Profile:
    return Profile(
        name="test",
        plays=tuple(Plays(codec=name) for name in (codec, *more)),
        encode=Encode(codec=codec, **encode),
        loudness=loudness,
    )
