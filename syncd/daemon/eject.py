"""A card made ready to be taken out: flushed, and unmounted if its settings say so.

Whichever program of the system is there does the unmounting; a command that fails is told with what
it said, and the next one is tried.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from syncd.applier.folder_volume import FolderVolume
from syncd.daemon.confine import no_new_privileges
from syncd.errors import CardProblem

Run = Callable[[Sequence[str]], tuple[int, str]]
"""Runs a command; returns its status and what it said."""

_PROGRAMS = ("diskutil", "udisksctl", "umount", "fusermount3")
_AS_USER = ("systemd-run", "--user", "--quiet", "--collect", "--wait", "--pipe")

PATIENCE_S = 120.0
"""Unmounting waits until the card has taken what the system still holds for it."""


def flush(mount: Path, name: str) -> None:
    """Return when all that was written to the card is on it. Raises CardProblem."""
    with FolderVolume(mount, name) as volume:
        volume.barrier()


def run_command(command: Sequence[str]) -> tuple[int, str]:
    """Run *command* for real; its exit status and what it said."""
    try:
        done = subprocess.run(
            command,
            capture_output=True,
            stdin=subprocess.DEVNULL,
            text=True,
            errors="replace",
            timeout=PATIENCE_S,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return 1, str(error)
    return done.returncode, (done.stderr or done.stdout).strip()


def ways_to_unmount(
    mount: Path,
    device: str | None,
    which: Callable[[str], str | None] = shutil.which,
    *,
    bound: bool = False,
) -> list[list[str]]:
    """The commands that may unmount *mount*, the most fitting first; those that are here only.

    udisksctl (UDisks 2) lets the user of the desktop do it and turns to the *device*; umount(8)
    does what /etc/fstab or being root allows; fusermount3 (libfuse) unmounts what the user mounted
    by FUSE; diskutil is macOS's. *bound*: programs get no rights of their owners from us, as in a
    systemd service; then its manager is asked to start umount and fusermount3 (systemd-run(1)).
    """
    place = str(mount)
    ways = []
    if sys.platform == "darwin" or which("diskutil"):
        ways.append(["diskutil", "unmount", place])
    if device is not None and device.startswith("/dev/"):
        ways.append(["udisksctl", "unmount", "--no-user-interaction", "--block-device", device])
    own = [["umount", "--", place], ["fusermount3", "-u", "--", place]]
    own = [way for way in own if which(way[0])]
    if bound and which(_AS_USER[0]):
        own = [[*_AS_USER, *way] for way in own]
    return [way for way in ways if which(way[0])] + own


def device_of(mount: Path) -> str | None:
    """The device that is mounted at *mount*, as the system names it; None where none is."""
    import psutil

    here = str(mount)
    devices = [p.device for p in psutil.disk_partitions(all=True) if p.mountpoint == here]
    return devices[-1] if devices else None


def unmount(
    mount: Path,
    name: str,
    *,
    run: Run = run_command,
    which: Callable[[str], str | None] = shutil.which,
    is_mount: Callable[[Path], bool] = os.path.ismount,
    device: Callable[[Path], str | None] = device_of,
    bound: Callable[[], bool] = lambda: no_new_privileges() and os.geteuid() != 0,
) -> None:
    """Unmount the card at *mount*. Raises CardProblem with the remedy when that cannot be.

    A folder that stands in for a card, where nothing is mounted, is left as it is.
    """
    if not is_mount(mount):
        return
    said = []
    for way in ways_to_unmount(mount, device(mount), which, bound=bound()):
        status, text = run(way)
        if status == 0 and not is_mount(mount):
            return
        program = next(word for word in way if word in _PROGRAMS)
        said.append(f"{program}: {text.splitlines()[0] if text else f'status {status}'}")
    causes = "; ".join(said) or "neither udisksctl, umount nor diskutil is here"
    raise CardProblem(
        f"The card {name} is written and flushed, but could not be unmounted ({causes}). Close "
        "what uses it and eject it yourself before you take it out."
    )
