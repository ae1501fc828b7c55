"""``fit``: the highest encoding quality at which all that a programme chooses has room. Pure.

Tried are the steps of the profile's own scale, best first in effect. What lies on the card stays in
its quality while all fits in it, and a better one is chosen only with room to spare, so that an
album more or less does not have the whole card encoded anew.
"""

import re
from collections import Counter
from collections.abc import Callable, Mapping, Set

from syncd.model import LOSSLESS, Codec, LibrarySnapshot
from syncd.planner.card_state import CardState
from syncd.planner.choosing import Choosing
from syncd.planner.chosen import SourceKey
from syncd.planner.encoding import MP3_KBPS
from syncd.planner.layout import Layout
from syncd.planner.names import fold
from syncd.planner.places import folders_of
from syncd.planner.plan import Pressings
from syncd.planner.programme import Fit, Programme
from syncd.planner.recipe import MP3_VBR_KBPS
from syncd.planner.selecting import Selection
from syncd.planner.sound_words import codec_name
from syncd.profile import Profile

TO_SPARE = 0.05
"""What part of the card must stay free before what lies on it is encoded in a better quality."""

_OTHER_KBPS = (320, 256, 224, 192, 160, 128, 112, 96, 80, 64, 48, 32)
"""Steps for codecs that take any bit rate."""

_QUALITY = re.compile(r"-(q\d|b\d+)(?:-|$)")


def qualities(profile: Profile, bounds: Fit) -> list[Profile]:
    """*profile* with each quality that it allows within *bounds*, best first.

    Empty where its codec has no quality to choose. Where no step lies within, the nearest below.
    """
    encode = profile.encode
    codec = Codec(encode.codec)
    if codec in LOSSLESS:
        return []
    most = max(plays.max_bitrate_kbps or 512 for plays in profile.plays_codec(codec))
    constant = encode.bitrate == "constant" or all(
        plays.bitrate == "constant" for plays in profile.plays_codec(codec)
    )
    steps: list[tuple[int, dict[str, int | None]]]
    if codec is Codec.MP3 and encode.bitrate_kbps is None and not constant and most >= 320:
        steps = [
            (kbps, {"quality": quality, "bitrate_kbps": None})
            for quality, kbps in enumerate(MP3_VBR_KBPS)
        ]
    else:
        table = tuple(reversed(MP3_KBPS)) if codec is Codec.MP3 else _OTHER_KBPS
        steps = [(kbps, {"quality": None, "bitrate_kbps": kbps}) for kbps in table if kbps <= most]
    within = [step for step in steps if bounds.lowest_kbps <= step[0] <= bounds.highest_kbps]
    if not within:
        within = [step for step in steps if step[0] <= bounds.highest_kbps][:1] or steps[-1:]
    return [
        profile.model_copy(update={"encode": encode.model_copy(update=change)})
        for _, change in within
    ]


def fitting_profile(
    library: LibrarySnapshot,
    card: CardState,
    profile: Profile,
    programme: Programme,
    pressings: Pressings,
    selection: Selection,
) -> tuple[Profile, str]:
    """*profile* with the quality to encode in, and a sentence that tells it."""
    steps = qualities(profile, programme.fit or Fit())
    if not steps:
        name = codec_name(Codec(profile.encode.codec))
        return profile, (
            f"'fit' changes nothing: {name} keeps every sample and has no quality to choose."
        )
    layout = Layout(profile)
    folders: dict[str, Set[str]] = {
        group.key: folders_of([fold(layout.wished(group, ["x"])[0])])
        for _, group in selection.wanted
    }
    lying: dict[SourceKey, int] = {}
    for entry in card.entries:
        key = (entry.source.audio, entry.source.recipe)
        lying[key] = max(entry.size, lying.get(key, 0))

    def fits(step: int, spare: int = 0) -> bool:
        room = card.with_less(spare)
        choosing = Choosing(library, room, steps[step], programme, pressings, selection)
        return choosing.all_fits(folders, lying)

    now = _on_the_card(steps, card, selection)
    best = _chosen(len(steps), now, fits, _spare(card))
    told = _told(steps[best])
    if best == now:
        why = "all that is chosen fits, and it is what lies on the card"
    else:
        why = "the highest at which all that is chosen fits"
    if best == len(steps) - 1 and not fits(best):
        why = "the lowest that is allowed; not all that is chosen fits even so"
    return steps[best], f"Encoded as {told}: {why}."


def _chosen(count: int, now: int | None, fits: Callable[..., bool], spare: int) -> int:
    """The step to take: the first of *count* that fits, but for what lies there (*now*)."""
    if now is None:
        return _first(0, count - 1, fits)
    if not fits(now):
        return _first(min(now + 1, count - 1), count - 1, fits)
    if now == 0 or not fits(now - 1, spare):
        return now  # as nearly always
    return _first(0, now - 1, lambda step: step == now - 1 or fits(step, spare))


def _first(low: int, high: int, fits: Callable[[int], bool]) -> int:
    """The first step from *low* on that fits; *high* if none does. Lower quality takes less."""
    while low < high:
        middle = (low + high) // 2
        if fits(middle):
            high = middle
        else:
            low = middle + 1
    return low


def _spare(card: CardState) -> int:
    size = card.bytes_free + card.own_bytes + sum(card.allocated(e.size) for e in card.entries)
    return int(size * TO_SPARE)


def _on_the_card(steps: list[Profile], card: CardState, selection: Selection) -> int | None:
    """The step in which most of what is wanted lies on the card, None if nothing does.

    A lossy master is never encoded at a higher bit rate than its own, so it tells nothing.
    """
    lossless = {
        member.track.audio_hash
        for _, group in selection.wanted
        for member in group.members
        if member.track.audio.lossless
    }
    found: Counter[str] = Counter()
    for entry in card.entries:
        if entry.source.audio in lossless:
            quality = _QUALITY.search(entry.source.recipe)
            if quality is not None:
                found[quality[1]] += 1
    marks: Mapping[str, int] = {_mark(step): place for place, step in enumerate(steps)}
    there = [(-count, marks[mark]) for mark, count in found.items() if mark in marks]
    return min(there)[1] if there else None


def _mark(profile: Profile) -> str:
    encode = profile.encode
    return f"q{encode.quality}" if encode.quality is not None else f"b{encode.bitrate_kbps}"


def _told(profile: Profile) -> str:
    encode = profile.encode
    name = codec_name(Codec(encode.codec))
    if encode.quality is not None:
        return f"{name}, variable bit rate, quality {encode.quality} of 0 (best) to 9"
    return f"{name}, {encode.bitrate_kbps} kbit/s"
