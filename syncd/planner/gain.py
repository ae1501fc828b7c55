"""Which gain follows from a loudness, and how it is told: as tags, or in the samples. Pure.

The gain of a recording is one number for all of its movements, so that they keep their proportion
whichever field a player uses. Measuring is ``syncd.transcoder.loudness``'s affair; the planner is
handed what is known.

A mono track counts as it sounds from two loudspeakers (+3.01 dB against the one channel of
BS.1770): that is how it is played beside stereo ones.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from syncd.model import AudioFacts, AudioHash, Codec
from syncd.planner.card_tags import CardTags
from syncd.planner.encoding import WRITABLE
from syncd.planner.recipe import Recipe
from syncd.profile import Levelling, Profile

LevelKey = tuple[AudioHash, str]
"""What was measured: a track's audio, and what was done to it before any gain ("" for nothing)."""

R128_REFERENCE_LUFS = -23.0
"""RFC 7845 section 5.2.1: what the gain fields of Opus files refer to, whatever is wished."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Loudness and peaks of a track, or of several in a row; peaks are linear, 1.0 full scale.

    ``lufs`` is None where there is nothing to measure: silence, or less than 400 ms.
    """

    lufs: float | None
    sample_peak: float
    true_peak: float


NOTHING_HEARD = Heard(None, 0.0, 0.0)


class Levels(Protocol):
    """What is known of loudness: the same question has the same answer while a plan is made."""

    def known(self, key: LevelKey) -> bool:
        """Whether *key* need not be decoded for what is asked of it."""

    def of(self, keys: tuple[LevelKey, ...]) -> Heard | None:
        """What *keys* one after the other sound like; None while one of them is not measured."""


def level_key(audio_hash: AudioHash, recipe: Recipe) -> LevelKey:
    """Under what the loudness of a track before *recipe*'s gain is known.

    Another rate, word length or codec leaves loudness as it is; other channels do not.
    """
    done = [
        f"mix{recipe.downmix}" if recipe.downmix else "",
        "deemph" if recipe.deemphasis else "",
    ]
    return audio_hash, "-".join(part for part in done if part)


def tag_gain_db(lufs: float, target_lufs: float) -> float:
    """The gain that brings *lufs* to *target_lufs*, as it is written: two decimals."""
    return round(target_lufs - lufs, 2) + 0.0


def gain_tags(codec: Codec, track: Heard, album: Heard, wanted: Levelling) -> CardTags:
    """The gain tags of a file with audio in *codec*; none for what could not be measured.

    ReplayGain 2.0 (reference -18 LUFS unless another target is wished, which then stands beside
    the gain); for Opus the fields of RFC 7845, which refer to -23 LUFS, and no others.
    """
    tags: list[tuple[str, str]] = []
    for scope, heard in (("TRACK", track), ("ALBUM", album)):
        if heard.lufs is None:
            continue
        if codec is Codec.OPUS:
            tags.append((f"R128_{scope}_GAIN", r128_text(heard.lufs)))
            continue
        tags.append((f"REPLAYGAIN_{scope}_GAIN", gain_text(heard.lufs, wanted.target_lufs)))
        tags.append((f"REPLAYGAIN_{scope}_PEAK", f"{heard.sample_peak:.6f}"))
    if tags and codec is not Codec.OPUS:
        tags.append(("REPLAYGAIN_REFERENCE_LOUDNESS", f"{wanted.target_lufs:.2f} LUFS"))
    return tuple(tags)


def told_gain(tags: CardTags, wanted: Levelling) -> int | None:
    """The gain of the recording or album in *tags*, towards *wanted*, in hundredths of a decibel.

    Without one it is none where the samples have it, and else not known: None.
    """
    for name, value in tags:
        if name == "REPLAYGAIN_ALBUM_GAIN":
            return round(float(value.removesuffix("dB")) * 100)
        if name == "R128_ALBUM_GAIN":  # RFC 7845 section 5.2.1: Q7.8, towards -23 LUFS
            return round((int(value) / 256 + wanted.target_lufs - R128_REFERENCE_LUFS) * 100)
    return 0 if wanted.mode == "baked" else None


def gain_text(lufs: float, target_lufs: float) -> str:
    """``+5.00 dB`` or ``-7.63 dB``."""
    return f"{tag_gain_db(lufs, target_lufs):+.2f} dB"


def r128_text(lufs: float) -> str:
    """The gain to -23 LUFS as a Q7.8 integer in decimal digits (RFC 7845 section 5.2.1)."""
    return str(max(-32768, min(32767, round(256 * (R128_REFERENCE_LUFS - lufs)))))


def baked_gain_db(heard: Heard, wanted: Levelling) -> float | None:
    """The gain for the samples themselves, dB in hundredths; None for no change.

    As far towards the target as the true peak stays below the ceiling; there is no limiter.
    """
    if heard.lufs is None:
        return None
    gain = wanted.target_lufs - heard.lufs
    if heard.true_peak > 0:
        room = wanted.true_peak_ceiling_dbtp - 20 * math.log10(heard.true_peak)
        gain = min(gain, math.floor(room * 100) / 100)
    return round(gain, 2) or None


def bakes(recipe: Recipe, audio: AudioFacts) -> bool:
    """Whether a gain can go into the samples: what is carried in a lossy codec stays as it is."""
    return recipe.action == "encode" or (
        audio.lossless and recipe.container in WRITABLE.get(audio.codec, ())
    )


def with_gain(recipe: Recipe, audio: AudioFacts, gain_db: float, profile: Profile) -> Recipe:
    """*recipe* with *gain_db* in the samples, in the same codec; :func:`bakes` must hold.

    Arithmetic makes samples longer than any word, so a lossless pressing is dithered. A lossless
    master that would be carried over is encoded anew in its own codec, rate and word length.
    """
    told = f"level {gain_db:+.2f} dB"
    if recipe.action == "encode":
        return replace(
            recipe,
            gain_db=gain_db,
            dither=recipe.lossless,
            reasons=(*recipe.reasons, told),
        )
    bits = 24 if (audio.bits_per_sample or 16) > 16 else 16
    return Recipe(
        action="encode",
        codec=audio.codec,
        container=recipe.container,
        sample_rate_hz=audio.sample_rate_hz,
        channels=audio.channels,
        bits=bits,
        level=profile.encode.compression_level if audio.codec is Codec.FLAC else None,
        dither=True,
        gain_db=gain_db,
        reasons=(f"made {audio.codec.upper()} again: {told}",),
    )


def loudest_gain_db(heard: Sequence[Heard], wanted: Levelling) -> float:
    """The largest gain that follows from *heard*, dB; what does not raise the level gives 0."""
    gains = [
        (baked_gain_db(one, wanted) or 0.0)
        if wanted.mode == "baked"
        else tag_gain_db(one.lufs, wanted.target_lufs)
        for one in heard
        if one.lufs is not None
    ]
    return max([0.0, *gains])


CAUTION = (
    "Some music will sound up to {gain:.0f} dB louder from this card than before. "
    "Start at a low volume; loud listening over long times harms hearing."
)
