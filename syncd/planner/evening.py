"""Evening levels: each chosen track gets gain tags, or a recipe with a gain, by what is known.

Pure. Where something was not measured yet, nothing is changed and the track is marked; the plan is
made again when it is known. Without the wish for even levels none of this is called.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from syncd.model import CataloguedTrack
from syncd.planner.card_tags import CardTags
from syncd.planner.gain import (
    Heard,
    Levels,
    baked_gain_db,
    bakes,
    gain_tags,
    level_key,
    loudest_gain_db,
    with_gain,
)
from syncd.planner.recipe import Recipe
from syncd.profile import Profile

_STAYS = "its level is told by gain tags: lossy audio is not encoded again for it"


class Levelled(Protocol):
    """A track on its way to a card, as far as its level is concerned."""

    entry: CataloguedTrack
    recipe: Recipe
    recipe_key: str
    suffix: str
    gain: CardTags
    unmeasured: bool


def even(
    members: Sequence[Levelled], profile: Profile, levels: Levels | None, *, recording: bool
) -> float:
    """Bring *members*, a *recording* or an album in its order, to the profile's loudness.

    Returns by how many dB the level is raised at most. A recording has one gain, in the fields for
    the track and for the album; an album's tracks have their own and the album's as tags, but the
    album's alone where the gain is in the samples.
    """
    if not members:
        return 0.0
    keys = tuple([level_key(one.entry.track.audio_hash, one.recipe) for one in members])
    whole = levels.of(keys) if levels is not None else None
    if levels is None or whole is None:
        for one, key in zip(members, keys, strict=True):
            one.unmeasured = levels is None or not levels.known(key)
        return 0.0
    wanted = profile.loudness
    if wanted.mode == "baked":
        _bake(members, whole, profile)
        return loudest_gain_db([whole], wanted)
    heard: list[Heard] = []
    for one, key in zip(members, keys, strict=True):
        own = whole if recording else levels.of((key,))
        if own is None:
            one.unmeasured = True
            continue
        one.gain = gain_tags(one.recipe.codec, own, whole, wanted)
        heard.append(own)
    return loudest_gain_db(heard, wanted)


def _bake(members: Sequence[Levelled], whole: Heard, profile: Profile) -> None:
    gain_db = baked_gain_db(whole, profile.loudness)
    for one in members:
        audio = one.entry.track.audio
        if not bakes(one.recipe, audio):
            one.gain = gain_tags(one.recipe.codec, whole, whole, profile.loudness)
            one.recipe = replace(one.recipe, reasons=(*one.recipe.reasons, _STAYS))
        elif gain_db is not None:
            one.recipe = with_gain(one.recipe, audio, gain_db, profile)
            one.recipe_key = one.recipe.key
            one.suffix = one.recipe.suffix.removeprefix(".")
