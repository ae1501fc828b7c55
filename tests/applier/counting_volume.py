"""A card in memory that counts its changes, fails or loses power at any of them, and may be FAT.

What a power cut leaves is drawn from what was done since the last barrier, severity by severity:

``ALL``      everything that was done before the cut is on the card
``BARRIER``  only what was done before the last barrier is on the card
``ANY``      any subset, drawn by a seed: of a file's bytes nothing, a prefix, the right length with
             zeros behind a prefix, or all; of a rename both names, one of them, or neither

The last one is common practice's picture of FAT without a journal: data, directory entries of the
one folder and of the other reach the medium in any order. ``case_blind`` makes names equal that
FAT's and exFAT's tables make equal; a folder keeps the spelling that it was made with. With a
*system* that is known, folders take clusters by their entries, and what is removed takes its room
until a barrier where that holds it.
"""

import random
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field
from enum import Enum

import xxhash

from syncd.applier.volume import FileSeen, Listing, Space
from syncd.errors import CardFull, CardProblem
from syncd.model import ContentHash
from syncd.planner.capacity import ENTRY_BYTES, UNKNOWN, FileSystem, FolderSeen, Geometry
from syncd.planner.names import fold

PIECE = 1 << 20


class PowerCut(BaseException):
    """The power went: no handler of the program runs any more."""


class Severity(Enum):
    ALL = "all"
    BARRIER = "barrier"
    ANY = "any"


@dataclass
class Inode:
    data: bytes = b""
    durable: bytes | None = None  # None: was not there at the last barrier


@dataclass
class Names:
    """Folded path -> (spelled path, inode), and folded folder -> spelled folder.

    ``at`` has the entries of both in their folders, first and number, where a system is given.
    """

    files: dict[str, tuple[str, Inode]] = field(default_factory=dict)
    folders: dict[str, str] = field(default_factory=dict)
    at: dict[str, tuple[int, int]] = field(default_factory=dict)
    grown: dict[str, int] = field(default_factory=dict)
    """How many entries each folder has had: it gives none back."""

    def copy(self) -> "Names":
        return Names(dict(self.files), dict(self.folders), dict(self.at), dict(self.grown))

    def enter(self, key: str, spelled: str, system: FileSystem) -> None:
        """Give *key* the first gap of its folder that is wide enough, as the FAT driver does."""
        if not system.known or key in self.at:
            return
        above = key.rpartition("/")[0]
        start = system.first_entries if above else 1
        count = system.entries(spelled.rpartition("/")[2])
        beside = sorted(at for other, at in self.at.items() if other.rpartition("/")[0] == above)
        for first, taken in beside:
            if first - start >= count:
                break
            start = first + taken
        self.at[key] = (start, count)
        self.grown[above] = max(self.grown.get(above, 0), start + count)


Deed = Callable[[Names], None]


class CountingVolume:
    """The Volume protocol on dictionaries."""

    def __init__(
        self,
        *,
        capacity: int = 1 << 40,
        cluster: int = 4096,
        case_blind: bool = False,
        system: FileSystem = UNKNOWN,
    ) -> None:
        self.system = system
        self.name = "MEMORY"
        self.capacity = capacity
        self.cluster = cluster
        self.case_blind = case_blind
        self.changes = 0
        self.barriers = 0
        self.bytes_written = 0
        self.cut_at: int | None = None
        self.fault_at: int | None = None
        self.fault: Callable[[], CardProblem] | None = None
        self.log: list[str] = []
        self.fullest = 0
        self.forgets = True
        self._now = Names()
        self._durable = Names()
        self._since: list[Deed] = []
        self._held = 0

    # -- what a test puts there and looks at -----------------------------------------------------

    def put(self, path: str, data: bytes) -> None:
        """A file that was there before, durable and not counted."""
        self._link(self._now, path, Inode(data, data))
        self._settle()

    def put_folder(self, path: str) -> None:
        """An empty folder that was there before."""
        self._now.folders[self._key(path)] = path
        self._settle()

    def content(self) -> dict[str, bytes]:
        """Every file by its spelled path."""
        return {path: inode.data for path, inode in self._now.files.values()}

    def folders(self) -> set[str]:
        return set(self._now.folders.values())

    def used(self) -> int:
        names = self._now
        sizes = sum(self._clusters(len(inode.data)) for _, inode in names.files.values())
        folders = (self._folder_bytes(key) for key in ("", *names.folders))
        return sizes + sum(folders) - self.cluster + self._held  # the root's first one is given

    def _folder_bytes(self, key: str) -> int:
        if not self.system.known:
            return self.cluster
        return max(1, -(-self._now.grown.get(key, 0) * ENTRY_BYTES // self.cluster)) * self.cluster

    def after_cut(self, severity: Severity, seed: int = 0) -> "CountingVolume":
        """The card as the next computer finds it after the power went now."""
        left = CountingVolume(
            capacity=self.capacity,
            cluster=self.cluster,
            case_blind=self.case_blind,
            system=self.system,
        )
        draw = random.Random(seed)
        names = self._now.copy() if severity is Severity.ALL else self._durable.copy()
        if severity is Severity.ANY:
            for deed in self._since:
                if draw.random() < 0.5:
                    deed(names)
        remade: dict[int, Inode] = {}
        for key, (path, inode) in names.files.items():
            if id(inode) not in remade:
                data = self._left(inode, severity, draw)
                remade[id(inode)] = Inode(data, data)
            left._now.files[key] = (path, remade[id(inode)])
        left._now.folders = names.folders
        left._now.at = names.at
        left._now.grown = names.grown
        left._settle()
        return left

    @staticmethod
    def _left(inode: Inode, severity: Severity, draw: random.Random) -> bytes:
        if severity is Severity.ALL or inode.data == inode.durable:
            return inode.data
        if severity is Severity.BARRIER:
            return inode.durable or b""
        old = inode.durable or b""
        size = len(inode.data)
        start = len(old) if inode.data.startswith(old) else 0
        part = draw.randint(start, size)
        return draw.choice(
            [old, inode.data[:part], inode.data[:part] + bytes(size - part), inode.data]
        )

    # -- the port ----------------------------------------------------------------------------

    def listing(self) -> Listing:
        return Listing(self.files(), self.empty_folders())

    def files(self) -> list[FileSeen]:
        return sorted(
            (FileSeen(path, len(inode.data)) for path, inode in self._now.files.values()),
            key=lambda file: file.path,
        )

    def empty_folders(self) -> list[str]:
        names = [*self._now.files, *self._now.folders]
        return sorted(
            spelled
            for key, spelled in self._now.folders.items()
            if not any(name.startswith(key + "/") for name in names)
        )

    def read(self, path: str) -> bytes | None:
        found = self._now.files.get(self._key(path))
        return None if found is None else found[1].data

    def chunks(self, path: str) -> Iterator[bytes]:
        found = self._now.files.get(self._key(path))
        if found is None:
            raise CardProblem(f"Could not read card {self.name} ({path}): no such file.")
        yield from _pieces(found[1].data)

    def forget(self, paths: Collection[str]) -> int:
        return 0 if self.forgets else len(paths)

    def size(self, path: str) -> int | None:
        found = self._now.files.get(self._key(path))
        return None if found is None else len(found[1].data)

    def write(self, path: str, chunks: Iterable[bytes]) -> tuple[int, ContentHash]:
        self._count(f"write {path}")
        if self.system.known:
            self.remove(path)  # a file is not cut down there to be written anew
        found = self._now.files.get(self._key(path))
        inode = Inode() if found is None else found[1]
        inode.data = b""
        if found is None:
            self._link(self._now, path, inode, since=True)
        digest = xxhash.xxh3_128()
        for chunk in chunks:
            self._count(f"more of {path}")
            digest.update(chunk)
            inode.data += chunk
            self.bytes_written += len(chunk)
            self._room(path)
        return len(inode.data), ContentHash(digest.hexdigest())

    def append(self, path: str, data: bytes) -> None:
        self._count(f"append {path}")
        found = self._now.files.get(self._key(path))
        inode = Inode() if found is None else found[1]
        if found is None:
            self._link(self._now, path, inode, since=True)
        inode.data += data
        self.bytes_written += len(data)
        self._room(path)

    def rename(self, origin: str, target: str) -> None:
        self._count(f"rename {origin} -> {target}")
        found = self._now.files.get(self._key(origin))
        if found is None:
            raise CardProblem(f"Could not rename card {self.name} ({origin}): no such file.")
        if self._key(target) in self._now.folders:
            raise CardProblem(f"Could not rename card {self.name} ({origin}): is a directory.")
        inode = found[1]
        self._link(self._now, target, inode, since=True)
        self._drop(origin, inode)

    def remove(self, path: str) -> None:
        found = self._now.files.get(self._key(path))
        if found is not None:
            self._count(f"remove {path}")
            self._hold(self._clusters(len(found[1].data)))
            self._drop(path, found[1])

    def remove_empty_folders(self, path: str) -> None:
        while path:
            key = self._key(path)
            below = key + "/"
            taken = [*self._now.files, *self._now.folders]
            if any(name.startswith(below) for name in taken):
                return
            if key in self._now.folders:
                self._count(f"rmdir {path}")
                self._hold(self._folder_bytes(key))

                def deed(names: Names, key: str = key) -> None:
                    names.folders.pop(key, None)
                    names.at.pop(key, None)
                    names.grown.pop(key, None)

                self._do(deed)
            path = path.rpartition("/")[0]

    def barrier(self) -> None:
        self._count("barrier")
        self.barriers += 1
        self._held = 0
        self._settle()

    def trim(self, path: str) -> None:
        return None

    def linked(self, path: str, other: str) -> bool:
        return False

    def geometry(self, folders: Iterable[str]) -> Geometry:
        if not self.system.known:
            return Geometry(self.system, self.cluster)
        names = self._now
        spelled = {key: path for key, (path, _) in names.files.items()} | names.folders
        seen: dict[str, FolderSeen] = {}
        for folder in folders:
            if folder and self._key(folder) not in names.folders:
                continue
            inside = {key: at for key, at in names.at.items()
                      if key.rpartition("/")[0] == self._key(folder)}  # fmt: skip
            listed: dict[str, int | None] = {
                spelled[key].rpartition("/")[2]: inside[key][0]
                for key in sorted(inside, key=lambda key: inside[key])
            }
            clusters = self._folder_bytes(self._key(folder)) // self.cluster
            seen[folder] = FolderSeen(clusters, listed)
        return Geometry(self.system, self.cluster, seen)

    def space(self) -> Space:
        return Space(self.capacity - self.used(), self.capacity, self.cluster)

    # -- inside ------------------------------------------------------------------------------

    def _key(self, path: str) -> str:
        return fold(path) if self.case_blind else path

    def _clusters(self, size: int) -> int:
        return -(-size // self.cluster) * self.cluster

    def _count(self, what: str) -> None:
        if self.cut_at == self.changes:
            raise PowerCut(what)
        if self.fault_at == self.changes and self.fault is not None:
            fault, self.fault = self.fault, None
            raise fault()
        self.changes += 1
        self.log.append(what)

    def _room(self, path: str) -> None:
        if self.used() > self.capacity:
            self._held = 0  # what was removed makes room now, as in ``held.py``
        self.fullest = max(self.fullest, self.used())
        if self.used() > self.capacity:
            raise CardFull(f"The card {self.name} is full: {path} could not be written.")

    def _hold(self, size: int) -> None:
        if self.system.holds_removed:
            self._held += size

    def _do(self, deed: Callable[[Names], object]) -> None:
        deed(self._now)
        self._since.append(deed)  # type: ignore[arg-type]

    def _link(self, names: Names, path: str, inode: Inode, *, since: bool = False) -> None:
        key_of = self._key

        def deed(at: Names) -> None:
            spelled = ""
            parts = path.split("/")
            for part in parts[:-1]:
                tried = f"{spelled}/{part}" if spelled else part
                spelled = at.folders.setdefault(key_of(tried), tried)
                at.enter(key_of(tried), tried, self.system)
            whole = f"{spelled}/{parts[-1]}" if spelled else parts[-1]
            at.files[key_of(path)] = (whole, inode)
            at.enter(key_of(path), whole, self.system)

        deed(names)
        if since:
            self._since.append(deed)

    def _drop(self, path: str, inode: Inode) -> None:
        key = self._key(path)

        def deed(at: Names) -> None:
            found = at.files.get(key)
            if found is not None and found[1] is inode:
                del at.files[key]
                at.at.pop(key, None)

        self._do(deed)

    def _settle(self) -> None:
        self._durable = self._now.copy()
        self._since = []
        for _, inode in self._now.files.values():
            inode.durable = inode.data


def _pieces(data: bytes) -> Iterator[bytes]:
    for start in range(0, len(data), PIECE):
        yield data[start : start + PIECE]
