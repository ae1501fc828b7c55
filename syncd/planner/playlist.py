"""The text of a playlist: extended M3U, common practice among simple players. Pure."""

from collections.abc import Iterable

from anyascii import anyascii

PLAYLIST = "playlist"
"""Stands for the recipe in a playlist's source."""


def playlist_text(items: Iterable[tuple[str, str, float]], *, ascii_only: bool) -> str:
    """A playlist of *items*: a file's path from where the list lies, the title to show, seconds."""
    lines = ["#EXTM3U"]
    for name, title, seconds in items:
        shown = title.replace("\n", " ").replace("\r", " ")
        lines.append(f"#EXTINF:{round(seconds)},{anyascii(shown) if ascii_only else shown}")
        lines.append(f"./{name}" if name.startswith("#") else name)
    return "\r\n".join(lines) + "\r\n"
