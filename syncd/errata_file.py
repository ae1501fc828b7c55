"""The errata file at home: read, and added to so that nothing in it is ever lost.

Who adds waits for whoever is adding, reads the file again, and puts the new text in place whole
(written beside it, flushed, renamed). What an entry means is the works engine's.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from syncd.errors import SetupProblem
from syncd.settings import Home
from syncd.works.errata import Errata, add_entry, read_errata
from syncd.works.selectors import Patterns


def errata_text(home: Home) -> str | None:
    """The text of the errata file as it is, line ends and all; None where there is no file.

    Raises SetupProblem when it cannot be read.
    """
    path = home.errata_file
    try:
        return path.read_bytes().decode("utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise SetupProblem(
            f"The errata {path} cannot be read: {error.strerror}. Give the user who runs syncd "
            "the right to read it."
        ) from error
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise SetupProblem(
            f"{path}, line {line}: this is not UTF-8. Save the file in UTF-8."
        ) from error


def read_corrections(home: Home) -> Errata | None:
    """The listener's errata, None where there are none. Raises SetupProblem for a faulty entry."""
    text = errata_text(home)
    return None if text is None else read_errata(text, str(home.errata_file))


def add_correction(
    home: Home, selectors: Mapping[str, Patterns], values: Mapping[str, object]
) -> int:
    """Add an entry at the end of the errata file, and return the line it begins on.

    The file keeps its mode; where it is a link, what it leads to is written. Raises SetupProblem
    when the file is faulty or cannot be written: then it is as it was.
    """
    with _alone(home):
        before = errata_text(home) or ""
        after = add_entry(before, selectors, values, str(home.errata_file))
        line = read_errata(after).entries[-1].line
        try:
            _put(home.errata_file.resolve(), after)
        except OSError as error:
            raise SetupProblem(
                f"The errata {home.errata_file} cannot be written: {error.strerror}. It is as it "
                "was. Make its folder writable, or make room, and try again."
            ) from error
    return line


@contextlib.contextmanager
def _alone(home: Home) -> Iterator[None]:
    """Be the only one that adds. Adding takes an instant, so the next one waits."""
    descriptor = home.lock_file("errata.lock")
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _put(path: Path, text: str) -> None:
    """Make *text* the contents of *path*: all of it, or the old contents stay."""
    aside = path.with_name(f"{path.name}.new")
    try:
        with aside.open("wb") as file:
            if path.exists():
                os.fchmod(file.fileno(), path.stat().st_mode & 0o7777)
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        aside.replace(path)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    with contextlib.suppress(OSError):  # the name is in place; only its survival is asked for here
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
