"""A title cut at the marks that stand between its parts; brackets and quotes stay whole.

What the parts are is told by ``title.py``.
"""

import re

_SEPARATOR = re.compile(
    r"(?=[\s—:;.\\])"  # what each begins with: most places are passed by at once ...
    r"(?=\s*[-–—|~·•:;/\\_.])(?:"  # ... and so are spaces between words
    r"\s+[-–—|~·•]+\s+|\s*—\s*|\s*[:;]\s+|\s+[:;]\s*|\s+/{1,2}\s+|\s*\\+\s+|\s+_\s+|\s–\s?|\.\s+-\s+)"
)
_PROTECTED = re.compile(
    r"\([^()]{0,200}\)|\[[^\[\]]{0,200}\]|“[^”]{0,200}”|«[^»]{0,200}»|„[^“”]{0,200}[“”]|\"[^\"]{0,200}\""
    r"|‹[^›]{0,200}›|(?<!\w)'[^']{1,200}'(?!\w)|‘[^’]{1,80}’(?!\w)"
)
_OPENING = re.compile("[(\\[“«‹„\"'‘]")


def split_title(text: str) -> list[tuple[str, int]]:
    """*text* cut at its separators, each piece with its offset; brackets and quotes stay whole."""
    protected: list[tuple[int, int]] = []
    if _OPENING.search(text) is not None:
        protected = [match.span() for match in _PROTECTED.finditer(text)]
    pieces: list[tuple[str, int]] = []
    start = 0
    for match in _SEPARATOR.finditer(text):
        at = match.start()
        if any(low < at < high for low, high in protected):
            continue
        piece = text[start:at]
        if piece.strip():
            pieces.append((piece, start))
        start = match.end()
    rest = text[start:]
    if rest.strip():
        pieces.append((rest, start))
    return pieces
