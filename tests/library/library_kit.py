"""What the library's tests share: the formats, how ffmpeg makes them, and the sound in them."""

import numpy as np

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


def chord(frames: int, rate_hz: int = RATE_HZ) -> np.ndarray:
    """A stereo chord with a little noise, so that encoders have something to do."""
    time = np.arange(frames) / rate_hz
    noise = np.random.default_rng(7).normal(0, 0.01, (frames, 2))
    tones = np.stack([np.sin(2 * np.pi * f * time) for f in (440.0, 554.37)], axis=1)
    return 0.3 * tones + noise
