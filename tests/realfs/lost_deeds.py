"""What the user-mode kernel does with what fsck.exfat -s made files of."""

import shutil

from syncd.applier.folder_volume import FolderVolume

FOLDER = "LOST+FOUND"


def give_back(volume: FolderVolume) -> None:
    """The listener deletes what was rescued: nothing of it is of use."""
    shutil.rmtree(volume.root / FOLDER)
    volume.barrier()
