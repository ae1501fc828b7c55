"""What fsck.exfat says of a card image, and what it makes of one."""

import re
import subprocess
from collections import Counter
from pathlib import Path

KNOWN = (  # messages of Debian's exfatprogs 1.2.0 that power cuts were seen to leave
    "is marked as free",
    "is already allocated for the other file",
    "the checksum of a file is wrong",
    "unknown entry type",
)


def fsck(image: Path, how: str = "-n") -> Counter[str]:
    """Kinds of reports with how often: ``-n`` changes nothing, ``-p`` repairs."""
    done = subprocess.run(
        ["/usr/sbin/fsck.exfat", how, str(image)], capture_output=True, text=True, timeout=60
    )
    kinds: Counter[str] = Counter()
    for line in (done.stdout + done.stderr).splitlines():
        if "ERROR" in line:
            kinds[next((kind for kind in KNOWN if kind in line), line)] += 1
    assert kinds or " clean." in done.stdout, done.stdout + done.stderr
    return kinds


def repaired(image: Path) -> Counter[str]:
    """What fsck.exfat -p mended: it is whole afterwards. Raises AssertionError if it is not."""
    mended = fsck(image, "-p")
    assert not fsck(image), f"fsck.exfat does not come to an end: {fsck(image)}"
    return mended


def rescued(image: Path) -> None:
    """Have files made of the clusters that nothing names, in LOST+FOUND."""
    command = ["/usr/sbin/fsck.exfat", "-s", "-y", str(image)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode in (0, 1), done.stdout + done.stderr  # 1: errors corrected, fsck(8)
    assert not fsck(image)


def counted(image: Path) -> tuple[int, int]:
    """Folders, the root among them, and files as fsck.exfat counts them."""
    done = subprocess.run(
        ["/usr/sbin/fsck.exfat", "-n", str(image)], capture_output=True, text=True, check=True
    )
    found = re.search(r"directories (\d+), files (\d+)", done.stdout)
    assert found is not None, done.stdout
    return int(found[1]), int(found[2])
