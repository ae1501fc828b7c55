"""Asking the daemon: the client's side of its local socket. What it can be asked is ``control``.

One line of JSON goes in, one comes out. The socket lies in a folder that only its owner can enter;
where the system tells who is at the other end (Linux, macOS), both sides look.
"""

import contextlib
import os
import socket
import stat
import struct
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from syncd.errors import SetupProblem
from syncd.settings import Home

LONGEST_ADDRESS = 100
"""Bytes. ``sun_path`` has room for 108 on Linux and 104 on macOS, an end mark included."""

LARGEST_ANSWER = 1 << 24
PATIENCE_S = 5.0

_LOCAL_PEERCRED = 1  # sys/un.h of macOS and the BSDs; struct xucred is version, uid, ...


class NoDaemon(SetupProblem):
    """No daemon runs for this home."""


class NoAnswer(SetupProblem):
    """The daemon seems to run, but does not answer as it should."""


class Refused(SetupProblem):
    """The daemon understood, and says why it does not do that."""


def run_folder(home: Home) -> Path:
    """The folder of the socket."""
    return home.state / "run"


def socket_file(home: Home) -> Path:
    """Where the daemon of *home* listens."""
    return run_folder(home) / "control"


@contextlib.contextmanager
def short_address(path: Path) -> Iterator[str]:
    """*path* as an address that is not too long for a socket: by a link to its folder if need be.

    The link is needed only while binding or connecting.
    """
    if len(os.fsencode(path)) <= LONGEST_ADDRESS:
        yield str(path)
        return
    with tempfile.TemporaryDirectory(prefix="syncd-") as folder:
        link = Path(folder) / "run"
        link.symlink_to(path.parent, target_is_directory=True)
        yield str(link / path.name)


def peer_uid(connection: socket.socket) -> int | None:
    """Who is at the other end; None where the system does not tell."""
    if sys.platform.startswith("linux"):
        size = struct.calcsize("3i")  # struct ucred: pid, uid, gid; unix(7)
        told = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, size)
        return int(struct.unpack("3i", told)[1])
    if sys.platform == "darwin" or "bsd" in sys.platform:
        told = connection.getsockopt(0, _LOCAL_PEERCRED, 128)
        return int(struct.unpack_from("=II", told)[1])
    return None


def may_talk(uid: int | None) -> bool:
    """Whether *uid* is the owner of this process, or root, who can do everything anyway."""
    return uid is None or uid in (os.getuid(), 0)


def private(folder: Path) -> None:
    """Make *folder* so that only we can enter it. Raises SetupProblem where that is not so."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        facts = folder.lstat()
        if not stat.S_ISDIR(facts.st_mode) or facts.st_uid != os.getuid():
            raise SetupProblem(
                f"{folder} is not a folder of your own, so the daemon cannot be reached through "
                "it. Remove it; the daemon makes it anew."
            )
        if facts.st_mode & 0o077:
            folder.chmod(0o700)
    except OSError as error:
        raise SetupProblem(
            f"The folder {folder} cannot be made: {error.strerror}. Make its parent writable."
        ) from error


def ask(home: Home, do: str, patience_s: float = PATIENCE_S, **more: Any) -> dict[str, Any]:
    """Ask the daemon of *home* for *do*; its answer.

    Raises NoDaemon when none runs, NoAnswer when it does not answer in time, Refused when it will
    not.
    """
    deadline = time.monotonic() + patience_s
    path = socket_file(home)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(patience_s)
        try:
            with short_address(path) as address:
                connection.connect(address)
        except (FileNotFoundError, ConnectionRefusedError) as error:
            raise NoDaemon(
                f"The daemon does not run for {home.state}. Start it with 'syncd run', or for good "
                "with 'syncd service install'."
            ) from error
        except OSError as error:
            raise NoAnswer(
                f"The daemon cannot be reached at {path}: {error.strerror or error}. Start it anew."
            ) from error
        if not may_talk(peer_uid(connection)):
            raise NoAnswer(f"{path} belongs to another user's program. Remove it.")
        try:
            connection.sendall(msgspec.json.encode({"do": do, **more}) + b"\n")
            line = _line(connection, deadline)
            answer = msgspec.json.decode(line, type=dict[str, Any])
        except (OSError, msgspec.DecodeError) as error:
            what = f"broke off its answer ({error})"
            if isinstance(error, TimeoutError):
                what = f"did not answer within {patience_s:.0f} s"
            raise NoAnswer(f"The daemon {what}. If that lasts, start it anew.") from error
    if not answer.get("ok"):
        raise Refused(str(answer.get("message", "The daemon refused without saying why.")))
    return answer


def _line(connection: socket.socket, deadline: float) -> bytes:
    got = b""
    while not got.endswith(b"\n"):
        connection.settimeout(max(0.001, deadline - time.monotonic()))
        more = connection.recv(1 << 16)
        if not more or len(got) > LARGEST_ANSWER:
            raise ConnectionError("no whole line came")
        got += more
    return got
