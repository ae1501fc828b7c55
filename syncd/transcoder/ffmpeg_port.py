"""The port to ffmpeg: finds it, runs it, and turns its failures into sentences.

Every run is fenced in: no standard input, no protocol but file and pipe, the demuxer chosen by us
and not by the file and no other within it, lowered priority, a limit of time and (on Linux) of
memory, and a process group that can be ended as a whole. What is to be done (graphs, encoders) is
the callers' affair; they build it with ffmpeg-python from :func:`source` and hand it to
:meth:`Ffmpeg.run`.
"""

import contextlib
import fcntl
import os
import re
import resource
import shutil
import signal
import subprocess
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ffmpeg

from syncd.errors import ItemProblem, SetupProblem
from syncd.utf8 import printable

DEMUXERS = {
    "flac": "flac",
    "mp3": "mp3",
    "mp4": "mov",
    "ogg": "ogg",
    "wav": "wav",
    "aiff": "aiff",
    "wavpack": "wv",
    "aac": "aac",
    "tta": "tta",
    "ape": "ape",
    "asf": "asf",
    "dsf": "dsf",
    "dff": "iff",
}
"""What reads each container. Forced, so that a playlist called .flac opens no other file."""

_CHECKED = frozenset({"ape", "tta"})
"""Containers whose frames have checksums that are compared only when asked for."""

NICENESS = 10
MEMORY_BYTES = 1 << 30
"""What one ffmpeg may take for data. A run that resamples and encodes stereo works within 96 MiB; a
damaged or hostile file can make a demuxer ask for any amount."""

_PIPE_BYTES = 1 << 20
_TAIL_LINES = 400
_LINE_END = re.compile(rb"[\r\n]+")
_CHATTER = re.compile(
    r"size=|frame=|video:|\s|Input #|Output #|Stream mapping|Press \[|Metadata:"
    r"|Consider increasing|Nothing was written|Conversion failed|Error opening input file"
    r"|Task finished|Terminating thread|Could not open encoder before EOF|Cannot determine format"
    r"|ffmpeg stats and -progress|n_samples|mean_volume|max_volume|histogram_|Qavg"
)
_NO_MEMORY = re.compile(
    r"cannot allocate memory|out of memory|bad_alloc|memory allocation"
    r"|pthread_create\(\) failed: resource temporarily",
    re.IGNORECASE,
)
_SPEAKER = re.compile(r"^(\[[^\]]*\]\s*)+")


@dataclass(frozen=True, slots=True)
class Feed:
    """Who takes what a run writes to its standard output: ``take`` gets *piece_bytes* at a time.

    Only the last piece may be shorter. The piece is overwritten after ``take`` comes back.
    """

    take: Callable[[memoryview], None]
    piece_bytes: int


class Stopped(Exception):
    """The run was ended because everything shall stop."""


@dataclass(frozen=True, slots=True)
class Run:
    """What a finished run said: its last lines on stderr, and its standard output."""

    lines: tuple[str, ...]
    stdout: bytes


def find_ffmpeg(configured: str | None = None) -> str:
    """The ffmpeg to use: the one from the settings, else the one that imageio-ffmpeg brings.

    Raises SetupProblem when there is none, or the one from the settings is another program: all
    masters would be told to hold no audio. Either is started once to see that.
    """
    if configured:
        found = shutil.which(configured)
        if found is None:
            raise SetupProblem(
                f"The settings name '{configured}' as ffmpeg, but there is no such program. "
                "Correct the path, or leave the setting out to use the one that came with syncd."
            )
        if Ffmpeg(found).version() == "unknown":
            raise SetupProblem(
                f"The settings name '{configured}' as ffmpeg, but it does not answer as ffmpeg "
                "does. Correct the path, or leave the setting out to use the one that came with "
                "syncd."
            )
        return found
    import imageio_ffmpeg

    try:
        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except RuntimeError as error:
        raise SetupProblem(
            "No ffmpeg was found: the package imageio-ffmpeg brings none for this machine. "
            "Install ffmpeg and name it in the settings."
        ) from error


def source(path: str, container: str, **options: object) -> Any:
    """The master file *path* as an ffmpeg-python input, fenced in as the module says.

    *path* may hold surrogate escapes: the name reaches ffmpeg as the bytes that it is. Raises
    ItemProblem for a container that syncd does not know.
    """
    demuxer = DEMUXERS.get(container)
    if demuxer is None:
        raise ItemProblem(path, f"There is no reader for files of the kind '{container}'.")
    if container in _CHECKED:
        options["err_detect"] = "crccheck"
    return ffmpeg.input(
        file_address(path),
        f=demuxer,
        format_whitelist=demuxer,
        protocol_whitelist="file,pipe",
        threads=1,
        **options,
    )


def file_address(path: str | Path) -> str:
    """*path* as a graph may hold it: ffmpeg-python takes text only, so each byte is a letter.

    :meth:`Ffmpeg.run` turns it back into the bytes. After ``file:`` nothing in a name is special.
    """
    return "file:" + os.fsencode(path).decode("latin-1")


class Ffmpeg:
    """Runs ffmpeg. May be used from several threads; :meth:`stop` ends all that runs.

    Without *executable* it is the one that syncd brings, looked for at the first run; that raises
    SetupProblem if there is none.
    """

    def __init__(
        self,
        executable: str | None = None,
        *,
        niceness: int = NICENESS,
        memory_bytes: int = MEMORY_BYTES,
    ) -> None:
        self._executable = executable
        self._niceness = niceness
        self._memory_bytes = memory_bytes
        self._running: set[subprocess.Popen[bytes]] = set()
        self._lock = threading.Lock()
        self._stopped = False
        self._version: str | None = None

    @property
    def executable(self) -> str:
        """The program. Raises SetupProblem."""
        if self._executable is None:
            self._executable = find_ffmpeg()
        return self._executable

    def run(
        self,
        outputs: Any,
        *,
        item: str,
        limit_s: float,
        want_stdout: bool = False,
        into: "Feed | None" = None,
        heard: Callable[[str], None] | None = None,
    ) -> Run:
        """Run the graph that ends in *outputs* (an ffmpeg-python stream).

        What it writes to ``pipe:1`` goes to *into* while it runs, in pieces of whole frames; or,
        with *want_stdout*, the first of it into the answer. *heard* gets each line that it says,
        from another thread.
        Raises ItemProblem about *item*, with ffmpeg's last words, when it fails or takes longer
        than *limit_s* seconds, and Stopped after :meth:`stop`.
        """
        head = [self.executable, "-nostdin", "-hide_banner", "-y", "-stats_period", "1"]
        # Statistics once a second have a use that does not show: if syncd is killed, the next
        # line goes to a broken pipe and ends the orphan.
        words = [
            word.encode("latin-1") if word.startswith("file:") else os.fsencode(word)
            for word in ffmpeg.compile(outputs, cmd=head)
        ]
        return self._run(words, item, limit_s, want_stdout, into, heard)

    def version(self) -> str:
        """The version that the program tells; "unknown" if it tells none."""
        if self._version is None:
            try:
                told = subprocess.run(
                    [self.executable, "-version"],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    timeout=60,
                    check=False,
                ).stdout.decode("utf-8", "replace")
            except (OSError, subprocess.SubprocessError):
                told = ""
            found = re.match(r"ffmpeg version (\S+)", told)
            self._version = found[1] if found else "unknown"
        return self._version

    def another(self) -> "Ffmpeg":
        """One of the same kind that is stopped by itself."""
        made = Ffmpeg(self.executable, niceness=self._niceness, memory_bytes=self._memory_bytes)
        made._version = self._version
        return made

    def stop(self) -> None:
        """End every run at once; later ones do not start."""
        with self._lock:
            self._stopped = True
            running = tuple(self._running)
        for process in running:
            _kill_group(process)

    def _start(self, command: list[bytes], want_stdout: bool, item: str) -> subprocess.Popen[bytes]:
        with self._lock:
            if self._stopped:
                raise Stopped
            try:
                process = subprocess.Popen(
                    command,
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.PIPE if want_stdout else subprocess.DEVNULL,
                    stderr=subprocess.PIPE,
                    start_new_session=True,  # a group of its own, and no Ctrl-C of the terminal
                )
            except ValueError as error:  # a NUL in the path
                raise ItemProblem(item, f"{printable(item)} cannot be opened: {error}.") from error
            except OSError as error:
                raise SetupProblem(
                    f"ffmpeg ({self.executable}) does not start: {error.strerror}. "
                    "Name a working one in the settings."
                ) from error
            self._running.add(process)
        # From outside: code that runs between fork and exec is unsafe with threads. What it takes
        # before this line is its own code. Address space would be no measure: threads reserve it.
        with contextlib.suppress(OSError, ValueError, AttributeError):
            limit = (self._memory_bytes, self._memory_bytes)
            resource.prlimit(process.pid, resource.RLIMIT_DATA, limit)
        # By the group, as children and threads started later inherit it.
        with contextlib.suppress(OSError, AttributeError):
            ours = os.getpriority(os.PRIO_PROCESS, 0)
            os.setpriority(os.PRIO_PROCESS, process.pid, max(ours, self._niceness))
        # Its threads hand each other frame after frame. As a batch none of them breaks in on
        # another for that: far fewer switches, and some 7 % less CPU in all.
        with contextlib.suppress(OSError, AttributeError):  # Linux only
            os.sched_setscheduler(process.pid, os.SCHED_BATCH, os.sched_param(0))
        return process

    def _run(
        self,
        command: list[bytes],
        item: str,
        limit_s: float,
        want_stdout: bool,
        into: "Feed | None",
        heard: Callable[[str], None] | None,
    ) -> Run:
        process = self._start(command, want_stdout or into is not None, item)
        late = threading.Event()

        def too_late() -> None:
            late.set()
            _kill_group(process)

        timer = threading.Timer(limit_s, too_late)
        timer.daemon = True
        timer.start()
        try:
            lines, stdout = _gather(process, into, heard)
            status = process.wait()
        except BaseException:
            _kill_group(process)
            process.wait()
            raise
        finally:
            timer.cancel()
            with self._lock:
                self._running.discard(process)
            for pipe in (process.stdout, process.stderr):
                if pipe is not None:
                    pipe.close()
        if self._stopped:
            raise Stopped
        if late.is_set():
            raise ItemProblem(
                item,
                f"{printable(item)} was given up after {limit_s:.0f} s of work on it; "
                "it may be damaged. Play it through, or leave it out.",
            )
        if status != 0 and any(_NO_MEMORY.search(line) for line in lines):
            raise ItemProblem(
                item,
                f"{printable(item)} was given up: ffmpeg needs more than the "
                f"{self._memory_bytes >> 20} MiB of memory that it may take; the file may be "
                "damaged. Rip or fetch it again, or leave it out.",
            )
        if status != 0:
            # A negative status is the signal that ended it: it crashed, or the system ended it.
            words = last_words(lines) + (f" (ended by signal {-status})" if status < 0 else "")
            raise ItemProblem(
                item,
                f"{printable(item)} cannot be pressed: ffmpeg says '{words}'. "
                "The file may be damaged; rip or fetch it again.",
            )
        return Run(lines=lines, stdout=stdout)


def last_words(lines: tuple[str, ...]) -> str:
    """What ffmpeg said of the cause: the first two such lines, from which the others follow."""
    telling = []
    for line in lines:
        words = _SPEAKER.sub("", line.rstrip())
        if words and not _CHATTER.match(words) and words not in telling:
            telling.append(words)
    return "; ".join(word.rstrip(".") for word in telling[:2]) or "ffmpeg gave no reason"


def _gather(
    process: subprocess.Popen[bytes],
    into: Feed | None = None,
    heard: Callable[[str], None] | None = None,
) -> tuple[tuple[str, ...], bytes]:
    """Read both pipes to their ends, keeping only the last lines of stderr."""
    lines: deque[str] = deque(maxlen=_TAIL_LINES)

    def read_lines() -> None:
        assert process.stderr is not None
        rest = b""
        while chunk := os.read(process.stderr.fileno(), 65536):
            *whole, rest = _LINE_END.split(rest + chunk)
            for line in whole:
                lines.append(line[:1000].decode("utf-8", "replace"))
                if heard is not None:
                    heard(lines[-1])
            rest = rest[-4096:]
        lines.append(rest.decode("utf-8", "replace"))

    if process.stdout is None:
        read_lines()
        return tuple(lines), b""
    reader = _Background(read_lines)
    if into is not None:
        _pour(process.stdout.fileno(), into)
        reader.join()
        return tuple(lines), b""
    stdout = process.stdout.read(1 << 20)
    while process.stdout.read(1 << 20):
        pass  # more than was asked for: thrown away, so that memory stays small
    reader.join()
    return tuple(lines), stdout


def _pour(pipe: int, into: Feed) -> None:
    """Read *pipe* to its end, a whole piece at a time, in one piece's memory."""
    with contextlib.suppress(OSError, AttributeError):  # Linux only: fewer changes of process
        fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, _PIPE_BYTES)
    piece = memoryview(bytearray(into.piece_bytes))
    filled = 0
    while count := os.readv(pipe, [piece[filled:]]):
        filled += count
        if filled == len(piece):
            into.take(piece)
            filled = 0
    if filled:
        into.take(piece[:filled])


class _Background(threading.Thread):
    """A thread that ends with the process."""

    def __init__(self, work: Callable[[], None]) -> None:
        super().__init__(daemon=True)
        self._work = work
        self.start()

    def run(self) -> None:
        self._work()


def _kill_group(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is not None:
        return
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)
