"""Text for a player's screen: cleaned, cut to a list row's length, in the profile's letters. Pure.

Tags are hostile input: control characters, line breaks, marks that turn the direction of writing
around, half surrogates and lengths beyond all measure end here.
"""

import re
import unicodedata
from typing import Literal

from anyascii import anyascii

from syncd.catalogue.contract import LABEL_BYTES, WHOLE_BYTES

Charset = Literal["unicode", "ascii"]

# Control characters (category Cc), line and paragraph separators.
_BREAKS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
# Bidirectional overrides, embeddings and isolates (Unicode Standard Annex 9), byte order mark.
_DIRECTION = re.compile("[\u202a-\u202e\u2066-\u2069\u200e\u200f\u061c\ufeff]")
_NOT_SHOWN = re.compile(f"{_BREAKS.pattern}|{_DIRECTION.pattern}|[\ud800-\udfff]")


class Text:
    """Cleans and cuts the texts of one catalogue; remembers what it has done before."""

    def __init__(self, charset: Charset = "unicode") -> None:
        self._ascii = charset == "ascii"
        self._ellipsis = "..." if self._ascii else "\u2026"
        self._known: dict[str, str] = {}
        self._labels: dict[str, tuple[str, str | None]] = {}

    def clean(self, text: str) -> str:
        """*text* on one line, in Unicode form NFC (or ASCII), without what cannot be shown.

        At most 400 bytes of it: tags may hold whole essays.
        """
        known = self._known.get(text)
        if known is None:
            known = self._known[text] = self._shortened(self._cleaned(text), WHOLE_BYTES)
        return known

    def label(self, text: str) -> tuple[str, str | None]:
        """The list row's label for *text*, and the whole text where the label had to be cut."""
        known = self._labels.get(text)
        if known is None:
            whole = self.clean(text)
            short = self._shortened(whole, LABEL_BYTES)
            known = self._labels[text] = (short, None if short is whole else whole)
        return known

    def cut(self, text: str) -> str:
        """The list row's label for *text*."""
        return self.label(text)[0]

    def _shortened(self, text: str, most_bytes: int) -> str:
        if len(text) * 4 <= most_bytes:
            return text
        raw = text.encode()
        if len(raw) <= most_bytes:
            return text
        room = most_bytes - len(self._ellipsis.encode())
        # A cut in the middle of a character leaves bytes that "ignore" drops.
        return raw[:room].decode(errors="ignore").rstrip() + self._ellipsis

    def _cleaned(self, text: str) -> str:
        if text.isascii() and text.isprintable():
            return " ".join(text.split())
        shown = unicodedata.normalize("NFC", text)
        if _NOT_SHOWN.search(shown):
            shown = _DIRECTION.sub("", _BREAKS.sub(" ", shown)).encode("utf-8", "replace").decode()
        if self._ascii:
            # What has no letters of its own (an emoji's ":name:") is still printable ASCII.
            shown = "".join(c for c in anyascii(shown) if c.isprintable())
        return " ".join(shown.split())
