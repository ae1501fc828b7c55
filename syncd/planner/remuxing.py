"""Where only the container is in the way: the same audio in one that the player reads. Pure.

A remux decodes nothing and encodes nothing: coded frames are copied, plain samples are written in
the other order of bytes. So it goes before any encoding, above all of lossy audio.
"""

from dataclasses import replace

from syncd.model import AudioFacts, Codec
from syncd.planner.carrying import held_bits, why_not_decoded
from syncd.planner.recipe import USUAL_CONTAINER, Recipe
from syncd.planner.sound_words import codec_name, container_name
from syncd.profile import Plays

_COPIES = {
    (Codec.AAC, "mp4"): "aac",
    (Codec.AAC, "aac"): "mp4",
    (Codec.FLAC, "ogg"): "flac",
    (Codec.FLAC, "flac"): "ogg",
    (Codec.PCM, "wav"): "aiff",
    (Codec.PCM, "aiff"): "wav",
}
_IN_ADTS = ("LC", "Main", "SSR", "LTP")
"""What the two bits of an ADTS header can name (ISO/IEC 14496-3 annex 1.A)."""
_WORDS = (8, 16, 24, 32)


def remux(audio: AudioFacts, plays: Plays) -> Recipe | None:
    """The recipe that puts *audio* into a container that *plays* names, None where none helps."""
    target = _COPIES.get((audio.codec, audio.container))
    containers = plays.containers or (USUAL_CONTAINER[audio.codec],)
    bits, held = audio.bits_per_sample or 0, held_bits(audio)
    if audio.codec is Codec.PCM and held > bits in _WORDS:
        # What is written has words of the samples' own length.
        audio = replace(audio, bitrate_bps=audio.sample_rate_hz * audio.channels * bits)
        target = audio.container if audio.container in containers else target
    if target is None or target not in containers or why_not_decoded(audio, plays) is not None:
        return None
    if target == "aac" and audio.profile not in _IN_ADTS:
        return None
    if audio.codec is Codec.PCM and (audio.profile or audio.bits_per_sample not in _WORDS):
        return None
    name = codec_name(audio.codec)
    if target == audio.container:
        why = f"written without padding, its audio untouched: its samples lie in words of {held}"
    else:
        why = (
            f"put into another container, its audio untouched: the player reads {name} from "
            f"{container_name(target)}, not from {container_name(audio.container)}"
        )
    reasons = [why]
    if audio.codec is Codec.AAC:
        # ADTS has no place for delay and padding, and what came from it does not say them.
        reasons.append("a player will not know where its first and last sample are")
    return Recipe(
        action="remux",
        codec=audio.codec,
        container=target,
        sample_rate_hz=audio.sample_rate_hz,
        channels=audio.channels,
        bits=audio.bits_per_sample if audio.lossless else None,
        reasons=tuple(reasons),
        source_bitrate_bps=audio.bitrate_bps,
    )
