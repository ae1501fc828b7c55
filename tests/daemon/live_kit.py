"""A daemon as a user starts it, with a home of its own and a program that hands on its notices."""

import json
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import psutil
import soundfile
from update_kit import tag, tone

SECONDS = 120.0
"""What takes longer is stuck."""

ROOT = Path(__file__).resolve().parent.parent.parent


def add_album(music: Path, name: str, tracks: int, first_hz: float, bits: int = 16) -> None:
    """An album of *tracks* short songs, made beside the library and moved in as a rip ends."""
    aside = music.parent / f"making {name}"
    for number in range(1, tracks + 1):
        path = aside / f"{number:02}.flac"
        tone(path, first_hz + 7 * number)
        if bits != 16:
            samples, rate = soundfile.read(path)
            soundfile.write(path, samples, rate, format="FLAC", subtype=f"PCM_{bits}")
        tag(path, artist="Marnesund Five", album=name, title=f"Song {number}", genre="Pop",
            tracknumber=str(number))  # fmt: skip
    aside.rename(music / name)


@dataclass
class Daemon:
    """``syncd run`` with a home of its own, and what it tells."""

    home: Path
    fifo: int
    log: str = ""
    process: "subprocess.Popen[bytes] | None" = None
    rest: bytes = b""
    environment: dict[str, str] = field(default_factory=dict)

    def syncd(self, *arguments: str | Path, status: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "syncd", "--home", str(self.home), *map(str, arguments)],
            capture_output=True,
            text=True,
            timeout=SECONDS,
            cwd=ROOT,
        )
        assert done.returncode == status, done.stdout + done.stderr
        return done.stdout

    def start(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "syncd", "--home", str(self.home), "run"],
            stderr=subprocess.PIPE,
            cwd=ROOT,
            env={**os.environ, **self.environment},
        )

    def notice(self) -> str:
        """The next notice. Raises AssertionError when none comes."""
        deadline = time.monotonic() + SECONDS
        while b"\n" not in self.rest:
            self._wait(deadline)
        line, _, self.rest = self.rest.partition(b"\n")
        return line.decode()

    def scanned(self) -> None:
        """See settings, cards and library at once, as it does by itself after a while."""
        assert self.process is not None
        self.process.send_signal(signal.SIGHUP)

    def workers(self) -> list[psutil.Process]:
        assert self.process is not None
        return psutil.Process(self.process.pid).children()

    def _wait(self, deadline: float) -> None:
        """Until something comes, a notice or a line of the log."""
        assert self.process is not None and self.process.stderr is not None
        log = self.process.stderr.fileno()
        left = deadline - time.monotonic()
        ready, _, _ = select.select([self.fifo, log], [], [], max(0, left))
        assert ready, f"it did not come; the log:\n{self.log}"
        if self.fifo in ready:
            self.rest += os.read(self.fifo, 65536)
        if log in ready:
            more = os.read(log, 65536)
            assert more, f"the daemon ended; the log:\n{self.log}"
            self.log += more.decode()

    def logs(self, text: str) -> None:
        """Wait until the log has *text*."""
        deadline = time.monotonic() + SECONDS
        while text not in self.log:
            self._wait(deadline)

    def until(self, holds: Callable[[], object]) -> None:
        """Wait, looking without a pause, until ``holds()``."""
        deadline = time.monotonic() + SECONDS
        while not holds():
            assert time.monotonic() < deadline, self.log
            assert self.process is not None and self.process.poll() is None, self.log

    def stop(self, *statuses: int) -> float:
        """End it by SIGTERM; returns how many seconds that took."""
        assert self.process is not None
        begun = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        _, err = self.process.communicate(timeout=SECONDS)
        self.log += err.decode()
        assert self.process.returncode in (statuses or (0,)), self.log
        return time.monotonic() - begun


@contextmanager
def living(tmp_path: Path) -> Iterator[Daemon]:
    """A daemon that can be started, with settings and a way to hear its notices."""
    home = tmp_path / "home"
    home.mkdir()
    fifo = tmp_path / "notices"
    os.mkfifo(fifo)
    tell = tmp_path / "tell"
    tell.write_text('#!/bin/sh\nprintf "%s | %s\\n" "$2" "$3" > "$1"\n')
    tell.chmod(0o755)
    command = json.dumps([str(tell), str(fifo)])
    (home / "syncd.toml").write_text(f"notice_command = {command}\nsettle_seconds = 1\n")
    made = Daemon(home, os.open(fifo, os.O_RDWR | os.O_NONBLOCK))
    try:
        yield made
    finally:
        if made.process is not None:
            for worker in made.workers() if made.process.poll() is None else []:
                worker.kill()
            made.process.kill()
            made.process.wait()
            assert made.process.stderr is not None
            made.process.stderr.close()
        os.close(made.fifo)


def on_card(card: Path) -> dict[str, bytes]:
    """Every file but for the identity and the slot's letter and record (I3)."""
    found = {}
    for path in card.rglob("*"):
        shown = path.relative_to(card).as_posix()
        if path.is_file() and shown != "SYNCD/card.json" and not shown.endswith(".rec"):
            found[shown.replace("cat-b.db", "cat-a.db")] = path.read_bytes()
    return found
