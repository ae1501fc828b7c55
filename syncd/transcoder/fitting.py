"""Making tags fit into what a small player can take: what gives way, in a fixed order.

1. The picture is scaled down, in steps of a quarter, and left out below 64 pixels a side.
2. Values of more than 256 letters are cut there.
3. Fields go, one name after the other: first those that ``LAST_TO_GO`` does not list (comments,
   descriptions and the like), then its names from the front.
4. The title never goes; at last it is cut.
"""

from collections.abc import Callable

from syncd.transcoder.artwork import PictureForm, scale

Pairs = list[tuple[str, str]]
Measure = Callable[[Pairs, bytes | None], int]

LONG_VALUE = 256
SMALLEST_SIDE_PX = 64
LAST_TO_GO = (
    "PERFORMER",
    "ENSEMBLE",
    "ARRANGER",
    "GENRE",
    "COMPOSERSORT",
    "CONDUCTOR",
    "WORK",
    "MOVEMENTNAME",
    "MOVEMENT",
    "DATE",
    "DISCNUMBER",
    "COMPOSER",
    "REPLAYGAIN_REFERENCE_LOUDNESS",
    "REPLAYGAIN_ALBUM_PEAK",
    "REPLAYGAIN_TRACK_PEAK",
    "REPLAYGAIN_ALBUM_GAIN",
    "REPLAYGAIN_TRACK_GAIN",
    "R128_ALBUM_GAIN",
    "R128_TRACK_GAIN",
    "ALBUMARTIST",
    "TRACKNUMBER",
    "ALBUM",
    "ARTIST",
)
"""Fields in the order in which they go. Those stay longest by which a simple player browses."""


def fitted(
    tags: Pairs, art: bytes | None, most: int, form: PictureForm, size: Measure
) -> tuple[Pairs, bytes | None]:
    """*tags* and *art*, changed until *size* of them is at most *most* bytes.

    Equal input gives equal output. With nothing left but a title of one letter it may still be
    more: then no tag fits at all, and none is written.
    """
    if size(tags, art) <= most:
        return tags, art
    if art is not None:
        art = _smaller(tags, art, most, form, size)
    if size(tags, art) > most:
        tags = [
            (name, value if name == "TITLE" else value[:LONG_VALUE].rstrip())
            for name, value in tags
        ]
    names = list(dict.fromkeys(name for name, _ in tags if name != "TITLE"))
    names.sort(key=lambda name: LAST_TO_GO.index(name) if name in LAST_TO_GO else -1)
    for gone in names:
        if size(tags, art) <= most:
            return tags, art
        tags = [(name, value) for name, value in tags if name != gone]
    while tags and size(tags, art) > most:
        name, value = tags[0]
        tags = [(name, value[: len(value) // 2].rstrip())] if len(value) > 1 else []
    return tags, art


def _smaller(tags: Pairs, art: bytes, most: int, form: PictureForm, size: Measure) -> bytes | None:
    """The largest scaled picture with which *tags* fit, None when there is none."""
    side = form.side_px
    if size(tags, None) > most:
        return None
    while (side := side * 3 // 4) >= SMALLEST_SIDE_PX:
        made = scale(art, form.with_side(side))
        if made is not None and size(tags, made) <= most:
            return made
    return None
