"""Opening master files: read-only, regular files only, and problems told as sentences.

Every file of the library that syncd reads is opened here, so that one place keeps the promise that
the master is never written to. What stands in the files is for other modules.
"""

import io
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO

from syncd.errors import ItemProblem

_FLAGS = os.O_RDONLY | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOCTTY", 0)
_NO_WAIT = getattr(os, "O_NONBLOCK", 0)


def shown(path: str | bytes) -> str:
    """*path* as text that can be printed and stored: bytes that are not UTF-8 become U+FFFD."""
    raw = path if isinstance(path, bytes) else os.fsencode(path)
    return raw.decode("utf-8", "replace")


class OpeningProblem(ItemProblem):
    """A file could not be opened or read for a reason outside its content.

    The next scan tries again even if size and time have not changed.
    """


def opening_problem(path: str, error: OSError) -> OpeningProblem:
    """The sentence for an OSError met while opening or reading *path*."""
    cause = error.strerror or type(error).__name__
    remedy = "see whether its disk is there and healthy"
    if isinstance(error, PermissionError):
        remedy = "give the user who runs syncd the right to read it"
    elif isinstance(error, FileNotFoundError):
        remedy = "it went away meanwhile; scan again when it is back"
    return OpeningProblem(shown(path), f"{shown(path)} cannot be read ({cause}): {remedy}.")


@contextmanager
def open_master(path: str) -> Iterator[tuple[BinaryIO, int]]:
    """Open the regular file *path* for reading; yields (file, size in bytes).

    Raises ItemProblem for everything that is not a regular file, and for every OSError inside the
    block. A pipe or device under an audio name is not waited for.
    """
    try:
        descriptor = os.open(path, _FLAGS | _NO_WAIT)
        with io.open(descriptor, "rb", buffering=io.DEFAULT_BUFFER_SIZE) as file:  # noqa: UP020
            status = os.fstat(file.fileno())
            if not stat.S_ISREG(status.st_mode):
                raise ItemProblem(
                    shown(path),
                    f"{shown(path)} is not a regular file but a folder, pipe or device; "
                    "replace it by the audio file itself.",
                )
            yield file, status.st_size
    except OSError as error:
        raise opening_problem(path, error) from error
    except ValueError as error:
        # os.open refuses a NUL in a name this way; a wrong seek in a broken file ends here too
        raise ItemProblem(
            shown(path), f"{shown(path)} cannot be read ({error}); copy it again from its source."
        ) from error
