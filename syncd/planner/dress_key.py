"""The dress of a file in a few letters: which tags and which picture are put on it, and how."""

from itertools import chain

import xxhash

from syncd.planner.chosen import Member
from syncd.profile import Profile

DRESS_VERSION = 1
"""Part of every dress digest. Raised when equal tags would be written as other bytes."""


class DressKey:
    """Digests of what is written into files for *profile* besides audio."""

    def __init__(self, profile: Profile) -> None:
        writing = profile.tags
        art = writing.art == "embedded"
        side = writing.art_longest_side_px
        self._art = art
        # What is as it always was is not named, so that files written before stay current.
        particular = [
            f"text {writing.id3_text}" if writing.id3_text != "auto" else "",
            f"padding {writing.id3_padding_bytes}" if writing.id3_padding_bytes else "",
            f"most {writing.largest_tag_bytes}" if writing.largest_tag_bytes else "",
            writing.art_format if art and writing.art_format != "jpeg" else "",
            writing.art_fit if art and writing.art_fit != "within" else "",
        ]
        self._writing = "\0".join(
            (
                str(DRESS_VERSION),
                profile.tags.id3_version,
                profile.tags.charset,
                f"{side}" if art else "",
                "rewrite" if profile.tags.rewrite_carried else "keep",
                *filter(None, particular),
            )
        )

    def of(self, member: Member) -> str:
        """The digest for *member*."""
        track = member.entry.track
        art = track.art.hash if track.art is not None and self._art else ""
        text = "\0".join(chain.from_iterable(member.tags))
        return xxhash.xxh3_64_hexdigest(
            f"{self._writing}\0\0{art}\0\0{text}".encode("utf-8", "surrogatepass")
        )
