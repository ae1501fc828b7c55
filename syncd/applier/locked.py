"""A card taken in hand: its volume opened, and locked so that one process at a time works on it."""

import contextlib
from pathlib import Path

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import CARD_FILE
from syncd.errors import CardBusy


def open_volume(mount: Path, name: str) -> FolderVolume:
    """The card at *mount*, locked for this process until it is closed.

    Raises CardBusy if another process holds it, CardProblem when it cannot be read.
    """
    with contextlib.ExitStack() as stack:
        volume = stack.enter_context(FolderVolume(mount, name))
        if not volume.lock(CARD_FILE):
            raise CardBusy(
                f"Another syncd is at work on the card {name}. Wait until it has finished."
            )
        stack.pop_all()
    return volume
