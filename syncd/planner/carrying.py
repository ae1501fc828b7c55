"""May a track's audio go to the player as it is? If not, why not. Pure."""

from syncd.model import AudioFacts, Codec
from syncd.planner.recipe import USUAL_CONTAINER, Recipe
from syncd.planner.sound_words import codec_name, described, khz
from syncd.profile import Plays

HIGHEST_MP3_KBPS = 320


def why_not_carried(audio: AudioFacts, plays: Plays) -> str | None:
    """What keeps *audio* from being played under the entry *plays*, or None.

    What the player is particular about and the file's header does not tell counts as against it.
    """
    containers = plays.containers or (USUAL_CONTAINER[audio.codec],)
    if audio.container not in containers:
        return f"the player does not read {codec_name(audio.codec)} from {audio.container} files"
    return why_not_decoded(audio, plays)


def why_not_decoded(audio: AudioFacts, plays: Plays) -> str | None:
    """What keeps *audio*, in whatever container, from being decoded under *plays*, or None."""
    name = codec_name(audio.codec)
    top = plays.max_sample_rate_hz
    if top is not None and audio.sample_rate_hz > top:
        return f"the player plays {name} up to {khz(top)}"
    if plays.sample_rates_hz and audio.sample_rate_hz not in plays.sample_rates_hz:
        known = ", ".join(f"{rate / 1000:g}" for rate in plays.sample_rates_hz)
        return f"the player plays {name} at {known} kHz, not at {khz(audio.sample_rate_hz)}"
    if plays.max_channels is not None and audio.channels > plays.max_channels:
        return f"the player plays at most {plays.max_channels} channels"
    bits = plays.max_bits_per_sample
    if bits is not None and audio.lossless:
        if audio.bits_per_sample is None:
            return "its word length is not known"
        if held_bits(audio) > bits or (audio.profile == "float" and bits < 32):
            return f"the player plays {name} up to {bits} bit"
    if plays.bits_per_sample and audio.lossless:
        known = ", ".join(map(str, plays.bits_per_sample))
        if held_bits(audio) not in plays.bits_per_sample or audio.profile == "float":
            return f"the player plays {name} with words of {known} bit"
    if plays.object_types and audio.profile not in plays.object_types:
        known = ", ".join(plays.object_types)
        if not audio.profile:
            return f"which kind of AAC it is does not show, and the player plays {known} only"
        return f"the player plays AAC of the kinds {known}, not {audio.profile}"
    return (
        _bitrate_refusal(audio, plays.max_bitrate_kbps)
        or _varying_refusal(audio, plays)
        or _block_refusal(audio, plays)
    )


def held_bits(audio: AudioFacts) -> int:
    """Bits of the words in the file: of plain samples not all of them need be valid."""
    bits = audio.bits_per_sample or 0
    if audio.codec is Codec.PCM and audio.bitrate_bps:
        return max(bits, audio.bitrate_bps // (audio.sample_rate_hz * audio.channels))
    return bits


def _varying_refusal(audio: AudioFacts, plays: Plays) -> str | None:
    if plays.bitrate == "any" or audio.variable is False:
        return None
    name = codec_name(audio.codec)
    if audio.variable is None:
        return (
            f"whether its bit rate varies is not known, and the player plays {name} at a fixed one"
        )
    return f"the player plays {name} at a fixed bit rate, and it varies"


def _block_refusal(audio: AudioFacts, plays: Plays) -> str | None:
    """What keeps the blocks of a FLAC or Vorbis stream out of the decoder's memory, or None."""
    longest, most = audio.block_samples, plays.max_block_samples
    if plays.subset:
        allowed = longest_subset_block(audio.sample_rate_hz)
        most = allowed if most is None else min(most, allowed)
        if audio.sample_rate_hz > 655350:
            return "its rate is outside FLAC's streamable subset"
    if most is not None:
        if longest is None:
            return "the length of its blocks is not known"
        if longest > most:
            return f"its blocks have {longest} samples, and the player takes {most} at most"
    if plays.fixed_blocks and audio.variable is not False:
        return "the length of its blocks varies" if audio.variable else _UNKNOWN_BLOCKS
    if plays.max_frame_bytes is not None:
        if audio.frame_bytes is None:
            return "the size of its largest frame is not known"
        if audio.frame_bytes > plays.max_frame_bytes:
            return (
                f"its largest frame has {audio.frame_bytes} bytes, and the player takes "
                f"{plays.max_frame_bytes} at most"
            )
    return None


_UNKNOWN_BLOCKS = "whether the length of its blocks varies is not known"


def longest_subset_block(rate_hz: int) -> int:
    """Samples in the longest block of FLAC's streamable subset (RFC 9639 section 7)."""
    return 4608 if rate_hz <= 48000 else 16384


def _bitrate_refusal(audio: AudioFacts, top_kbps: int | None) -> str | None:
    if top_kbps is None or (audio.codec is Codec.MP3 and top_kbps >= HIGHEST_MP3_KBPS):
        return None  # MP3 frames cannot have more than 320 kbit/s, whatever the average says
    if audio.bitrate_bps is None:
        return "its bit rate is not known"
    if audio.bitrate_bps > top_kbps * 1000:
        return f"the player plays {codec_name(audio.codec)} up to {top_kbps} kbit/s"
    return None


def carry(audio: AudioFacts) -> Recipe:
    """The recipe that leaves *audio* untouched."""
    return Recipe(
        action="carry",
        codec=audio.codec,
        container=audio.container,
        sample_rate_hz=audio.sample_rate_hz,
        channels=audio.channels,
        bits=audio.bits_per_sample if audio.lossless else None,
        reasons=(f"carried over: the player plays {described(audio)} as it is",),
        source_bitrate_bps=audio.bitrate_bps,
    )
