"""Where things are at home. The one module that reads the environment.

Flag beats environment beats file beats default. With ``--home DIR`` or ``SYNCD_HOME`` everything
is under one folder, so that tests and demos touch nothing of the listener's.
"""

import contextlib
import fcntl
import os
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from syncd.errors import SetupProblem

if TYPE_CHECKING:
    from syncd.settings_file import Settings

APP = "syncd"

_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""What numpy's libraries of linear algebra read when they are loaded."""


@dataclass(frozen=True, slots=True)
class Home:
    """The places at home. Folders are made when something is put there."""

    settings_file: Path
    state: Path
    store: Path

    @property
    def index_file(self) -> Path:
        """The library index."""
        return self.state / "library.db"

    @property
    def cards(self) -> Path:
        """The folder of card records."""
        return self.state / "cards"

    @property
    def errata_file(self) -> Path:
        """The listener's corrections."""
        return self.state / "errata.toml"

    def settings(self) -> "Settings":
        """The settings; defaults where there is no file. Raises SetupProblem for a faulty one."""
        from syncd.settings_file import read_settings  # checking costs more than a quiet scan

        return read_settings(self.settings_file)

    def made(self) -> "Home":
        """The same, with its state folder made. Raises SetupProblem when that cannot be."""
        try:
            self.cards.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise SetupProblem(
                f"The folder {self.state} cannot be made: {error.strerror}. Choose another place "
                "with --home, --state or SYNCD_STATE."
            ) from error
        return self

    @contextlib.contextmanager
    def only_writer(self) -> Iterator[None]:
        """Be the only syncd that changes anything at home. Raises SetupProblem if another is."""
        fd = self.try_lock()
        if fd is None:
            raise SetupProblem(
                f"Another syncd is at work with {self.state}. Wait until it has finished, "
                "then try again."
            )
        try:
            yield
        finally:
            os.close(fd)

    def try_lock(self) -> int | None:
        """The lock of the only writer as a descriptor, to be closed; None if another has it.

        A process that inherits the descriptor holds the lock as well. Raises SetupProblem.
        """
        fd = self.lock_file("lock")
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(fd)
            return None
        return fd

    def lock_file(self, name: str) -> int:
        """The file *name* in the state folder, made if need be, as a descriptor to be locked.

        Raises SetupProblem when it cannot be made.
        """
        path = self.made().state / name
        try:
            return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as error:
            raise SetupProblem(
                f"The lock {path} cannot be made: {error.strerror}. Make that folder writable, or "
                "choose another place with --home, --state or SYNCD_STATE."
            ) from error


def find_home(
    home: str | None = None,
    settings: str | None = None,
    state: str | None = None,
    store: str | None = None,
    environment: Mapping[str, str] | None = None,
) -> Home:
    """The places at home, from flags (arguments), then the environment, then the platform's custom.

    Variables: SYNCD_HOME, SYNCD_SETTINGS, SYNCD_STATE, SYNCD_STORE.
    """
    env = os.environ if environment is None else environment
    home = home or env.get("SYNCD_HOME") or None
    if home is not None:
        under = Path(home).expanduser().absolute()
        found = Home(under / "syncd.toml", under / "state", under / "store")
    else:
        found = Home(
            Path(platformdirs.user_config_dir(APP)) / "syncd.toml",
            Path(platformdirs.user_data_dir(APP)),
            Path(platformdirs.user_cache_dir(APP)) / "store",
        )

    def chosen(flag: str | None, variable: str, default: Path) -> Path:
        text = flag or env.get(variable)
        return Path(text).expanduser().absolute() if text else default

    return Home(
        chosen(settings, "SYNCD_SETTINGS", found.settings_file),
        chosen(state, "SYNCD_STATE", found.state),
        chosen(store, "SYNCD_STORE", found.store),
    )


@dataclass(frozen=True, slots=True)
class Supervision:
    """What a service manager says to a program of its own: sd_notify(3), systemd.exec(5)."""

    notify_socket: str = ""
    watchdog_s: float | None = None
    journal_stream: str = ""


def supervision(environment: Mapping[str, str] | None = None, pid: int = 0) -> Supervision:
    """What the service manager says to the process *pid* (this one); empty where there is none."""
    env = os.environ if environment is None else environment
    ours = env.get("WATCHDOG_PID") in (None, str(pid or os.getpid()))
    microseconds = env.get("WATCHDOG_USEC", "")
    return Supervision(
        env.get("NOTIFY_SOCKET", ""),
        int(microseconds) / 1e6 if ours and microseconds.isdecimal() else None,
        env.get("JOURNAL_STREAM", ""),
    )


def calculate_in_one_thread() -> None:
    """Keep numpy, once it is loaded, from starting threads, unless the environment says how many.

    There is one pressing a core already; threads for matrices of some kilobytes only cost.
    """
    for name in _ONE_THREAD:
        os.environ.setdefault(name, "1")


def put_temporary_files(folder: Path) -> None:
    """Have this process and what it starts keep in *folder* what they need for a moment.

    SQLite asks ``SQLITE_TMPDIR`` first (sqlite.org/tempfiles.html), others ``TMPDIR`` (POSIX).
    """
    os.environ["TMPDIR"] = os.environ["SQLITE_TMPDIR"] = str(folder)
    tempfile.tempdir = None
