"""The sentences with which a file that is no sound audio is refused."""

from syncd.errors import ItemProblem
from syncd.library.masterfile import shown

TRUNCATED = "is cut off: {detail}; copy it again from its source"


def damaged(path: str, what: str) -> ItemProblem:
    """An ItemProblem whose sentence is the file's name followed by *what*."""
    return ItemProblem(shown(path), f"{shown(path)} {what}.")


def cut_off(path: str, detail: str) -> ItemProblem:
    """An ItemProblem for a truncated file; *detail* says what is missing."""
    return damaged(path, TRUNCATED.format(detail=detail))
