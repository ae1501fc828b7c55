"""What ``guest.py`` does to a FAT card from which thousands of files go at once."""

import os
import resource

from syncd.applier.folder_volume import FolderVolume

FILES = 3000
A_FOLDER = 30


def _path(number: int) -> str:
    return f"Music/F{number // A_FOLDER:03}/A track with a name {number % A_FOLDER:02}.mp3"


def fill(volume: FolderVolume) -> None:
    """Many files, small ones."""
    for number in range(FILES):
        volume.write(_path(number), [b"x" * 700])
    volume.barrier()


def clear(volume: FolderVolume) -> dict[str, int]:
    """All of them go, in a process that may have as many files open as is usual."""
    resource.setrlimit(resource.RLIMIT_NOFILE, (1024, 1024))
    most = 0
    for number in range(FILES):
        volume.remove(_path(number))
        if number % 50 == 0:
            most = max(most, len(os.listdir("/proc/self/fd")))
    for number in range(0, FILES, A_FOLDER):
        volume.remove_empty_folders(_path(number).rpartition("/")[0])
    volume.barrier()
    return {"open": most, "files": len(volume.listing().files), "free": volume.space().free}
