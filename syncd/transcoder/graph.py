"""What is done to samples between decoder and encoder, as a chain of ffmpeg filters.

downmix by a stated matrix -> soxr -> word length, with dither where it falls. Only what the recipe
asks for is in the chain, and every step works in floating point: what ffmpeg does to integers by
itself (mixing in 16 bit, truncating) departs from the standards.
"""

from typing import Any

from syncd.model import AudioFacts, Codec
from syncd.planner.recipe import Recipe
from syncd.transcoder import downmix


def is_16_bit(audio: AudioFacts, recipe: Recipe) -> bool:
    """Whether the samples that reach the encoder are 16-bit words without loss."""
    if recipe.lossless:
        return recipe.bits == 16
    untouched = not (recipe.resample or recipe.downmix)
    return untouched and audio.lossless and audio.bits_per_sample == 16 and not audio.profile


def processed(master: Any, audio: AudioFacts, recipe: Recipe) -> Any:
    """*master* after what the recipe asks for, in the sample format that its encoder gets."""
    stream = master
    working = "dblp" if recipe.lossless else "fltp"
    if recipe.downmix:
        # In floating point: with 16-bit samples ffmpeg mixes in 16-bit arithmetic.
        stream = stream.filter("aformat", sample_fmts=working)
        stream = stream.filter("pan", args=downmix.pan(recipe.downmix))
    if recipe.resample or audio.codec is Codec.AAC:
        # AAC may decode at another rate than its container says; at the same rate it passes.
        stream = stream.filter("aformat", sample_fmts=working)
        stream = stream.filter(
            "aresample", recipe.sample_rate_hz, resampler="soxr", precision=28, osf=working
        )
    if not recipe.lossless:
        if is_16_bit(audio, recipe):
            return stream
        return stream.filter("aformat", sample_fmts="fltp")
    word: dict[str, object] = {"osf": "s16" if recipe.bits == 16 else "s32"}
    if recipe.dither:
        word["dither_method"] = "triangular"
        if recipe.bits == 24:
            word["output_sample_bits"] = 24
        return stream.filter("aresample", **word)
    return stream.filter("aformat", sample_fmts=word["osf"])
