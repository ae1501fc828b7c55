"""What the system's refusals mean for a card, as sentences with a remedy."""

import errno
import os
from pathlib import Path

from syncd.errors import CardFull, CardGone, CardProblem

_GONE = {errno.ENODEV, errno.ENXIO, errno.ENOTCONN, errno.ESTALE, errno.ENOMEDIUM}
_FULL = {errno.ENOSPC, errno.EDQUOT}


def card_problem(error: OSError, card: str, root: Path, doing: str, path: str) -> CardProblem:
    """The problem of *card*, mounted at *root*, whose file *path* the system refused *doing* to."""
    where = f"card {card}" + ("" if path == "." else f" ({path})")
    code = error.errno
    if code in _FULL:
        return CardFull(
            f"The card {card} is full: {path} could not be written. Remove something "
            "from it, or choose less in its programme, and update again."
        )
    if code in _GONE or not os.path.isdir(root):  # noqa: PTH112 - may be bytes-odd
        return CardGone(
            f"The card {card} went away (could not {doing} {path}). Plug it in again; "
            "the update goes on from there."
        )
    if code == errno.EROFS:
        return read_only(card)
    if code in (errno.EACCES, errno.EPERM):
        return CardProblem(
            f"No permission to {doing} {where}. Mount the card so that you may write to it."
        )
    if code == errno.EIO:
        return CardProblem(
            f"The {where} gives an input/output error. Have its file system repaired (Linux: "
            "fsck.vfat -a or fsck.exfat -p), as after every card that was pulled while it was "
            "written; if the error comes back, the card is failing: replace it."
        )
    return CardProblem(
        f"Could not {doing} {where}: {error.strerror}. Check the card and try again."
    )


def read_only(name: str) -> CardProblem:
    """The problem of a card that cannot be written to."""
    return CardProblem(
        f"The card {name} is read-only. Slide its lock off, or mount it writable, and try again. "
        "Where it has no lock, its file system is damaged: have it repaired (Linux: fsck.vfat -a "
        "or fsck.exfat -p)."
    )
