"""Text for a player's screen: cleaned, cut to a list row's length, in the profile's letters. Pure.

Tags are hostile input: control characters, line breaks, marks that turn the direction of writing
around, half surrogates and lengths beyond all measure end here.
"""

import unicodedata
from typing import Literal

from anyascii import anyascii

from syncd.catalogue.contract import LABEL_BYTES, WHOLE_BYTES

Charset = Literal["unicode", "ascii"]

# Bidirectional overrides, embeddings and isolates (Unicode Standard Annex 9), byte order mark.
_DIRECTION = {*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C, 0xFEFF}


class Text:
    """Cleans and cuts the texts of one catalogue; remembers what it has done before."""

    def __init__(self, charset: Charset = "unicode") -> None:
        self._ascii = charset == "ascii"
        self._ellipsis = "..." if self._ascii else "\u2026"
        self._known: dict[str, str] = {}

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
        whole = self.clean(text)
        short = self._shortened(whole, LABEL_BYTES)
        return short, None if short is whole else whole

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
        shown = "".join(
            " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c
            for c in unicodedata.normalize("NFC", text)
            if ord(c) not in _DIRECTION
        )
        shown = shown.encode("utf-8", "replace").decode()
        if self._ascii:
            # What has no letters of its own (an emoji's ":name:") is still printable ASCII.
            shown = "".join(c for c in anyascii(shown) if c.isprintable())
        return " ".join(shown.split())
