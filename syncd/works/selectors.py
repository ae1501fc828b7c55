"""Which tracks the selectors of an errata entry choose: by file, folder, album, artist, composer.

Names are compared folded (case, accents); ``*`` stands for any letters, ``?`` for one. Paths are
compared by component, and from their end on unless they begin with ``/``. One span of a file with a
cue sheet is named ``album.flac#03``.
"""

import fnmatch
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from syncd.model import span_in
from syncd.works.text import fold, slashed

SELECTORS = ("file", "folder", "album", "artist", "composer")
"""Keys that say which tracks an entry is for."""

Patterns = str | tuple[str, ...]
"""What a selector holds: one name, or several of which one has to fit."""

Selectors = tuple[tuple[str, Patterns], ...]
"""The selectors of one entry; all have to fit."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What selectors look at of a track."""

    path: str
    album: str
    artists: tuple[str, ...]
    composers: tuple[str, ...]

    @property
    def names(self) -> set[str | None]:
        """Every name that the track bears, folded, as :func:`needed` tells them; and None."""
        people = map(fold, (*self.artists, *self.composers))
        parts = _parts(self.path)
        whole = _parts(span_in(self.path)[0])[-1:]
        return {None, fold(_spaced(self.album)), *people, *(part for _, part in (*parts, *whole))}


def fits(selectors: Selectors, asked: Asked) -> bool:
    """Whether all of *selectors* choose the track *asked* about."""
    return all(
        any(_one_fits(name, pattern, asked) for pattern in _several(patterns))
        for name, patterns in selectors
    )


def needed(selectors: Selectors) -> set[str]:
    """Names of which a track must bear one for *selectors* to fit; empty if none can be told.

    With hundreds of entries and 100,000 tracks, not every pair of them can be tried.
    """
    for name, patterns in selectors:
        found = set()
        for pattern in _several(patterns):
            if name in ("file", "folder"):
                parts = _parts(pattern)
                found.add(parts[-1][1] if parts else "*")
            else:
                found.add(fold(_spaced(pattern) if name == "album" else pattern))
        if all(map(_is_plain, found)):
            return found
    return set()


def _several(patterns: Patterns) -> tuple[str, ...]:
    return (patterns,) if isinstance(patterns, str) else patterns


@lru_cache(maxsize=4096)
def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(fnmatch.translate(fold(text)))


def _one_fits(name: str, pattern: str, asked: Asked) -> bool:
    if name == "file":
        # A file that a cue sheet divides may be named as a whole, or one span of it.
        paths = {asked.path, span_in(asked.path)[0]}
        return any(_path_fits(path, pattern, whole=True) for path in paths)
    if name == "folder":
        return _path_fits(asked.path, pattern, whole=False)
    if name == "album":
        return bool(_pattern(_spaced(pattern)).match(fold(_spaced(asked.album))))
    values = asked.artists if name == "artist" else asked.composers
    return any(_pattern(pattern).match(fold(value)) for value in values)


def _spaced(text: str) -> str:
    """*text* with spaces where underscores stand for all of them, as in old rippers' albums."""
    return text if " " in text else text.replace("_", " ").strip()


@lru_cache(maxsize=4096)
def _parts(path: str) -> tuple[tuple[str, str], ...]:
    """The components of *path*, each as it is and folded."""
    return tuple((part, fold(part)) for part in slashed(path).split("/") if part)


def _is_plain(text: str) -> bool:
    return not any(letter in "*?[" for letter in text)


def _path_fits(path: str, pattern: str, whole: bool) -> bool:
    """Whether *path* is the file, or lies in the folder, that *pattern* ends with (by components)."""  # noqa: E501
    parts, wanted = _parts(path), _parts(pattern)
    if not wanted:
        return False
    length, absolute = len(wanted), pattern.startswith("/")
    if whole:
        starts: Sequence[int] = (0 if absolute else len(parts) - length,)
        if absolute and length != len(parts):
            return False
    else:
        parts = parts[:-1]
        starts = (0,) if absolute else range(len(parts) - length + 1)
    return any(
        start >= 0
        and start + length <= len(parts)
        and all(
            name == want
            or (folded == plain if _is_plain(plain) else bool(_pattern(want).match(folded)))
            for (name, folded), (want, plain) in zip(parts[start:], wanted, strict=False)
        )
        for start in starts
    )


def literal(text: str) -> str:
    """*text* as a pattern that fits it.

    Characters with a meaning become ``?``, and so do bytes of a file name that are not UTF-8.
    """
    return "".join(
        "?" if letter in "[]*" or "\ud800" <= letter <= "\udfff" else letter for letter in text
    )
