"""What a name on a card may look like: pure text rules for FAT, exFAT and simple players.

Rules from the Microsoft FAT specification 1.03 (long names), the exFAT specification (Table 35)
and "Naming Files, Paths, and Namespaces": no ``" * / : < > ? \\ |`` and no control characters, no
dot or space at the end, no device names, at most 255 UTF-16 units.
"""

import re
import unicodedata
from functools import lru_cache

from anyascii import anyascii

_REPLACED = {
    ":": "-",
    "/": "-",
    "\\": "-",
    "|": "-",
    '"': "'",
    "*": "_",
    "?": "",
    "<": "(",
    ">": ")",
}
_FORBIDDEN = str.maketrans(_REPLACED)
MOST_BYTES = 240
"""In UTF-8, of a name with other letters than ASCII: systems such as Linux's ext4 take names of 255
bytes (NAME_MAX of POSIX's <limits.h>), and a suffix and a number come behind it."""

# C0 and C1 controls, line and paragraph separators, and the marks that turn the direction of
# writing (a name must not look like another one), zero-width characters, surrogates.
_INVISIBLE = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufff0-\uffff\ud800-\udfff]"
)
_SPACES = re.compile(r"\s+")
_DEVICE = re.compile(
    r"^(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)", re.IGNORECASE
)


def utf16_units(text: str) -> int:
    """Length in UTF-16 code units, the measure of FAT's and exFAT's long names."""
    if text.isascii():
        return len(text)
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def cut(text: str, units: int) -> str:
    """*text* cut to at most *units* UTF-16 units, never inside a character or before its marks.

    Nor in the middle of a number, which would be another one ("No. 1" for "No. 14"), or behind an
    opening bracket.
    """
    if len(text) * 2 <= units or utf16_units(text) <= units:
        return text
    kept = text[:units]
    while utf16_units(kept) > units:
        kept = kept[:-1]
    rest = text[len(kept) :]
    while kept and rest and unicodedata.combining(rest[0]):
        rest = kept[-1] + rest
        kept = kept[:-1]
    if rest[:1].isdecimal():
        kept = _BEGUN_NUMBER.sub("", kept) or kept
    return kept.rstrip(_NO_END) or kept


_BEGUN_NUMBER = re.compile(r"(?<!\d)\d{1,4}$")
_NO_END = " -,;&([{"
"""What no name ends with that was cut."""

# Plain letters with single spaces, as most names are, and no device's name: nothing to change.
_LETTERS = "[A-Za-z0-9,.'()&!+_-]"
_DEVICES = "[Cc][Oo][Nn]|[Pp][Rr][Nn]|[Aa][Uu][Xx]|[Nn][Uu][Ll]|(?:[Cc][Oo][Mm]|[Ll][Pp][Tt])[0-9]"
_PLAIN = re.compile(
    rf"(?!(?:{_DEVICES})(?:\.|$))[A-Za-z0-9(]{_LETTERS}*+(?: {_LETTERS}++)*+(?<!\.)"
)


def safe_component(text: str, ascii_only: bool, longest: int, fallback: str = "Untitled") -> str:
    """*text* as one component of a path that FAT, exFAT and desktop systems all accept.

    Unicode form NFC; with *ascii_only*, romanised. At most *longest* UTF-16 units, and
    ``MOST_BYTES`` if it is not of ASCII letters. Never empty:
    *fallback* stands where nothing is left.
    """
    if len(text) <= longest and _PLAIN.fullmatch(text):
        return text
    return _made_safe(text, ascii_only, longest, fallback)


@lru_cache(maxsize=1 << 15)
def _made_safe(text: str, ascii_only: bool, longest: int, fallback: str) -> str:
    text = _INVISIBLE.sub(
        lambda hit: " " if hit.group() in "\t\n\r\v\f\x1c\u2028\u2029" else "", text
    )
    text = unicodedata.normalize("NFC", text)
    if ascii_only and not text.isascii():
        text = anyascii(text)
    text = text.replace(": ", " - ").translate(_FORBIDDEN)
    text = unicodedata.normalize("NFC", text)  # what was taken out may have stood between the two
    text = _SPACES.sub(" ", text).strip(" ").rstrip(". ")
    text = cut(text, longest).rstrip(". ")
    while (over := len(text.encode()) - MOST_BYTES) > 0 and not text.isascii():
        text = cut(text, utf16_units(text) - max(1, over // 4)).rstrip(". ")
    if _DEVICE.match(text):
        text = cut("_" + text, longest).rstrip(". ")
    return text or cut(fallback, longest)


def fold(path: str) -> str:
    """The form in which two names are one to a case-blind file system (at least as strict).

    Case folding of the NFC form unites everything that the FAT and exFAT tables unite, and a few
    pairs more (ß and ss), which costs no more than a number behind a name.
    """
    if path.isascii():
        return path.lower()
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", path).casefold())
