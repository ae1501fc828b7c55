"""The daemon's ear: a local socket that only its user can open. One line of JSON in, one out.

It lives in the keeper's loop and never waits: a client that is slow, silent or talks nonsense is
let go after a while, and holds up nobody. What can be asked:

``{"do": "status"}``            what ``syncd status --json`` prints
``{"do": "look"}``              see what a command changed: cards, settings, errata, the index
``{"do": "rescan"}``            the same, and scan the library
``{"do": "update", "card": C}`` update this card now, also one that waits to be asked for
``{"do": "pause"}``             stop at a safe point and begin nothing; ``resume`` goes on
``{"do": "give way"}``          stop at a safe point and let a command have the lock; answered then
``{"do": "stop"}``              end the daemon

An answer has ``"ok"``: true, or false with a ``message``. The rest of the daemon does not know that
it is asked: this calls the keeper as any other caller would.
"""

import contextlib
import logging
import select
import socket
import stat
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Protocol

import msgspec

from syncd import __version__
from syncd.daemon.asking import may_talk, peer_uid, private, run_folder, short_address, socket_file
from syncd.daemon.loop import Loop, Timer
from syncd.daemon.state import State
from syncd.errors import SetupProblem, SyncdError
from syncd.settings import Home
from syncd.utf8 import for_json

PATIENCE_S = 10.0
"""So long may a client take to ask, and then again to take the answer."""

LARGEST_QUESTION = 1 << 16
MOST_CLIENTS = 32

_log = logging.getLogger("syncd.daemon")
Reply = Callable[[dict[str, Any]], None]


class Asked(Protocol):
    """What is asked of the keeper."""

    @property
    def state(self) -> State:
        """What it is doing."""
        ...

    def look_round(self) -> None:
        """See what was changed at home."""
        ...

    def refresh(self) -> None:
        """Scan, and look round."""
        ...

    def update_card(self, card: str, /) -> str:
        """Update *card* now; the name of it. Raises SyncdError."""
        ...

    def pause(self, wanted: bool) -> None:
        """Begin nothing, or go on."""
        ...

    def give_way(self, given: Callable[[], None]) -> None:
        """Let a command have the lock."""
        ...

    def stop(self) -> None:
        """End."""
        ...


@dataclass(slots=True, eq=False)
class _Client:
    connection: socket.socket
    late: Timer
    got: bytes = b""
    answer: bytes | None = None
    waiting: bool = False


class Control:
    """Listens until :meth:`close`. Only a home's only daemon may make one (``only_daemon``).

    Raises SetupProblem when the socket cannot be made.
    """

    def __init__(self, loop: Loop, home: Home, keeper: Asked) -> None:
        self._loop = loop
        self._keeper = keeper
        self._clients: set[_Client] = set()
        self._path = socket_file(home)
        private(run_folder(home))
        self._listener = self._listen()
        facts = self._path.lstat()
        self._ours = (facts.st_dev, facts.st_ino)
        loop.attend(self._listener.fileno(), self._accept)

    def close(self) -> None:
        """Listen no more; the socket's file goes, unless it is another one by now."""
        self._loop.forget(self._listener.fileno())
        for client in list(self._clients):
            self._drop(client)
        self._listener.close()
        with contextlib.suppress(OSError):
            facts = self._path.lstat()
            if (facts.st_dev, facts.st_ino) == self._ours:
                self._path.unlink()

    def _listen(self) -> socket.socket:
        listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            with contextlib.suppress(FileNotFoundError):
                # Its owner is gone: we hold the lock that there is one of for each home.
                if not stat.S_ISSOCK(self._path.lstat().st_mode):
                    raise SetupProblem(
                        f"{self._path} is in the way of the daemon's socket. Remove it."
                    )
                self._path.unlink()
            with short_address(self._path) as address:
                listener.bind(address)
            self._path.chmod(0o600)
            listener.listen(MOST_CLIENTS)
            listener.setblocking(False)
        except OSError as error:
            listener.close()
            raise SetupProblem(
                f"The daemon's socket {self._path} cannot be made: {error.strerror or error}. Put "
                "the state on a file system that can hold sockets (--state)."
            ) from error
        except SetupProblem:
            listener.close()
            raise
        return listener

    def _accept(self, _events: int) -> None:
        try:
            connection, _ = self._listener.accept()
        except (BlockingIOError, InterruptedError, ConnectionAbortedError):
            return
        except OSError as error:  # no descriptors left: asking poll again at once would spin
            _log.warning("A question to the daemon cannot be heard: %s.", error.strerror)
            fd = self._listener.fileno()
            self._loop.forget(fd)
            self._loop.after(1.0, partial(self._attend_again, fd))
            return
        connection.setblocking(False)
        if not may_talk(peer_uid(connection)):
            _log.warning("Another user tried to talk to the daemon, and was sent away.")
            connection.close()
            return
        if len(self._clients) >= MOST_CLIENTS:
            connection.close()
            return
        client = _Client(connection, Timer(lambda: None))
        client.late = self._loop.after(PATIENCE_S, lambda: self._drop(client))
        self._clients.add(client)
        self._loop.attend(connection.fileno(), lambda events: self._read(client))

    def _attend_again(self, fd: int) -> None:
        if self._listener.fileno() == fd:
            self._loop.attend(fd, self._accept)

    def _read(self, client: _Client) -> None:
        try:
            more = client.connection.recv(1 << 14)
        except (BlockingIOError, InterruptedError):
            return
        except OSError:
            more = b""
        if not more:
            self._drop(client)
            return
        if client.waiting:
            return  # it has asked already, and what else it says is not heard
        client.got += more
        line, end, _ = client.got.partition(b"\n")
        if end:
            client.waiting = True
            client.late.cancel()  # from now on it is the daemon that takes its time
            self._answer(line, partial(self._reply, client))
        elif len(client.got) > LARGEST_QUESTION:
            client.waiting = True
            self._reply(client, _no("That question is too long."))

    def _answer(self, line: bytes, reply: Reply) -> None:
        try:
            question = msgspec.json.decode(line, type=dict[str, Any])
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            reply(_no("That is no line of JSON with an object in it."))
            return
        do = question.get("do")
        try:
            self._do(do, question, reply)
        except SyncdError as problem:
            reply(_no(str(problem)))
        except Exception:
            reply(_no("A fault in syncd itself; the daemon's log has it."))
            raise

    def _do(self, do: object, question: dict[str, Any], reply: Reply) -> None:
        if do == "status":
            reply({"ok": True, "version": __version__, **self._keeper.state.as_json()})
        elif do == "look":
            self._keeper.look_round()
            reply({"ok": True})
        elif do == "rescan":
            self._keeper.refresh()
            reply({"ok": True})
        elif do == "update":
            card = question.get("card")
            if not isinstance(card, str) or not card:
                raise SetupProblem("Say which card: its name, its id or where it is.")
            reply({"ok": True, "card": self._keeper.update_card(card)})
        elif do in ("pause", "resume"):
            self._keeper.pause(do == "pause")
            reply({"ok": True})
        elif do == "give way":
            self._keeper.give_way(lambda: reply({"ok": True}))
        elif do == "stop":
            reply({"ok": True})
            self._keeper.stop()
        else:
            raise SetupProblem(
                "The daemon can be asked for: status, look, rescan, update, pause, resume, "
                "give way, stop. Is it of another version than this program? Then start it anew."
            )

    def _reply(self, client: _Client, answer: dict[str, Any]) -> None:
        if client not in self._clients or client.answer is not None:
            return
        client.late.cancel()
        client.late = self._loop.after(PATIENCE_S, lambda: self._drop(client))
        client.answer = msgspec.json.encode(for_json(answer)) + b"\n"
        self._loop.attend(
            client.connection.fileno(), lambda events: self._write(client), select.POLLOUT
        )
        self._write(client)  # most often all of it goes at once, also just before the daemon ends

    def _write(self, client: _Client) -> None:
        if client not in self._clients or client.answer is None:
            return
        try:
            sent = client.connection.send(client.answer)
        except (BlockingIOError, InterruptedError):
            return
        except OSError:
            sent = len(client.answer)
        client.answer = client.answer[sent:]
        if not client.answer:
            self._drop(client)

    def _drop(self, client: _Client) -> None:
        client.late.cancel()
        if client in self._clients:
            self._clients.remove(client)
            self._loop.forget(client.connection.fileno())
            client.connection.close()


def _no(message: str) -> dict[str, Any]:
    return {"ok": False, "message": message}
