"""How audio is encoded for a player that cannot have it as it is: rate, words, bit rate. Pure.

Two rules hold: nothing is invented (no higher rate, no longer words, no more channels, no lossy
copy with a higher bit rate than its lossy source), and nothing is lost that the player could have
played.
"""

from dataclasses import dataclass

from syncd.model import LOSSLESS, AudioFacts, Codec
from syncd.planner.recipe import (
    DEEMPHASIS_RATES_HZ,
    MP3_VBR_KBPS,
    USUAL_CONTAINER,
    Recipe,
    Unplayable,
)
from syncd.planner.sound_words import codec_name, khz
from syncd.profile import Profile

WRITABLE = {
    Codec.FLAC: ("flac",),
    Codec.MP3: ("mp3",),
    Codec.OPUS: ("ogg",),
    Codec.VORBIS: ("ogg",),
    Codec.AAC: ("mp4",),
    Codec.PCM: ("wav", "aiff"),
}

_44K1_FAMILY = (11025, 22050, 44100, 88200, 176400, 352800)
_48K_FAMILY = (8000, 12000, 16000, 24000, 32000, 48000, 64000, 96000, 192000, 384000)
_MP3_RATES = frozenset({8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000})

# Bit rates that exist, kbit/s: ISO/IEC 11172-3 (rates from 32 kHz) and 13818-3 (below).
MP3_KBPS = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
MP3_LOW_KBPS = (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)

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


DSD_DIVISOR = 32
"""What a one-bit rate is divided by for the highest rate made from it: 2.8224 MHz gives 88.2 kHz.
Above some 30 kHz such audio holds little but the noise that its modulator moved there (common
practice, no source), which a higher rate would keep at the price of room."""

DSD_BITS = 24
"""Word length that one-bit audio counts as: in the audible band it resolves more than 16 bit."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What the player and the profile's ``encode`` table together allow for a made file.

    ``rate_hz``, ``bits`` and ``channels`` are the most there may be, ``kbps`` likewise, None for
    any. ``rates_hz`` and ``words`` (bits) are the only ones that the player knows, empty for all
    up to the most. ``constant`` asks for a constant bit rate. ``block_samples`` and
    ``frame_bytes`` are the largest block and frame that its decoder takes, None for any.
    """

    container: str
    rate_hz: int
    bits: int
    channels: int
    kbps: int | None
    rates_hz: tuple[int, ...] = ()
    words: tuple[int, ...] = ()
    constant: bool = False
    block_samples: int | None = None
    frame_bytes: int | None = None


_BLOCKS = (192, 256, 512, 576, 1024, 1152, 2048, 2304, 4096, 4608, 8192, 16384)
"""Block sizes with a short code in FLAC's frame header (RFC 9639 section 9.1.1)."""


def limits_of(profile: Profile) -> Limits:
    """The widest limits under which the player plays what the profile has made for it.

    Raises Unplayable where it plays nothing that could be made.
    """
    encode = profile.encode
    codec = Codec(encode.codec)
    found: list[Limits] = []
    for plays in profile.plays_codec(codec):
        containers = plays.containers or (USUAL_CONTAINER[codec],)
        container = next((name for name in WRITABLE[codec] if name in containers), None)
        if container is None or (plays.object_types and "LC" not in plays.object_types):
            continue  # AAC is made as LC
        found.append(
            Limits(
                container=container,
                rate_hz=min(
                    encode.max_sample_rate_hz,
                    plays.max_sample_rate_hz or encode.max_sample_rate_hz,
                ),
                bits=min(encode.max_bits_per_sample, plays.max_bits_per_sample or 32),
                channels=min(encode.max_channels, plays.max_channels or 8),
                kbps=plays.max_bitrate_kbps,
                rates_hz=plays.sample_rates_hz,
                words=plays.bits_per_sample,
                constant=plays.bitrate == "constant" or encode.bitrate == "constant",
                block_samples=min(
                    filter(None, (plays.max_block_samples, encode.block_samples)), default=None
                ),
                frame_bytes=plays.max_frame_bytes,
            )
        )
    if not found:
        raise Unplayable(
            f"The profile has {codec_name(codec)} made, but the player reads it only from "
            "containers or of kinds that syncd does not write; let 'plays' allow "
            f"{' or '.join(WRITABLE[codec])}{' and LC' if codec is Codec.AAC else ''}."
        )
    return max(found, key=lambda limits: (limits.rate_hz, limits.bits, limits.channels))


def encode(
    audio: AudioFacts, profile: Profile, limits: Limits, why: str, *, deemphasis: bool = False
) -> Recipe:
    """The recipe that encodes *audio* within *limits*; *why* says what kept it from being carried.

    Raises Unplayable when nothing can be made.
    """
    if deemphasis and audio.sample_rate_hz not in DEEMPHASIS_RATES_HZ:
        raise Unplayable(
            f"It is marked as recorded with pre-emphasis, which is undone at "
            f"{', '.join(map(khz, sorted(DEEMPHASIS_RATES_HZ)))}, not at "
            f"{khz(audio.sample_rate_hz)}. See whether the mark is right."
        )
    codec = Codec(profile.encode.codec)
    reasons = [f"made {codec_name(codec)}: {why}"]
    channels = min(audio.channels, limits.channels)
    rates = _rates_to_try(audio, limits, codec)
    rate, kbps, quality = rates[0], None, None
    if codec in _LOSSY_RATES:
        rate, kbps, quality = _lossy_setting(audio, profile, limits, codec, rates, reasons)
    bits, dither = None, False
    processed = deemphasis or rate != audio.sample_rate_hz or channels != audio.channels
    if codec in LOSSLESS:
        bits, dither = _target_bits(audio, limits, processed)
    if deemphasis:
        reasons.append("pre-emphasis undone (50/15 us)")
    if rate != audio.sample_rate_hz:
        reasons.append(f"rate {khz(audio.sample_rate_hz)} to {khz(rate)}")
    if channels != audio.channels:
        reasons.append(f"mixed down from {audio.channels} channels to {channels}")
    if bits is not None and audio.lossless and bits < (audio.bits_per_sample or 0):
        floats = audio.profile == "float"
        before = "floating point" if floats else f"word length {audio.bits_per_sample}"
        reasons.append(f"{before} to {bits} bit, with dither")
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
        constant=limits.constant and codec in (Codec.OPUS, Codec.VORBIS),
        block_samples=_block(limits, rate, channels, bits or 16) if codec is Codec.FLAC else None,
        resample=rate != audio.sample_rate_hz,
        downmix=f"{audio.channels}to{channels}" if channels != audio.channels else None,
        dither=dither,
        deemphasis=deemphasis,
        reasons=tuple(reasons),
        source_bitrate_bps=audio.bitrate_bps if audio.lossless else None,
    )


def _block(limits: Limits, rate: int, channels: int, bits: int) -> int | None:
    """Samples in a FLAC block, None where the encoder's own choice is within the limits."""
    most = limits.block_samples
    if limits.frame_bytes is not None:
        # A frame at its worst holds the samples as they are, a difference channel one bit longer;
        # its head takes 16 bytes at most, the check after it 2 (RFC 9639 section 9).
        room = limits.frame_bytes - 18 - 2 * channels
        fitting = room * 8 // (channels * (bits + 1))
        most = fitting if most is None else min(most, fitting)
    own = 4608 if rate <= 48000 else 16384
    if most is None or most >= own:
        return None
    return max((size for size in _BLOCKS if size <= most), default=most)


def _target_bits(audio: AudioFacts, limits: Limits, processed: bool) -> tuple[int, bool]:
    """Word length of the pressing, and whether what comes in is longer than that.

    Encoders here write 16 or 24 bit; shorter words stand unchanged in the next of them. Lossy
    audio has no word length of its own and gets 16. Any arithmetic on the samples makes them
    longer than any word.
    """
    known = audio.bits_per_sample or 16 if audio.lossless else 16
    if audio.codec is Codec.DSD:
        known = DSD_BITS
    words = [word for word in (16, 24) if not limits.words or word in limits.words]
    words = [word for word in words if word <= limits.bits]
    bits = max(words, default=16) if known > 16 else min(words, default=16)
    if not words:
        raise Unplayable(
            f"The player plays no words of 16 or 24 bit (its largest are {limits.bits}), and no "
            "others can be made for it; let 'plays' allow 16, or another codec."
        )
    longer = known > bits or audio.profile == "float" or not audio.lossless
    return bits, longer or processed


def _lossy_setting(
    audio: AudioFacts,
    profile: Profile,
    limits: Limits,
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
        if not limits.constant and (ceiling is None or ceiling >= MP3_KBPS[-1]):
            return rates[0], None, quality
        # Variable-rate frames may go to 320 kbit/s; under a lower ceiling a fixed rate stays below.
        asked = next(kbps for kbps in MP3_KBPS if kbps >= MP3_VBR_KBPS[quality])
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
        f"Its bit rate of {ceiling} kbit/s is below the least that {codec_name(codec)} knows for "
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


def _rates_to_try(audio: AudioFacts, limits: Limits, codec: Codec) -> list[int]:
    """Sample rates for the pressing, the best first; the others only serve low bit rates."""
    source = audio.sample_rate_hz
    if audio.codec is Codec.DSD:
        source //= DSD_DIVISOR
    if codec is Codec.OPUS:
        # Opus has a clock of 48 kHz whatever goes in (RFC 7845 section 4): the one case in which
        # the figure may rise. The player's limit is about what it decodes, which is 48 kHz too.
        if limits.rates_hz and 48000 not in limits.rates_hz:
            raise Unplayable("Opus is always of 48 kHz, which 'sample_rates_hz' does not list.")
        return [48000]
    known = _LOSSY_RATES.get(codec, frozenset(_44K1_FAMILY + _48K_FAMILY))
    if limits.rates_hz:
        listed = frozenset(limits.rates_hz)
        known = listed & known if codec in _LOSSY_RATES else listed
    below = sorted((rate for rate in known if rate <= min(source, limits.rate_hz)), reverse=True)
    free = codec in LOSSLESS and not limits.rates_hz
    if source <= limits.rate_hz and (source in known or free):
        return [source, *(rate for rate in below if rate != source)]
    if not below:
        raise Unplayable(
            f"Its sample rate of {source} Hz cannot be kept for this player, and there is no "
            f"lower one that {codec_name(codec)} knows and the profile allows. "
            "Raise 'max_sample_rate_hz', or list more 'sample_rates_hz'."
        )
    family = _44K1_FAMILY if source % 11025 == 0 else _48K_FAMILY
    simple = max((rate for rate in below if rate in family), default=0)
    # A simple ratio is worth having, but not at the price of audible bandwidth.
    best = simple if simple >= 0.75 * below[0] else below[0]
    return [best, *(rate for rate in below if rate < best)]
