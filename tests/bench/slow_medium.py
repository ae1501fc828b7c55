"""A medium as fast as a card: a file that takes and gives so many bytes a second, and no more.

    with SlowMedium(folder, size, write=20e6, read=90e6) as medium: ... medium.device ...

For benchmarks; needs Linux, root, /dev/fuse and loop devices. A process of its own serves one file
by the kernel's FUSE protocol (linux/fuse.h, 7.31), one command at a time, as a card takes them;
each lasts as long as its bytes do at the rate. A loop device over it, past the system's memory, is
what a file system is made on. Neither a card's pauses while it erases nor its slowness with small
scattered writes are imitated.
"""

import ctypes
import multiprocessing
import os
import stat
import struct
import subprocess
import time
from pathlib import Path
from typing import Self

_HEAD = struct.Struct("<IIQQIIIHH")  # length, operation, unique, node, uid, gid, pid, more
_ANSWER = struct.Struct("<IiQ")
_READ = struct.Struct("<QQI")  # file handle, offset, size; read and write begin alike
_WRITE_HEAD_BYTES = 40
_MOST = 1 << 20
_ROOT, _FILE = 1, 2
_NAME = b"medium"
_ASYNC_READ, _BIG_WRITES, _ASYNC_DIO, _MAX_PAGES = 1 << 0, 1 << 5, 1 << 15, 1 << 22
_DIRECT_IO = 1
_NO_SUCH_FILE, _NO_SUCH_CALL = -2, -38


class _Server:
    def __init__(self, fuse: int, store: int, size: int, write: float, read: float) -> None:
        self._fuse = fuse
        self._store = store
        self._size = size
        self._rates = {True: write, False: read}
        self._busy_until = 0.0
        self.busy = multiprocessing.get_context("fork").Value("d", 0.0)
        self._calls = {
            1: self._lookup, 3: self._attributes, 4: self._attributes, 14: self._open,
            15: self._read, 16: self._write, 17: self._room, 26: self._begin, 27: self._open,
        }  # fmt: skip

    def serve(self) -> None:
        while True:
            try:
                asked = os.read(self._fuse, _MOST + 4096)
            except InterruptedError:
                continue
            except OSError:  # unmounted
                return
            _, operation, unique, node, *_ = _HEAD.unpack_from(asked)
            if operation in (2, 36, 42):  # forget, interrupt, forget many: no answer is due
                continue
            body = memoryview(asked)[_HEAD.size :]
            done = operation in (18, 20, 25, 29, 38)  # release, fsync, flush, release, destroy
            call = self._calls.get(operation)
            answer = call(node, body) if call else 0 if done else _NO_SUCH_CALL
            data = b"" if isinstance(answer, int) else answer
            error = answer if isinstance(answer, int) else 0
            os.write(self._fuse, _ANSWER.pack(_ANSWER.size + len(data), error, unique) + data)

    def _begin(self, node: int, body: memoryview) -> bytes:
        flags = _ASYNC_READ | _BIG_WRITES | _ASYNC_DIO | _MAX_PAGES
        pages = _MOST // 4096
        return struct.pack(
            "<IIIIHHIIHHII24x", 7, 31, _MOST, flags, 16, 12, _MOST, 1, pages, 0, 0, 0
        )

    def _facts(self, node: int) -> bytes:
        folder = node == _ROOT
        mode = stat.S_IFDIR | 0o755 if folder else stat.S_IFREG | 0o600
        size = 0 if folder else self._size
        return struct.pack(
            "<QQQQQQIIIIIIIIII",
            node,
            size,
            size // 512,
            0,
            0,
            0,
            0,
            0,
            0,
            mode,
            1,
            0,
            0,
            0,
            4096,
            0,
        )

    def _lookup(self, node: int, body: memoryview) -> bytes | int:
        if bytes(body).rstrip(b"\0") != _NAME:
            return _NO_SUCH_FILE
        return struct.pack("<QQQQII", _FILE, 0, 3600, 3600, 0, 0) + self._facts(_FILE)

    def _attributes(self, node: int, body: memoryview) -> bytes:
        return struct.pack("<QII", 3600, 0, 0) + self._facts(node)

    def _open(self, node: int, body: memoryview) -> bytes:
        return struct.pack("<QII", 0, _DIRECT_IO if node == _FILE else 0, 0)

    def _room(self, node: int, body: memoryview) -> bytes:
        blocks = self._size // 4096
        return struct.pack("<QQQQQIIII24x", blocks, 0, 0, 1, 0, 4096, 255, 4096, 0)

    def _read(self, node: int, body: memoryview) -> bytes:
        _, offset, size = _READ.unpack_from(body)
        data = os.pread(self._store, size, offset)
        self._take_time(size, writing=False)
        return data

    def _write(self, node: int, body: memoryview) -> bytes:
        _, offset, size = _READ.unpack_from(body)
        os.pwrite(self._store, body[_WRITE_HEAD_BYTES : _WRITE_HEAD_BYTES + size], offset)
        self._take_time(size, writing=True)
        return struct.pack("<II", size, 0)

    def _take_time(self, size: int, *, writing: bool) -> None:
        now = time.monotonic()
        # What was slept too long is made up for by the next commands, if they come at once.
        begun = self._busy_until if now - self._busy_until < 0.005 else now
        self._busy_until = begun + size / self._rates[writing]
        self.busy.value += size / self._rates[writing]
        if self._busy_until > now:
            time.sleep(self._busy_until - now)


class SlowMedium:
    """A block device of *size* bytes that writes and reads so many bytes a second."""

    def __init__(self, folder: Path, size: int, *, write: float, read: float) -> None:
        self._point = folder / "medium"
        self._point.mkdir(parents=True)
        store = os.open(folder / "medium.store", os.O_RDWR | os.O_CREAT)
        os.ftruncate(store, size)
        fuse = os.open("/dev/fuse", os.O_RDWR)
        libc = ctypes.CDLL(None, use_errno=True)
        options = f"fd={fuse},rootmode=40000,user_id=0,group_id=0"
        if libc.mount(b"slow", os.fsencode(self._point), b"fuse", 6, options.encode()) != 0:
            raise OSError(
                ctypes.get_errno(), "the file system of the slow medium cannot be mounted"
            )
        server = _Server(fuse, store, size, write, read)
        self._busy = server.busy
        fork = multiprocessing.get_context("fork")
        self._process = fork.Process(target=server.serve, daemon=True)
        self._process.start()
        os.close(fuse)
        os.close(store)
        self.device = subprocess.run(
            [
                *("losetup", "--find", "--show", "--direct-io=on"),
                str(self._point / os.fsdecode(_NAME)),
            ],
            check=True,
            stdout=subprocess.PIPE,
            text=True,
        ).stdout.strip()

    @property
    def busy_s(self) -> float:
        """Seconds that all commands so far took it, whatever else the computer does."""
        return self._busy.value

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        subprocess.run(["losetup", "--detach", self.device], check=True)
        for _ in range(100):  # the loop device lets go of the file when its last user has
            if (
                subprocess.run(["umount", str(self._point)], stderr=subprocess.DEVNULL).returncode
                == 0
            ):
                break
            time.sleep(0.05)
        self._process.join(5)
