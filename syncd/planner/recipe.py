"""What must be done to a track's audio so that a certain player can play it: the value. Pure.

A recipe says either that the master's audio is carried over untouched, or how it is encoded: rate,
word length, channels, codec and its setting. Which recipe audio gets is decided by
``syncd.planner.prescribing``; doing it is ``syncd.transcoder``'s affair.
"""

from dataclasses import dataclass, field
from typing import Literal

from syncd.errors import SyncdError
from syncd.model import LOSSLESS, Codec
from syncd.planner.join import Join

RECIPE_VERSION = 1
"""Part of every key. Raised when equal recipes would give different audio than before."""

USUAL_CONTAINER = {
    Codec.FLAC: "flac",
    Codec.ALAC: "mp4",
    Codec.WAVPACK: "wavpack",
    Codec.PCM: "wav",
    Codec.MP3: "mp3",
    Codec.AAC: "mp4",
    Codec.VORBIS: "ogg",
    Codec.OPUS: "ogg",
    Codec.DSD: "dsf",
    Codec.TTA: "tta",
    Codec.APE: "ape",
    Codec.WMA: "asf",
    Codec.WMA_LOSSLESS: "asf",
    Codec.MP2: "mp3",
}

SUFFIX = {
    "flac": ".flac",
    "mp3": ".mp3",
    "mp4": ".m4a",
    "ogg": ".ogg",
    "wav": ".wav",
    "aiff": ".aiff",
    "wavpack": ".wv",
    "aac": ".aac",
    "dsf": ".dsf",
    "dff": ".dff",
    "tta": ".tta",
    "ape": ".ape",
    "asf": ".wma",
}

# Average bit rate of the MP3 encoder's variable-bitrate scale on stereo music (common practice).
MP3_VBR_KBPS = (245, 225, 190, 175, 165, 130, 115, 100, 85, 65)

DEEMPHASIS_RATES_HZ = frozenset({32000, 44100, 48000, 88200, 96000, 176400, 192000})
"""Rates at which pre-emphasis can be undone: the filter's figures are kept for these."""


class Unplayable(SyncdError):
    """Nothing that this player could play can be made from this audio; the text says why."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What is done to a track's audio.

    ``action`` "carry" leaves the file's audio as it is, "remux" puts the very same samples into
    another container; the other fields then describe it. ``bits`` is
    None for lossy codecs. Of ``quality`` (variable bit rate, 0 best), ``bitrate_kbps`` and
    ``level`` (FLAC's effort, 0 to 8) at most one is set; ``constant`` says that the bit rate does
    not vary, ``block_samples`` is the length of FLAC's blocks where it is prescribed. ``downmix``
    names a matrix of ``syncd.transcoder.downmix`` by the channel counts ("6to2"). ``gain_db``, in
    hundredths, is what the samples are multiplied by, None for nothing. ``deemphasis`` undoes
    50/15 us pre-emphasis. ``join`` is what filters hear around the track. ``reasons`` are plain
    words.
    """

    action: Literal["carry", "remux", "encode"]
    codec: Codec
    container: str
    sample_rate_hz: int
    channels: int
    bits: int | None = None
    quality: int | None = None
    bitrate_kbps: int | None = None
    level: int | None = None
    constant: bool = False
    block_samples: int | None = None
    resample: bool = False
    downmix: str | None = None
    dither: bool = False
    deemphasis: bool = False
    gain_db: float | None = None
    join: Join | None = None
    reasons: tuple[str, ...] = field(default=(), compare=False)
    source_bitrate_bps: int | None = field(default=None, compare=False)

    @property
    def suffix(self) -> str:
        """The file suffix, with its dot."""
        if self.container == "ogg" and self.codec is Codec.OPUS:
            return ".opus"
        return SUFFIX[self.container]

    @property
    def lossless(self) -> bool:
        """Whether the pressing's codec keeps every sample that it is given."""
        return self.codec in LOSSLESS

    @property
    def key(self) -> str:
        """Equal work on equal audio has equal keys; letters, digits and hyphens only."""
        if self.action == "carry":
            return f"r{RECIPE_VERSION}-carry"
        if self.action == "remux":
            return f"r{RECIPE_VERSION}-remux-{self.codec}-{self.container}"
        setting = [
            f"q{self.quality}" if self.quality is not None else "",
            f"b{self.bitrate_kbps}" if self.bitrate_kbps is not None else "",
            f"l{self.level}" if self.level is not None else "",
            "cbr" if self.constant else "",
            f"f{self.block_samples}" if self.block_samples is not None else "",
        ]
        parts = [
            f"r{RECIPE_VERSION}",
            self.codec.value,
            self.container if self.container != USUAL_CONTAINER[self.codec] else "",
            str(self.sample_rate_hz),
            f"{self.channels}ch",
            f"{self.bits}bit" if self.bits is not None else "",
            *setting,
            f"mix{self.downmix}" if self.downmix else "",
            "dither" if self.dither else "",
            f"gain{self.gain_db * 100:.0f}" if self.gain_db is not None else "",
            "deemph" if self.deemphasis else "",
            f"join{self.join.key}" if self.join is not None else "",
        ]
        return "-".join(part for part in parts if part)

    def estimate_bytes(self, duration_s: float) -> int:
        """About the most bytes that the audio will take, without tags and picture.

        A guess where the encoder decides (variable bit rate, lossless); the true size is known
        once it is pressed. For carried audio the master's own size is the better figure.
        """
        return estimated_bytes(duration_s, self.at_most_bps())

    def at_most_bps(self) -> float:
        """About the most bits a second that the audio will take."""
        plain = self.sample_rate_hz * self.channels * (self.bits or 16)
        if self.action == "carry":
            return self.source_bitrate_bps or plain
        if self.action == "remux":
            # The frames of ADTS have heads of 7 bytes, those of Ogg lacing and pages.
            return (self.source_bitrate_bps or plain) * 1.01 + self.sample_rate_hz / 1024 * 56
        if self.quality is not None:
            average = MP3_VBR_KBPS[self.quality] * 1000 * (0.6 if self.channels == 1 else 1)
            return min(average * 1.35, 320_000)
        if self.bitrate_kbps is not None:
            # A managed or fixed rate; variable ones swing about it by some percent.
            fixed = self.codec is Codec.MP3 or self.constant
            return self.bitrate_kbps * 1000 * (1.02 if fixed else 1.35)
        if self.codec is Codec.FLAC and self.source_bitrate_bps and not self.resample:
            return min(plain * 1.01, self.source_bitrate_bps * 1.05)
        return plain * 1.01


def estimated_bytes(duration_s: float, bps: float) -> int:
    """What audio of *duration_s* takes at *bps* bits a second, and what stands around it."""
    return int(duration_s * bps / 8) + 8192
