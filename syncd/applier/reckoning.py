"""What an update will leave free, to the cluster, before the card is touched.

The applier itself is run, on a model of the card in memory: files are sizes, folders have their
entries as the driver fills them (``planner/capacity.py``). So the order of deeds is that of the
update by construction, and the model's least free room is the update's.

What a model cannot know is the contents' hashes; the manifest's size does not depend on them.
"""

import contextlib
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from syncd.applier import manifest
from syncd.applier.applied import CatalogueBuilder
from syncd.applier.apply import apply, sweep
from syncd.applier.reading import CardReading
from syncd.applier.volume import CHUNK, FileSeen, Listing, Space
from syncd.model import ContentHash
from syncd.planner.capacity import Folder, FolderSeen, Geometry
from syncd.planner.names import fold
from syncd.planner.places import folders_of
from syncd.planner.plan import Placement, Plan

_NOTHING = bytes(CHUNK)
_NO_HASH = ContentHash("0" * 32)
_MOST_HELD = 256
"""Removed files that the volume holds open at most, where it does that."""


@dataclass(frozen=True, slots=True)
class Reckoned:
    """Free bytes after an update, and the least at any time during it: negative, it won't fit.

    ``exact`` tells whether that is so to the byte, else about: where a gap in a folder was not
    seen, or after an interruption, which may have left clusters that no size tells of.
    """

    free_after: int
    free_least: int
    exact: bool = True


def reckon(
    plan: Plan, geometry: Geometry, reading: CardReading, build_catalogue: CatalogueBuilder
) -> Reckoned:
    """What carrying out *plan* on the card of *reading* and *geometry* leaves free.

    The sizes in *plan* must be exact, and *geometry* must have the folders of ``folders_met``.
    """
    model = Model(geometry, reading.sizes, reading.state.bytes_free)
    sweep(model, reading)  # nothing is left to sweep where that was done before planning
    apply(plan, model, reading, _hollow, build_catalogue, read_back=False)
    return Reckoned(model.free, model.least, model.exact and not reading.cut_short)


def folders_met(plan: Plan, reading: CardReading) -> set[str]:
    """The folders whose entries an update by *plan* may change, the root ("") among them."""
    paths = {*reading.debris, *reading.vacated, *reading.waiting, manifest.INCOMING + "/x"}
    for step in plan.steps:
        paths.add(step.target)
        if step.origin is not None:
            paths.add(step.origin)
    return {"", *folders_of(paths)}


class _Hollow:
    """A file's content of which only the size is known."""

    def __init__(self, size: int) -> None:
        self.size = size

    def chunks(self) -> Iterator[bytes]:
        for _ in range(self.size // CHUNK):
            yield _NOTHING
        if rest := self.size % CHUNK:
            yield _NOTHING[:rest]


@contextlib.contextmanager
def _hollow(placement: Placement) -> Iterator[_Hollow]:
    yield _Hollow(placement.size)


class Model:
    """The Volume port on sizes. It never fails; ``least`` tells whether a real card would."""

    name = "MODEL"

    def __init__(self, geometry: Geometry, sizes: Mapping[str, int], free: int) -> None:
        self.free = free
        self.least = free
        self._system = geometry.system
        self._cluster = geometry.cluster_bytes
        self._sizes: dict[str, tuple[str, int]] = {
            fold(path): (path, size) for path, size in sizes.items()
        }
        self._folders: dict[str, Folder] = {}
        self._spelled: dict[str, str] = {}
        self._held = 0
        self._held_count = 0
        self._gone_exact = True
        for path, seen in geometry.folders.items():
            self._see(path, seen)

    @property
    def exact(self) -> bool:
        """Whether ``free`` is surely what it will be."""
        folders = self._folders.values()
        return (
            self._system.measured and self._gone_exact and all(folder.exact for folder in folders)
        )

    # -- the port ----------------------------------------------------------------------------

    def listing(self) -> Listing:
        found = (FileSeen(path, size) for path, size in self._sizes.values())
        return Listing(sorted(found, key=lambda file: file.path), [])

    def read(self, path: str) -> bytes | None:
        found = self._sizes.get(fold(path))
        return None if found is None else bytes(found[1])

    def chunks(self, path: str) -> Iterator[bytes]:
        found = self._sizes.get(fold(path))
        yield from _Hollow(0 if found is None else found[1]).chunks()

    def forget(self, paths: Collection[str]) -> int:
        return 0

    def size(self, path: str) -> int | None:
        found = self._sizes.get(fold(path))
        return None if found is None else found[1]

    def write(self, path: str, chunks: Iterable[bytes]) -> tuple[int, ContentHash]:
        if self._system.known:
            self.remove(path)  # a file is not cut down there to be written anew
        size = sum(map(len, chunks))
        self._resize(path, size)
        return size, _NO_HASH

    def append(self, path: str, data: bytes) -> None:
        self._resize(path, (self.size(path) or 0) + len(data))

    def rename(self, origin: str, target: str) -> None:
        size = self._sizes.pop(fold(origin))[1]
        self._enter(target)
        self._leave(origin, moved=True)
        self._sizes[fold(target)] = (target, size)

    def remove(self, path: str) -> None:
        found = self._sizes.pop(fold(path), None)
        if found is not None:
            self._leave(found[0])
            self._release(self._clusters(found[1]))

    def remove_empty_folders(self, path: str) -> None:
        while path:
            folder = self._folders.get(fold(path))
            if folder is not None:
                if folder.names:
                    return
                del self._folders[fold(path)]
                self._gone_exact = self._gone_exact and folder.exact
                self._leave(self._spelled.pop(fold(path)))
                self._release(folder.clusters)
            elif fold(path) in self._sizes:
                return
            path = path.rpartition("/")[0]

    def barrier(self) -> None:
        self._take(-self._held)
        self._held = self._held_count = 0

    def trim(self, path: str) -> None:
        return None

    def linked(self, path: str, other: str) -> bool:
        return False

    def space(self) -> Space:
        return Space(self.free, self.free, self._cluster)

    def geometry(self, folders: Iterable[str]) -> Geometry:
        seen = {
            path: FolderSeen(folder.clusters, dict.fromkeys(folder.names))
            for path in folders
            if (folder := self._folders.get(fold(path))) is not None
        }
        return Geometry(self._system, self._cluster, seen)

    # -- inside ------------------------------------------------------------------------------

    def _see(self, path: str, seen: FolderSeen) -> None:
        self._spelled[fold(path)] = path
        folder = Folder.seen(self._system, self._cluster, seen, root=not path)
        self._folders[fold(path)] = folder

    def _clusters(self, size: int) -> int:
        return -(-size // self._cluster)

    def _take(self, clusters: int) -> None:
        self.free -= clusters * self._cluster
        self.least = min(self.least, self.free)

    def _release(self, clusters: int) -> None:
        """Give *clusters* back: at once, or at the next barrier where removed files are held."""
        if not self._system.holds_removed:
            self._take(-clusters)
            return
        if self._held_count >= _MOST_HELD:
            self.barrier()
        self._held += clusters
        self._held_count += 1

    def _resize(self, path: str, size: int) -> None:
        found = self._sizes.get(fold(path))
        if found is None:
            self._enter(path)
            self._take(self._clusters(size))
            self._sizes[fold(path)] = (path, size)
        else:
            self._take(self._clusters(size) - self._clusters(found[1]))
            self._sizes[fold(path)] = (found[0], size)

    def _enter(self, path: str) -> None:
        folder, _, name = path.rpartition("/")
        self._take(self._made(folder).add(name))

    def _made(self, path: str) -> Folder:
        """The folder *path*, made if need be."""
        key = fold(path)
        folder = self._folders.get(key)
        if folder is None:
            above, _, name = path.rpartition("/")
            at = self._made(above)
            folder = Folder(self._system, self._cluster)
            self._take(folder.clusters)
            self._take(at.add(name))
            above_spelled = self._spelled[fold(above)]
            self._spelled[key] = f"{above_spelled}/{name}" if above else name
            self._folders[key] = folder
        return folder

    def _leave(self, path: str, *, moved: bool = False) -> None:
        above, _, name = path.rpartition("/")
        folder = self._folders.get(fold(above))
        names = () if folder is None else (name,) if name in folder else folder.names
        found = next((other for other in names if fold(other) == fold(name)), None)
        if folder is None or found is None:  # the card changed since it was looked at
            self._gone_exact = False
            return
        self._take(folder.remove(found, moved=moved))
