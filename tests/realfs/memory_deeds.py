"""Is what is read back read from the medium? A byte is changed behind the driver's back."""

import os
from pathlib import Path

from syncd.applier.folder_volume import FolderVolume

MARK = b"here begins what is changed behind the driver's back"


def behind_the_back(volume: FolderVolume, device: str = "/dev/ubdb") -> dict[str, object]:
    """Write a file, read it into memory, change a byte on *device*, and read it twice again."""
    data = (MARK + bytes(range(256)) * 400)[:100_000]
    volume.write("a.bin", [data])
    volume.barrier()
    path = volume.root / "a.bin"
    path.read_bytes()
    with Path(device).open("r+b", buffering=0) as medium:
        size = medium.seek(0, os.SEEK_END)
        place = -1
        for at in range(0, size, 1 << 20):
            medium.seek(at)
            found = medium.read((1 << 20) + len(MARK)).find(MARK)
            if found >= 0:
                place = at + found
                break
        assert place >= 0, "the file is not on the medium"
        medium.seek(place)
        medium.write(bytes([MARK[0] ^ 1]))
        os.fsync(medium.fileno())
    told = path.read_bytes()[:1] != data[:1]
    forgot = not volume.forget(["a.bin"])
    read = b"".join(volume.chunks("a.bin"))
    return {"plainly": told, "forgot": forgot, "past": read[:1] != data[:1]}
