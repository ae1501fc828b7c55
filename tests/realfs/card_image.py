"""A card's image as a player's firmware reads it: the reading half of the Volume port.

What a file system's own reader (``fat_image``, ``exfat_image``) adds is which names there are, and
which clusters are theirs.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass

from syncd.applier.volume import FileSeen, Listing, Space
from syncd.errors import CardProblem


class BrokenChain(CardProblem):
    """A file or folder whose clusters are not all there."""


@dataclass(frozen=True, slots=True)
class Found:
    """A directory entry: path, whether it is a folder, first cluster, size in bytes.

    ``in_a_row``: its clusters lie one behind the other, and the table has nothing of them.
    """

    path: str
    folder: bool
    cluster: int
    size: int
    in_a_row: bool = False


class CardImage(ABC):
    """What is in the names that a file system's reader found in an image."""

    def __init__(self, name: str, cluster_bytes: int) -> None:
        self.name = name
        self.cluster = cluster_bytes
        self.folders: list[str] = []
        self.broken: list[str] = []
        self._found: dict[str, Found] = {}

    def listing(self) -> Listing:
        return Listing(self.files(), self.empty_folders())

    def files(self) -> list[FileSeen]:
        seen = [FileSeen(entry.path, entry.size) for entry in self._found.values()]
        return sorted(seen, key=lambda file: file.path)

    def empty_folders(self) -> list[str]:
        taken = [*self._found, *self.folders]
        return sorted(
            folder
            for folder in self.folders
            if not any(path.startswith(folder + "/") for path in taken)
        )

    def size(self, path: str) -> int | None:
        found = self._found.get(path)
        return None if found is None else found.size

    def read(self, path: str) -> bytes | None:
        return b"".join(self.chunks(path)) if path in self._found else None

    def chunks(self, path: str) -> Iterator[bytes]:
        found = self._found.get(path)
        if found is None:
            raise CardProblem(f"Could not read card {self.name} ({path}): no such file.")
        left = found.size
        for cluster in self._chain(found) if left else ():
            if left <= 0:
                return
            yield self._bytes(cluster)[:left]
            left -= self.cluster
        if left > 0:
            raise BrokenChain(f"The clusters of {path} end before its size.")

    def in_order(self) -> list[str]:
        """The paths of all files, each folder's in the order of its entries."""
        return list(self._found)

    @abstractmethod
    def space(self) -> Space:
        """Free and all bytes, by the table or bitmap of clusters."""

    @abstractmethod
    def _chain(self, found: Found) -> Iterator[int]:
        """The clusters of *found*. Raises BrokenChain."""

    @abstractmethod
    def _bytes(self, cluster: int) -> bytes:
        """What is in a cluster."""

    @abstractmethod
    def _entries(self, data: bytes, prefix: str) -> Iterator[Found]:
        """The files and folders in a folder's *data*, whose paths begin with *prefix*."""

    def _take(self, found: Found, depth: int) -> None:
        """Note *found*, and what is below it."""
        if depth > 40:
            raise BrokenChain(f"The folders in {found.path} go round.")
        if not found.folder:
            self._found.setdefault(found.path, found)
            return
        if found.path:
            self.folders.append(found.path)
        try:
            data = b"".join(self._bytes(part) for part in self._chain(found))
        except BrokenChain:
            self.broken.append(found.path)
            return
        for entry in self._entries(data, f"{found.path}/" if found.path else ""):
            self._take(entry, depth + 1)
