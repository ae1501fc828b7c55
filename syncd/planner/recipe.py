"""What must be done to a track's audio so that a certain player can play it. Pure.

A recipe says either that the master's audio is carried over untouched, or how it is encoded: rate,
word length, channels, codec and its setting. Doing it is ``syncd.transcoder``'s affair. Two rules
hold for every recipe: nothing is invented (no higher rate, no longer words, no more channels, no
lossy copy with a higher bit rate than its lossy source), and nothing is lost that the player could
have played.
"""

from dataclasses import dataclass, field
from typing import Literal

from syncd.errors import SyncdError
from syncd.model import LOSSLESS, AudioFacts, Codec
from syncd.profile import Plays, Profile

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
}

WRITABLE = {
    Codec.FLAC: ("flac",),
    Codec.MP3: ("mp3",),
    Codec.OPUS: ("ogg",),
    Codec.VORBIS: ("ogg",),
    Codec.AAC: ("mp4",),
    Codec.PCM: ("wav", "aiff"),
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
}

_44K1_FAMILY = (11025, 22050, 44100, 88200, 176400, 352800)
_48K_FAMILY = (8000, 12000, 16000, 24000, 32000, 48000, 64000, 96000, 192000, 384000)
_MP3_RATES = frozenset({8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000})

# Bit rates that exist, kbit/s: ISO/IEC 11172-3 (rates from 32 kHz) and 13818-3 (below).
MP3_KBPS = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
MP3_LOW_KBPS = (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)

# Average bit rate of the MP3 encoder's variable-bitrate scale on stereo music (common practice).
_MP3_VBR_KBPS = (245, 225, 190, 175, 165, 130, 115, 100, 85, 65)
_DEFAULT_KBPS = {Codec.OPUS: 128, Codec.VORBIS: 160, Codec.AAC: 160}

# Lowest and highest kbit/s that the Vorbis encoder takes, mono and stereo (measured with it).
_VORBIS_KBPS = {
    8000: ((8, 40), (12, 80)),
    11025: ((12, 48), (16, 96)),
    16000: ((16, 96), (24, 192)),
    22050: ((16, 88), (32, 160)),
    24000: ((16, 88), (32, 160)),
    32000: ((32, 160), (40, 320)),
    44100: ((32, 240), (48, 480)),
    48000: ((32, 240), (48, 480)),
}
_LOSSY_RATES = {
    Codec.MP3: _MP3_RATES,
    Codec.AAC: _MP3_RATES,
    Codec.VORBIS: frozenset(_VORBIS_KBPS),
    Codec.OPUS: frozenset({48000}),
}
"""Rates that are encoded. AAC and Vorbis know higher ones, which win nothing that is heard."""


class Unplayable(SyncdError):
    """Nothing that this player could play can be made from this audio; the text says why."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What is done to a track's audio.

    ``action`` "carry" leaves the audio as it is; the other fields then describe it. ``bits`` is
    None for lossy codecs. Of ``quality`` (variable bit rate, 0 best), ``bitrate_kbps`` and
    ``level`` (FLAC) at most one is set. ``downmix`` names a matrix of
    ``syncd.transcoder.downmix`` by the channel counts ("6to2"). ``reasons`` are plain words.
    """

    action: Literal["carry", "encode"]
    codec: Codec
    container: str
    sample_rate_hz: int
    channels: int
    bits: int | None = None
    quality: int | None = None
    bitrate_kbps: int | None = None
    level: int | None = None
    resample: bool = False
    downmix: str | None = None
    dither: bool = False
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
        setting = [
            f"q{self.quality}" if self.quality is not None else "",
            f"b{self.bitrate_kbps}" if self.bitrate_kbps is not None else "",
            f"l{self.level}" if self.level is not None else "",
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
        ]
        return "-".join(part for part in parts if part)

    def estimate_bytes(self, duration_s: float) -> int:
        """About the most bytes that the audio will take, without tags and picture.

        A guess where the encoder decides (variable bit rate, lossless); the true size is known
        once it is pressed. For carried audio the master's own size is the better figure.
        """
        return int(duration_s * self._at_most_bps() / 8) + 8192

    def _at_most_bps(self) -> float:
        plain = self.sample_rate_hz * self.channels * (self.bits or 16)
        if self.action == "carry":
            return self.source_bitrate_bps or plain
        if self.quality is not None:
            average = _MP3_VBR_KBPS[self.quality] * 1000 * (0.6 if self.channels == 1 else 1)
            return min(average * 1.35, 320_000)
        if self.bitrate_kbps is not None:
            # A managed or fixed rate; variable ones swing about it by some percent.
            return self.bitrate_kbps * 1000 * (1.02 if self.codec is Codec.MP3 else 1.35)
        if self.codec is Codec.FLAC and self.source_bitrate_bps and not self.resample:
            return min(plain * 1.01, self.source_bitrate_bps * 1.05)
        return plain * 1.01


@dataclass(frozen=True, slots=True)
class _Limits:
    """What the player and the profile's ``encode`` table together allow for a made file."""

    container: str
    rate_hz: int
    bits: int
    channels: int
    kbps: int | None


def make_recipe(audio: AudioFacts, profile: Profile) -> Recipe:
    """Return what must be done to *audio* for a player described by *profile*.

    Raises Unplayable with a sentence when nothing can be made.
    """
    _check_source(audio)
    refusals: list[str] = []
    for plays in profile.plays_codec(audio.codec):
        refusal = _why_not_carried(audio, plays)
        if refusal is None:
            return _carry(audio)
        refusals.append(refusal)
    why = refusals[0] if refusals else f"the player does not play {_name(audio.codec)}"
    return _encode(audio, profile, _limits(profile), why)


def _check_source(audio: AudioFacts) -> None:
    if audio.sample_rate_hz <= 0 or audio.channels <= 0:
        raise Unplayable(
            f"Its header gives {audio.channels} channels at {audio.sample_rate_hz} Hz, which is "
            "no audio; the file is damaged. Rip or fetch it again."
        )
    if audio.channels > 8:
        raise Unplayable(
            f"It has {audio.channels} channels; there is no rule for mixing more than 8 down. "
            "Make a stereo version of it by hand."
        )


def _carry(audio: AudioFacts) -> Recipe:
    return Recipe(
        action="carry",
        codec=audio.codec,
        container=audio.container,
        sample_rate_hz=audio.sample_rate_hz,
        channels=audio.channels,
        bits=audio.bits_per_sample if audio.lossless else None,
        reasons=(f"carried over: the player plays {_describe(audio)} as it is",),
        source_bitrate_bps=audio.bitrate_bps,
    )


def _why_not_carried(audio: AudioFacts, plays: Plays) -> str | None:
    """What keeps *audio* from being played under the entry *plays*, or None."""
    containers = plays.containers or (USUAL_CONTAINER[audio.codec],)
    if audio.container not in containers:
        return f"the player does not read {_name(audio.codec)} from {audio.container} files"
    top = plays.max_sample_rate_hz
    if top is not None and audio.sample_rate_hz > top:
        return f"the player plays {_name(audio.codec)} up to {_khz(top)}"
    if plays.max_channels is not None and audio.channels > plays.max_channels:
        return f"the player plays at most {plays.max_channels} channels"
    bits = plays.max_bits_per_sample
    if bits is not None and audio.lossless:
        if audio.bits_per_sample is None:
            return "its word length is not known"
        if audio.bits_per_sample > bits or (audio.profile == "float" and bits < 32):
            return f"the player plays {_name(audio.codec)} up to {bits} bit"
    return _bitrate_refusal(audio, plays.max_bitrate_kbps)


def _bitrate_refusal(audio: AudioFacts, top_kbps: int | None) -> str | None:
    if top_kbps is None or (audio.codec is Codec.MP3 and top_kbps >= MP3_KBPS[-1]):
        return None  # MP3 frames cannot have more than 320 kbit/s, whatever the average says
    if audio.bitrate_bps is None:
        return "its bit rate is not known"
    if audio.bitrate_bps > top_kbps * 1000:
        return f"the player plays {_name(audio.codec)} up to {top_kbps} kbit/s"
    return None


def _limits(profile: Profile) -> _Limits:
    """The widest limits under which the player plays what the profile has made for it."""
    encode = profile.encode
    codec = Codec(encode.codec)
    found: list[_Limits] = []
    for plays in profile.plays_codec(codec):
        containers = plays.containers or (USUAL_CONTAINER[codec],)
        container = next((name for name in WRITABLE[codec] if name in containers), None)
        if container is None:
            continue
        found.append(
            _Limits(
                container=container,
                rate_hz=min(
                    encode.max_sample_rate_hz,
                    plays.max_sample_rate_hz or encode.max_sample_rate_hz,
                ),
                bits=min(encode.max_bits_per_sample, plays.max_bits_per_sample or 32),
                channels=min(encode.max_channels, plays.max_channels or 8),
                kbps=plays.max_bitrate_kbps,
            )
        )
    if not found:
        raise Unplayable(
            f"The profile has {_name(codec)} made, but the player reads it only from containers "
            f"that syncd does not write; let 'plays' allow {' or '.join(WRITABLE[codec])}."
        )
    return max(found, key=lambda limits: (limits.rate_hz, limits.bits, limits.channels))


def _encode(audio: AudioFacts, profile: Profile, limits: _Limits, why: str) -> Recipe:
    codec = Codec(profile.encode.codec)
    reasons = [f"made {_name(codec)}: {why}"]
    channels = min(audio.channels, limits.channels)
    rates = _rates_to_try(audio, limits, codec)
    rate, kbps, quality = rates[0], None, None
    if codec in _LOSSY_RATES:
        rate, kbps, quality = _lossy_setting(audio, profile, limits, codec, rates, reasons)
    bits, dither = None, False
    processed = rate != audio.sample_rate_hz or channels != audio.channels
    if codec in LOSSLESS:
        bits, dither = _target_bits(audio, limits, processed)
    if rate != audio.sample_rate_hz:
        reasons.append(f"rate {_khz(audio.sample_rate_hz)} to {_khz(rate)}")
    if channels != audio.channels:
        reasons.append(f"mixed down from {audio.channels} channels to {channels}")
    if bits is not None and audio.lossless and bits < (audio.bits_per_sample or 0):
        reasons.append(f"word length {audio.bits_per_sample} to {bits} bit, with dither")
    return Recipe(
        action="encode",
        codec=codec,
        container=limits.container,
        sample_rate_hz=rate,
        channels=channels,
        bits=bits,
        quality=quality,
        bitrate_kbps=kbps,
        level=profile.encode.compression_level if codec is Codec.FLAC else None,
        resample=rate != audio.sample_rate_hz,
        downmix=f"{audio.channels}to{channels}" if channels != audio.channels else None,
        dither=dither,
        reasons=tuple(reasons),
        source_bitrate_bps=audio.bitrate_bps if audio.lossless else None,
    )


def _target_bits(audio: AudioFacts, limits: _Limits, processed: bool) -> tuple[int, bool]:
    """Word length of the pressing, and whether what comes in is longer than that.

    Encoders here write 16 or 24 bit; shorter words stand unchanged in the next of them. Lossy
    audio has no word length of its own and gets 16. Any arithmetic on the samples makes them
    longer than any word.
    """
    known = audio.bits_per_sample or 16 if audio.lossless else 16
    bits = 24 if known > 16 and limits.bits >= 24 else 16
    if limits.bits < bits:
        raise Unplayable(
            f"The player plays no more than {limits.bits} bit, and the shortest words that can "
            "be made for it have 16; let 'plays' allow 16, or another codec."
        )
    longer = known > bits or audio.profile == "float" or not audio.lossless
    return bits, longer or processed


def _lossy_setting(
    audio: AudioFacts,
    profile: Profile,
    limits: _Limits,
    codec: Codec,
    rates: list[int],
    reasons: list[str],
) -> tuple[int, int | None, int | None]:
    """Sample rate, kbit/s, variable-bitrate quality: never more bits than a lossy source has.

    Where the source's bit rate is too low for the first of *rates*, a lower one is taken.
    """
    encode, channels = profile.encode, min(audio.channels, limits.channels)
    ceiling = limits.kbps
    if not audio.lossless and audio.bitrate_bps is not None:
        source = audio.bitrate_bps // 1000
        ceiling = source if ceiling is None else min(ceiling, source)
    asked = encode.bitrate_kbps or _DEFAULT_KBPS.get(codec)
    if asked is None:
        quality = 2 if encode.quality is None else encode.quality
        if ceiling is None or ceiling >= MP3_KBPS[-1]:
            return rates[0], None, quality
        # Variable-rate frames may go to 320 kbit/s; under a lower ceiling a fixed rate stays below.
        asked = next(kbps for kbps in MP3_KBPS if kbps >= _MP3_VBR_KBPS[quality])
    for rate in rates:
        lowest, highest = _kbps_range(codec, rate, channels)
        kbps = max(lowest, min(asked, highest))
        if ceiling is not None and kbps > ceiling:
            if ceiling < lowest:
                continue
            kbps = ceiling
            reasons.append(f"at most {ceiling} kbit/s: there is no use or no room for more")
        return rate, _existing(codec, rate, kbps), None
    raise Unplayable(
        f"Its bit rate of {ceiling} kbit/s is below the least that {_name(codec)} knows for "
        f"{channels} channels, and a copy must not have a higher one than its source. "
        "Let the profile encode another codec."
    )


def _kbps_range(codec: Codec, rate: int, channels: int) -> tuple[int, int]:
    """Lowest and highest kbit/s at which *codec* is encoded well at *rate*."""
    if codec is Codec.VORBIS:
        return _VORBIS_KBPS[rate][channels - 1]
    if codec is Codec.OPUS:
        return 16 * channels, 240 * channels
    if codec is Codec.AAC:
        # Below, the encoder's level drifts (measured); above, a frame of 6144 bits a channel is
        # full (ISO/IEC 14496-3, from memory).
        return (32 + 16 * channels) * rate // 44100, 6 * rate * channels // 1000
    if rate >= 32000:
        return MP3_KBPS[0], MP3_KBPS[-1]
    # MPEG-2; the encoder keeps MPEG-2.5 (up to 12 kHz) to 64 kbit/s.
    return MP3_LOW_KBPS[0], MP3_LOW_KBPS[-1] if rate >= 16000 else 64


def _existing(codec: Codec, rate: int, kbps: int) -> int:
    """The highest bit rate not above *kbps* that exists: MP3 knows only those of its tables."""
    if codec is not Codec.MP3:
        return kbps
    table = MP3_KBPS if rate >= 32000 else MP3_LOW_KBPS
    return max(known for known in table if known <= kbps)


def _rates_to_try(audio: AudioFacts, limits: _Limits, codec: Codec) -> list[int]:
    """Sample rates for the pressing, the best first; the others only serve low bit rates."""
    source = audio.sample_rate_hz
    if codec is Codec.OPUS:
        # Opus has a clock of 48 kHz whatever goes in (RFC 7845 section 4): the one case in which
        # the figure may rise. The player's limit is about what it decodes, which is 48 kHz too.
        return [48000]
    known = _LOSSY_RATES.get(codec, frozenset(_44K1_FAMILY + _48K_FAMILY))
    below = sorted((rate for rate in known if rate <= min(source, limits.rate_hz)), reverse=True)
    if source <= limits.rate_hz and (source in known or codec in LOSSLESS):
        return [source, *(rate for rate in below if rate != source)]
    if not below:
        raise Unplayable(
            f"Its sample rate of {source} Hz cannot be kept for this player, and there is no lower "
            f"one that {_name(codec)} knows and the profile allows. Raise 'max_sample_rate_hz'."
        )
    family = _44K1_FAMILY if source % 11025 == 0 else _48K_FAMILY
    simple = max((rate for rate in below if rate in family), default=0)
    # A simple ratio is worth having, but not at the price of audible bandwidth.
    best = simple if simple >= 0.75 * below[0] else below[0]
    return [best, *(rate for rate in below if rate < best)]


def _name(codec: Codec) -> str:
    names = {Codec.VORBIS: "Vorbis", Codec.OPUS: "Opus", Codec.WAVPACK: "WavPack"}
    return names.get(codec, codec.value.upper())


def _khz(rate_hz: int) -> str:
    return f"{rate_hz / 1000:g} kHz"


def _describe(audio: AudioFacts) -> str:
    parts = [_name(audio.codec), _khz(audio.sample_rate_hz)]
    if audio.bits_per_sample is not None and audio.lossless:
        parts.append(f"{audio.bits_per_sample} bit")
    return " ".join(parts)
