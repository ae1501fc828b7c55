"""Which volumes are mounted, and the notice that this changed.

On Linux the kernel says when: poll() on the mount table gives POLLPRI (proc(5), mountinfo), and
nothing is asked meanwhile. Elsewhere psutil is asked at a moderate interval. Nobody here looks into
a volume: one that does not answer would hold up all the others.
"""

import os
import re
import select
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import psutil

from syncd.daemon.loop import Loop

MOUNT_TABLE = Path("/proc/self/mountinfo")
ASK_EVERY_S = 5.0
"""Seconds between two looks where the system does not say when."""

NOT_ASKED = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afpfs", "9p", "ceph", "fuse.sshfs", "autofs"}
    | {"proc", "sysfs", "devtmpfs", "devpts", "cgroup", "cgroup2", "mqueue", "debugfs", "tracefs"}
    | {"securityfs", "pstore", "bpf", "configfs", "hugetlbfs", "fusectl", "binfmt_misc", "devfs"}
    | {"efivarfs", "rpc_pipefs", "nsfs", "squashfs", "overlay", "fuse.portal", "fuse.gvfsd-fuse"}
)
"""File systems that are no cards: those of the network and the kernel's own."""

REMOVABLE = frozenset({"vfat", "msdos", "exfat", "fuseblk", "fuse.exfat", "hfs", "hfsplus"})
"""What cards are usually formatted with; one of another kind may be a card all the same."""

_USUAL_PLACES = ("/media", "/run/media", "/Volumes", "/mnt")
_SYSTEM_PLACES = ("/boot", "/efi", "/System")
_ESCAPE = re.compile(r"\\([0-7]{3})")


@dataclass(frozen=True, slots=True)
class Mount:
    """One mounted volume, or a folder to be looked at like one.

    ``key`` tells this mount from an earlier one at the same place; ``device`` is the same for two
    places where one volume is mounted.
    """

    place: str
    kind: str
    device: str
    key: str
    read_only: bool = False

    @property
    def may_be_a_card(self) -> bool:
        """Whether it is worth a look."""
        return self.kind not in NOT_ASKED

    @property
    def looks_removable(self) -> bool:
        """Whether a listener would take it for a card or a stick."""
        if any(_within(self.place, place) for place in _SYSTEM_PLACES):
            return False
        usual = any(_within(self.place, place) for place in _USUAL_PLACES)
        return self.kind in REMOVABLE or (usual and self.place not in _USUAL_PLACES)


def _within(place: str, folder: str) -> bool:
    return place == folder or place.startswith(folder + "/")


def parse_mountinfo(text: str) -> list[Mount]:
    """The mounts in *text*, in the form of proc(5) /proc/pid/mountinfo. Odd lines are left out."""
    found = []
    for line in text.splitlines():
        before, _, after = line.partition(" - ")
        fields, rest = before.split(" "), after.split(" ")
        if len(fields) < 6 or len(rest) < 3:
            continue
        place = _ESCAPE.sub(lambda octal: chr(int(octal[1], 8)), fields[4])
        place = place.encode("latin-1", "surrogateescape").decode("utf-8", "surrogateescape")
        read_only = "ro" in fields[5].split(",") or "ro" in rest[2].split(",")
        # The root within the volume counts: a bind mount of a folder is not the whole volume.
        device = f"{fields[2]} {fields[3]}"
        found.append(Mount(place, rest[0], device, f"{fields[0]} {device} {rest[1]}", read_only))
    return found


class MountTable(Protocol):
    """The mounts as they are now, and a call when they may have changed."""

    def mounts(self) -> list[Mount]:
        """All that is mounted; where one place is mounted over, the one that is seen."""
        ...

    def close(self) -> None:
        """Wait for changes no more."""
        ...


class KernelMounts:
    """Linux: the kernel's own notice. Costs nothing while nothing changes."""

    def __init__(self, loop: Loop, changed: Callable[[], None], table: Path = MOUNT_TABLE) -> None:
        self._loop = loop
        self._fd = os.open(table, os.O_RDONLY | os.O_CLOEXEC)
        loop.attend(self._fd, lambda events: changed(), select.POLLPRI | select.POLLERR)

    def mounts(self) -> list[Mount]:
        os.lseek(self._fd, 0, os.SEEK_SET)
        parts = []
        while part := os.read(self._fd, 1 << 16):
            parts.append(part)
        # Names are bytes: latin-1 keeps each as one letter until the escapes are undone.
        return _seen(parse_mountinfo(b"".join(parts).decode("latin-1")))

    def close(self) -> None:
        self._loop.forget(self._fd)
        os.close(self._fd)


class AskedMounts:
    """Elsewhere: psutil is asked from time to time."""

    def __init__(
        self, loop: Loop, changed: Callable[[], None], every_s: float = ASK_EVERY_S
    ) -> None:
        self._loop = loop
        self._changed = changed
        self._every_s = every_s
        self._known = self.mounts()
        self._timer = loop.after(every_s, self._ask)

    def _ask(self) -> None:
        self._timer = self._loop.after(self._every_s, self._ask)
        now = self.mounts()
        if now != self._known:
            self._known = now
            self._changed()

    def mounts(self) -> list[Mount]:
        return _seen(
            Mount(
                part.mountpoint,
                part.fstype,
                part.device,
                f"{part.device} {part.fstype}",
                "ro" in part.opts.split(","),
            )
            for part in psutil.disk_partitions(all=True)
        )

    def close(self) -> None:
        self._timer.cancel()


def _seen(mounts: Iterable[Mount]) -> list[Mount]:
    """The last one mounted at each place: it hides the others."""
    return list({mount.place: mount for mount in mounts}.values())


def mount_table(loop: Loop, changed: Callable[[], None]) -> MountTable:
    """This system's mount table; *changed* is called when it changed."""
    if sys.platform.startswith("linux") and MOUNT_TABLE.exists():
        return KernelMounts(loop, changed)
    return AskedMounts(loop, changed)
