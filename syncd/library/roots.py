"""Which folders can be roots of the library, and which root a person means."""

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from syncd.errors import SetupProblem
from syncd.library.masterfile import shown
from syncd.model import LibraryPath


def new_root(folder: Path, roots: Sequence[LibraryPath]) -> Path:
    """*folder* as it is kept among *roots* (absolute, links resolved).

    Raises SetupProblem when it is no readable folder, or lies inside another root or holds one.
    """
    real = folder.expanduser().resolve()
    if not real.is_dir():
        raise SetupProblem(
            f"{shown(str(folder))} is not a folder; give the folder that holds the music."
        )
    if not os.access(real, os.R_OK | os.X_OK):
        raise SetupProblem(
            f"The folder {shown(str(real))} cannot be read; give the user who runs syncd the "
            "right to read it."
        )
    for known in map(Path, roots):
        if known == real:
            raise SetupProblem(f"{shown(str(real))} is a root of the library already.")
        if known in real.parents:
            raise SetupProblem(
                f"{shown(str(real))} lies inside {shown(str(known))}, which is a root of the "
                "library already; its music is found there."
            )
        if real in known.parents:
            raise SetupProblem(
                f"{shown(str(real))} holds {shown(str(known))}, which is a root of the library "
                "already; remove that one first."
            )
    return real


def root_meant(folder: Path, roots: Sequence[LibraryPath]) -> LibraryPath:
    """The one of *roots* that *folder* names. Raises SetupProblem when it is none."""
    # a root that is away has no real path to resolve
    names = {
        str(Path.cwd() / folder.expanduser()),
        str(folder.expanduser().resolve()),
        str(folder),
    }
    root = next((root for root in roots if root in names), None)
    if root is None:
        listed = ", ".join(shown(root) for root in roots) or "none"
        raise SetupProblem(f"{shown(str(folder))} is not a root of the library. Roots: {listed}.")
    return root


def missing(roots: Iterable[LibraryPath]) -> list[LibraryPath]:
    """Those of *roots* that are not there now, or hold nothing, as an empty mount point does."""
    found = []
    for root in roots:
        try:
            with os.scandir(os.fsencode(root)) as entries:
                if next(entries, None) is not None:
                    continue
        except OSError:
            pass
        found.append(root)
    return found
