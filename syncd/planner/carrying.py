"""May a track's audio go to the player as it is? If not, why not. Pure."""

from syncd.model import AudioFacts, Codec
from syncd.planner.recipe import USUAL_CONTAINER, Recipe
from syncd.planner.sound_words import codec_name, described, khz
from syncd.profile import Plays

HIGHEST_MP3_KBPS = 320


def why_not_carried(audio: AudioFacts, plays: Plays) -> str | None:
    """What keeps *audio* from being played under the entry *plays*, or None."""
    containers = plays.containers or (USUAL_CONTAINER[audio.codec],)
    if audio.container not in containers:
        return f"the player does not read {codec_name(audio.codec)} from {audio.container} files"
    top = plays.max_sample_rate_hz
    if top is not None and audio.sample_rate_hz > top:
        return f"the player plays {codec_name(audio.codec)} up to {khz(top)}"
    if plays.max_channels is not None and audio.channels > plays.max_channels:
        return f"the player plays at most {plays.max_channels} channels"
    bits = plays.max_bits_per_sample
    if bits is not None and audio.lossless:
        if audio.bits_per_sample is None:
            return "its word length is not known"
        if audio.bits_per_sample > bits or (audio.profile == "float" and bits < 32):
            return f"the player plays {codec_name(audio.codec)} up to {bits} bit"
    return _bitrate_refusal(audio, plays.max_bitrate_kbps)


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
