"""How files and folders take room on a card: the rules of FAT32 and exFAT, as values. Pure.

A file takes whole clusters. A folder takes clusters as well: 32 bytes an entry, several entries a
long name. The drivers put a new name into the first gap that is wide enough (measured with those of
Linux for FAT and exFAT and with exfat-fuse, see DEVELOPERS.md), and give no cluster back when names
go, but for exfat-fuse, which shortens a folder whose last name went. So what a folder takes depends
on its past; ``FolderSeen`` is what can be seen of that.

Sources: Microsoft FAT specification 1.03 ("Long directory entries", "Other notes"), Microsoft exFAT
specification (6.3, 7.6, 7.7).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from syncd.planner.names import utf16_units

ENTRY_BYTES = 32
"""Bytes of a directory entry on FAT and exFAT."""

_SHORT_LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789!#$%&'()-@^_`{}~")


def is_short_name(name: str) -> bool:
    """Whether *name* is an 8.3 name in capitals, which FAT keeps without a long name."""
    stem, dot, suffix = name.rpartition(".")
    if not dot:
        stem, suffix = name, ""
    return (
        0 < len(stem) <= 8
        and len(suffix) <= 3
        and (not dot or bool(suffix))
        and _SHORT_LETTERS.issuperset(stem)
        and _SHORT_LETTERS.issuperset(suffix)
    )


@dataclass(frozen=True, slots=True)
class FileSystem:
    """The rules of a file system as its driver carries them out.

    ``name_units`` is how many UTF-16 units of a long name an entry holds, ``fixed_entries`` the
    entries of a name beside those. ``short_names`` tells that an 8.3 name in capitals takes one
    entry alone. ``first_entries`` are those that a new folder begins with. ``most_entries`` is how
    many a folder may hold. ``shrinks`` tells that a folder gives clusters back when its last name
    goes, ``lists_in_order`` that the driver lists a folder's names as they stand, ``holds_removed``
    that what was removed takes room until a barrier. ``known`` tells that there are rules at all,
    ``measured`` that the driver was seen to keep to them.
    """

    name: str
    name_units: int = 13
    fixed_entries: int = 1
    short_names: bool = False
    first_entries: int = 0
    most_entries: int | None = None
    largest_file_bytes: int | None = None
    shrinks: bool = False
    lists_in_order: bool = True
    holds_removed: bool = False
    known: bool = False
    measured: bool = False

    def entries(self, name: str) -> int:
        """How many directory entries *name* takes."""
        if self.short_names and is_short_name(name):
            return 1
        return self.fixed_entries + -(-utf16_units(name) // self.name_units)


FAT32 = FileSystem(
    "FAT32",
    short_names=True,
    first_entries=2,  # "." and ".."
    most_entries=65_536,
    largest_file_bytes=(1 << 32) - 1,
    holds_removed=True,
    known=True,
    measured=True,
)
"""FAT32 as the Linux vfat driver writes it, with names as ``shortname=mixed`` (its default) has."""

EXFAT = FileSystem(
    "exFAT",
    name_units=15,
    fixed_entries=2,
    most_entries=(256 << 20) // ENTRY_BYTES,
    holds_removed=True,
    known=True,
    measured=True,
)
"""exFAT as the Linux exfat driver writes it (but for renames within a folder, which keep the place
where the new name is no longer: nothing is renamed so here)."""

EXFAT_FUSE = FileSystem(
    "exFAT (FUSE)",
    name_units=15,
    fixed_entries=2,
    most_entries=(256 << 20) // ENTRY_BYTES,
    shrinks=True,
    lists_in_order=False,  # names that came since it was mounted come first, the last foremost
    known=True,
    measured=True,
)
"""exFAT as exfat-fuse writes it."""

UNKNOWN = FileSystem("unknown")
"""Any other file system, such as a plain folder's: what it does with room is not known."""


@dataclass(frozen=True, slots=True)
class FolderSeen:
    """What is seen of a folder: its clusters, and its names.

    ``names`` maps each name to the entry at which it begins, None where the driver does not tell:
    then the names are taken to lie one behind the other.
    """

    clusters: int = 1
    names: Mapping[str, int | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Geometry:
    """How a card takes room: the rules, its clusters, and the folders that were looked at."""

    system: FileSystem
    cluster_bytes: int
    folders: Mapping[str, FolderSeen] = field(default_factory=dict)


class Folder:
    """The entries of one folder as the driver fills them.

    ``add`` and ``remove`` return by how many clusters the folder grew (negative: shrank).
    """

    def __init__(self, system: FileSystem, cluster_bytes: int, *, root: bool = False) -> None:
        self._system = system
        self._a_cluster = max(1, cluster_bytes // ENTRY_BYTES)
        self._taken = bytearray(self._a_cluster)
        self._names: dict[str, tuple[int, int]] = {}
        self._low = 0
        """No entry below this one is free."""
        # A root has no dots, but mostly a label; exFAT's has the bitmap and the up-case table, too.
        first = (1 if system.first_entries else 3) if root else system.first_entries
        self._fill(0, first, 1)
        self.gaps_known = True
        """Whether it is known which entries are free."""
        self.exact = True
        """Whether it surely has as many clusters as are told here, whatever gaps were not seen."""

    @classmethod
    def seen(
        cls, system: FileSystem, cluster_bytes: int, seen: FolderSeen, *, root: bool = False
    ) -> "Folder":
        """The folder that *seen* tells of."""
        folder = cls(system, cluster_bytes, root=root)
        folder._taken.extend(bytes((max(1, seen.clusters) - 1) * folder._a_cluster))
        placed = sorted((start, name) for name, start in seen.names.items() if start is not None)
        ends = [start for start, _ in placed[1:]] + [len(folder._taken)]
        for (start, name), end in zip(placed, ends, strict=False):
            count = max(0, min(system.entries(name), end - start))
            folder._fill(start, count, 1)
            folder._names[name] = (start, count)
        for name, begins in seen.names.items():
            if begins is None:
                folder.add(name)
                folder.gaps_known = False
        return folder

    @property
    def clusters(self) -> int:
        """How many clusters it takes."""
        return len(self._taken) // self._a_cluster

    @property
    def names(self) -> list[str]:
        """The names in it, in the order of their entries."""
        return sorted(self._names, key=self._names.__getitem__)

    @property
    def entries(self) -> int:
        """How many entries are taken."""
        return self._taken.count(1)

    def __contains__(self, name: str) -> bool:
        return name in self._names

    def add(self, name: str) -> int:
        """Put *name* into the first gap that is wide enough, or at the end."""
        count = self._system.entries(name)
        if not self.gaps_known:
            # Were every gap just too narrow, this much would be taken up.
            most = self._taken.count(1) + (len(self._names) + 1) * (count - 1) + count
            self.exact = self.exact and self.clusters == 1 and most <= self._a_cluster
        start = self._taken.find(bytes(count), self._low)
        grown = 0
        if start < 0:
            start = len(self._taken.rstrip(b"\0"))
            grown = -(-(start + count - len(self._taken)) // self._a_cluster)
            self._taken.extend(bytes(grown * self._a_cluster))
        free = self._taken.find(0, self._low)
        self._fill(start, count, 1)
        self._low = start + count if start == free else free
        self._names[name] = (start, count)
        return grown

    def remove(self, name: str, *, moved: bool = False) -> int:
        """Take *name* out; *moved* by a rename, which gives no cluster back."""
        start, count = self._names.pop(name)
        self._fill(start, count, 0)
        self._low = min(self._low, start)
        if not self._system.shrinks or moved:
            return 0
        self.exact = self.exact and (self.gaps_known or self.clusters == 1)
        end = len(self._taken.rstrip(b"\0"))
        if end > start:
            return 0
        wanted = max(1, -(-end // self._a_cluster)) * self._a_cluster
        gone = (len(self._taken) - wanted) // self._a_cluster
        del self._taken[wanted:]
        return -gone

    def _fill(self, start: int, count: int, value: int) -> None:
        self._taken[start : start + count] = bytes([value]) * count
