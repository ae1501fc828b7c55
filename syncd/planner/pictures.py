"""Pictures that are files of their own: one beside the files of each recording or album. Pure.

For players that cannot look for a picture inside a music file. Which picture a group has, in which
form, and about how large it gets; where it goes is ``placing.py``'s affair, making it the
transcoder's.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import xxhash

from syncd.model import Art, AudioHash, CataloguedTrack
from syncd.planner.card_state import CardState, Source
from syncd.planner.plan import Pressings
from syncd.profile import TagWriting

PICTURE = "picture"
"""Stands for the recipe in a picture's source."""

SUFFIX = {"jpeg": "jpg", "png": "png", "rgb565": "565"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A group's picture; ``size`` in bytes is exact if it is on the card, else an estimate."""

    art: Art
    source: Source
    size: int


def picture_bytes(writing: TagWriting) -> int:
    """About the most bytes that a picture takes in the form that *writing* asks for."""
    pixels = writing.art_longest_side_px**2
    if writing.art_format == "jpeg":
        # A baseline JPEG of photographs at quality 88 takes under half a byte a pixel.
        return pixels // 2 + 2048
    return pixels * 2 + 8 if writing.art_format == "rgb565" else pixels * 3 + 2048


class Pictures:
    """What is known of picture files while one plan is made."""

    def __init__(
        self, writing: TagWriting, card: CardState, pressings: Pressings, away: tuple[str, ...]
    ) -> None:
        form = (
            f"{writing.art_longest_side_px}",
            writing.art_format,
            writing.art_fit,
            writing.art_byte_order if writing.art_format == "rgb565" else "",
        )
        self._form = xxhash.xxh3_64_hexdigest("\0".join(form).encode())
        self._most = picture_bytes(writing)
        self._pressings = pressings
        self._arrived = card.arrived
        self._away = away
        self._lying = {
            entry.source: entry.size for entry in card.entries if entry.source.recipe == PICTURE
        }

    def of(self, members: Iterable[CataloguedTrack]) -> Picture | None:
        """The picture of the first of *members* that has one which can be had."""
        for member in members:
            art = member.track.art
            if art is None:
                continue
            source = Source(art.hash, PICTURE, self._form)
            known = self._lying.get(source) or self._arrived.get(source)
            if known is not None:
                return Picture(art, source, known)
            failed = (AudioHash(art.hash), PICTURE) in self._pressings.failed
            if failed or art.path.startswith(self._away):
                continue
            return Picture(art, source, self._pressings.dressed.get(source, self._most))
        return None
