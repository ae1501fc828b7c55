"""Which recipe a track's audio gets for a player: carried over, remuxed, or encoded. Pure."""

from syncd.model import AudioFacts
from syncd.planner.carrying import carry, why_not_carried
from syncd.planner.encoding import encode, limits_of
from syncd.planner.recipe import Recipe, Unplayable
from syncd.planner.remuxing import remux
from syncd.planner.sound_words import codec_name
from syncd.profile import Profile


def make_recipe(
    audio: AudioFacts, profile: Profile, *, part: bool = False, emphasis: bool = False
) -> Recipe:
    """Return what must be done to *audio* for a player described by *profile*.

    *part* says that it is a span of its file, *emphasis* that it was recorded with pre-emphasis.
    Raises Unplayable with a sentence when nothing can be made.
    """
    _check_source(audio)
    if part or emphasis:
        why = _why_never_carried(part)
        return encode(audio, profile, limits_of(profile), why, deemphasis=emphasis)
    refusals: list[str] = []
    for plays in profile.plays_codec(audio.codec):
        refusal = why_not_carried(audio, plays)
        if refusal is None:
            return carry(audio)
        refusals.append(refusal)
    for plays in profile.plays_codec(audio.codec):
        remuxed = remux(audio, plays)
        if remuxed is not None:
            return remuxed
    why = refusals[0] if refusals else f"the player does not play {codec_name(audio.codec)}"
    return encode(audio, profile, limits_of(profile), why)


def _why_never_carried(part: bool) -> str:
    """What keeps a span, or audio with pre-emphasis, from being carried over to any player."""
    if part:
        return "it is a part of its file, and only decoding cuts it to the sample"
    return "it was recorded with pre-emphasis, which players do not undo"


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
