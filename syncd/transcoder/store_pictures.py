"""The store's pictures: covers in the forms that players want, each made once.

A picture of which nothing can be made is remembered as an empty file.
"""

import contextlib
from collections.abc import Callable
from pathlib import Path

from syncd.errors import SetupProblem
from syncd.model import ContentHash
from syncd.transcoder.store_files import files_below, hash_and_sync


class StorePictures:
    """The pictures of the store at *folder*; *part* gives names for files being made."""

    def __init__(self, folder: Path, part: Callable[[str], Path]) -> None:
        self._folder = folder
        self._art = folder / "art"
        self._part = part

    def art(
        self, art_hash: ContentHash, form: str, maker: Callable[[], bytes | None]
    ) -> bytes | None:
        """The picture *art_hash* in *form*, made by *maker* the first time.

        *form* names what is made of it, with a suffix ("240.jpg"). None when *maker* finds the
        picture unusable; that is remembered as well. Raises SetupProblem when the disk is full.
        """
        path = self._art / art_hash[:2] / f"{art_hash}_{form}"
        with contextlib.suppress(FileNotFoundError):
            return path.read_bytes() or None
        made = maker()
        part = self._part(".jpg")
        try:
            part.write_bytes(made or b"")
            hash_and_sync(part)
            path.parent.mkdir(exist_ok=True)
            part.replace(path)
        except OSError as error:
            raise SetupProblem(
                f"A picture cannot be kept in the store {self._folder}: {error.strerror}. "
                "Make room there (syncd store trims it), then go on."
            ) from error
        return made

    def useless(self, form: str) -> frozenset[ContentHash]:
        """The pictures of which nothing could be made in *form*."""
        end = f"_{form}"
        return frozenset(
            ContentHash(path.name.removesuffix(end))
            for path in files_below(self._art)
            if path.name.endswith(end) and path.stat().st_size == 0
        )

    def is_useless(self, art_hash: ContentHash, form: str) -> bool:
        """Whether it is known that nothing can be made of the picture *art_hash* in *form*."""
        with contextlib.suppress(OSError):
            return (self._art / art_hash[:2] / f"{art_hash}_{form}").stat().st_size == 0
        return False

    def count(self) -> tuple[int, int]:
        """How many there are, and their bytes."""
        sizes = [path.stat().st_size for path in files_below(self._art)]
        return len(sizes), sum(sizes)

    def clear(self) -> int:
        """Remove all; returns their bytes."""
        freed = 0
        for path in sorted(files_below(self._art)):
            freed += path.stat().st_size
            path.unlink(missing_ok=True)
        return freed
