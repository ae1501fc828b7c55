"""What the user-mode kernel does for ``test_two_names.py``, ``test_free_clusters.py`` and
``test_exfat_driver.py``."""

from syncd.applier.folder_volume import FolderVolume


def linked(volume: FolderVolume) -> list[object]:
    """Which of three files of equal content are one, and whether they are as they were."""
    names = ("ONE.BIN", "TWO.BIN", "THREE.BIN")
    before = [volume.read(name) for name in names]
    found: list[object] = [
        volume.linked("ONE.BIN", "TWO.BIN"),
        volume.linked("TWO.BIN", "ONE.BIN"),
        volume.linked("ONE.BIN", "THREE.BIN"),
        volume.linked("ONE.BIN", "ONE.BIN"),
    ]
    volume.barrier()
    return [*found, [volume.read(name) for name in names] == before]


def trimmed(volume: FolderVolume) -> list[object]:
    """What trimming two files gives back in clusters, and whether the card is read-only then."""
    found: list[object] = []
    for name in ("ONE.BIN", "TWO.BIN"):
        before = volume.space()
        volume.trim(name)
        after = volume.space()
        found.append([(after.free - before.free) // after.cluster, after.read_only])
    return found


def three(volume: FolderVolume) -> None:
    """Three files of equal content."""
    for name in ("ONE.BIN", "TWO.BIN", "THREE.BIN"):
        volume.write(name, [bytes(range(256)) * 40])
    volume.barrier()
