"""What the transcoder's tests share: music made with numpy, masters of it, second decoders.

Masters are written by libsndfile where it can, so that ffmpeg is not judged by itself alone.
"""

import contextlib
import select
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import xxhash

from syncd.library.audiohash import hash_file
from syncd.library.tags import read_file
from syncd.model import AudioFacts, AudioHash, Codec, LibraryPath, Track
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import Recipe
from syncd.profile import Encode, Plays, Profile
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

Samples = np.ndarray[Any, np.dtype[np.float64]]

FLAC24 = {"codec": "flac", "max_bits_per_sample": 24, "max_sample_rate_hz": 384000}
TONES = (300.0, 500.0, 700.0, 900.0, 1100.0, 1300.0, 1500.0, 1700.0)  # one for each channel
HALF = 0.7071  # half the energy of a channel, as ITU-R BS.775 mixes the centre

SUBTYPES = {8: "PCM_U8", 16: "PCM_16", 24: "PCM_24", 32: "PCM_32"}


def music(samples: int, rate: int = 44100, channels: int = 2, level: float = 0.2) -> Samples:
    """A swelling chord, each channel a little different; all of it well below 4 kHz."""
    t = np.arange(samples) / rate
    swell = 0.6 + 0.4 * np.sin(2 * np.pi * 1.3 * t)
    voices = [
        sum(np.sin(2 * np.pi * tone * (1 + 0.01 * channel) * t) for tone in (220, 277, 330, 881))
        for channel in range(channels)
    ]
    return np.stack([level * swell * voice / 2 for voice in voices], axis=1)


def facts(
    kind: str,
    codec: Codec,
    samples: int | None,
    rate: int = 44100,
    channels: int = 2,
    bits: int | None = 16,
    form: str = "",
) -> AudioFacts:
    known = samples if samples is not None else rate
    bps = None if bits is None else rate * channels * bits
    return AudioFacts(
        kind, codec, rate, channels, known / rate, bits, bps or 128_000, samples, form
    )


@dataclass(frozen=True)
class Master:
    """A master file, what is known about it and the samples that are in it."""

    track: Track
    samples: Samples


def track_of(path: Path, audio: AudioFacts) -> Track:
    data = path.read_bytes()
    return Track(
        LibraryPath(str(path)), AudioHash(xxhash.xxh3_128_hexdigest(data)), audio, len(data)
    )


def master(
    path: Path, data: Samples, rate: int = 44100, bits: int = 16, *, float_form: bool = False
) -> Master:
    """Write *data* with libsndfile as the kind that *path*'s suffix names."""
    kind = path.suffix[1:]
    subtype = "FLOAT" if float_form else SUBTYPES[bits]
    if kind == "flac" and bits == 8:
        subtype = "PCM_S8"
    soundfile.write(path, data, rate, subtype=subtype, format=kind.upper())
    codec = Codec.FLAC if kind == "flac" else Codec.PCM
    form = "float" if float_form else ""
    audio = facts(kind, codec, len(data), rate, data.shape[1], bits, form)
    return Master(track_of(path, audio), data)


def profile_for(encode: Encode) -> Profile:
    """A player that gets everything encoded: it plays nothing that a test's master is."""
    return Profile(name="test", plays=(Plays(codec=encode.codec),), encode=encode)


def recipe_for(audio: AudioFacts, **encode: Any) -> Recipe:
    """The encoding recipe for *audio*, also where it could be carried over."""
    wanted = Encode(**encode)
    recipe = make_recipe(audio, profile_for(wanted))
    if recipe.action == "carry":
        other = AudioFacts(
            "wavpack" if audio.lossless else audio.container,
            Codec.WAVPACK if audio.lossless else audio.codec,
            audio.sample_rate_hz,
            audio.channels,
            audio.duration_s,
            audio.bits_per_sample,
            audio.bitrate_bps,
            audio.samples,
        )
        recipe = make_recipe(other, profile_for(wanted))
    assert recipe.action == "encode"
    return recipe


def ffmpeg_encode(source: Path, target: Path, *options: str) -> Path:
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-y", "-i", str(source)]
    subprocess.run([*command, *options, str(target)], check=True)
    return target


def need(program: str, package: str) -> str:
    """The path of a Debian program; skips the test, naming the package, where there is none."""
    found = shutil.which(program)
    if found is None:
        pytest.skip(f"{program} is not here; it comes in Debian's package {package}")
    return found


def decode(path: Path) -> tuple[Samples, int]:
    """Decode *path* with something that is not the ffmpeg that made it; samples and rate."""
    wav = path.with_suffix(path.suffix + ".decoded.wav")
    quiet = {"check": True, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    if path.suffix == ".mp3":
        subprocess.run([need("mpg123", "mpg123"), "-q", "-w", str(wav), str(path)], **quiet)
    elif path.suffix == ".opus":
        opusdec = need("opusdec", "opus-tools")
        subprocess.run([opusdec, "--rate", "48000", "--float", str(path), str(wav)], **quiet)
    elif path.suffix == ".ogg":
        subprocess.run([need("oggdec", "vorbis-tools"), "-Q", "-o", str(wav), str(path)], **quiet)
    elif path.suffix == ".flac":
        subprocess.run([need("flac", "flac"), "-s", "-d", "-f", "-o", str(wav), str(path)], **quiet)
    else:
        wav = path
    data, rate = soundfile.read(wav, always_2d=True)
    return data, rate


def encoders_of(pid: int) -> list[int]:
    """The ffmpeg processes below *pid*, from /proc; skips the test where there is none."""
    if not Path("/proc/self/stat").exists():
        pytest.skip("there is no /proc here to look for processes in")
    parents: dict[int, tuple[int, str]] = {}
    for folder in Path("/proc").iterdir():
        with contextlib.suppress(OSError):
            if folder.name.isdigit():
                name, _, rest = (folder / "stat").read_text().partition("(")[2].rpartition(")")
                parents[int(folder.name)] = (int(rest.split()[1]), name)

    def below(child: int) -> bool:
        while child in parents:
            child = parents[child][0]
            if child == pid:
                return True
        return False

    return [child for child, (_, name) in parents.items() if "ffmpeg" in name and below(child)]


def has_ended(pidfd: int, timeout_s: float) -> bool:
    """Whether the process behind *pidfd* ends within *timeout_s*."""
    poll = select.poll()
    poll.register(pidfd, select.POLLIN)
    return bool(poll.poll(timeout_s * 1000))


def level_db(data: Samples) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(np.square(data))) + 1e-12))


def tone_db(data: Samples, rate: int, hz: float) -> float:
    """Level of the tone *hz* in the one channel *data*, dB against a full-scale sine."""
    window = np.blackman(len(data))
    turn = np.exp(-2j * np.pi * hz * np.arange(len(data)) / rate)
    return float(20 * np.log10(2 * abs(np.sum(data * window * turn)) / np.sum(window) + 1e-15))


def pressed(
    path: Path, store: Store, tool: Ffmpeg, **encode: Any
) -> tuple[Recipe, Samples, int, AudioFacts]:
    """*path* read as the library reads it, pressed as asked and decoded by a second decoder."""
    audio = read_file(LibraryPath(str(path))).audio
    hash_file(LibraryPath(str(path)), audio.container)
    recipe = make_recipe(audio, profile_for(Encode(**encode)))
    if recipe.action == "carry":
        recipe = recipe_for(audio, **encode)
    data, rate = decode(press(track_of(path, audio), recipe, store, tool).path)
    return recipe, data, rate, audio
