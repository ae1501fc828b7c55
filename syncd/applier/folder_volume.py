"""The card at a mount, or a plain folder standing in for one: the volume port on a real system.

Everything goes through a descriptor of the card's root that is opened once: when the card is
unmounted, calls fail instead of landing in the empty folder that stays behind. Symbolic links are
never followed. ``OSError`` becomes a CardProblem here and nowhere else.

A *barrier* is syncfs on the volume, then fsync of its root. On FAT with the Linux driver neither
fsync of a file nor fsync of its folder makes a finished file outlive a power cut, syncfs does; but
with that driver and with exfat-fuse syncfs alone does not tell the medium to empty a cache of its
own, and fsync of the root does (measured, see DEVELOPERS.md). syncfs writes names before the bitmap
of clusters with the exFAT driver, and in one go with the table of clusters with the FAT driver; an
fsync writes bitmap or table: so there one comes before as well.

What is removed from FAT or exFAT is held open until a barrier has passed (``held.py``). For the
same reason a file is not cut down there to be written anew. exfat-fuse cannot be made to hold (what
is removed while it is open gets another name there); but it writes the bitmap only with what is
done next, so each removal is written out at once.
"""

import contextlib
import errno
import fcntl
import os
import stat
from collections.abc import Collection, Iterable, Iterator
from functools import partial
from pathlib import Path

import xxhash

from syncd.applier import flushing, uncached
from syncd.applier.card_faults import card_problem
from syncd.applier.early import Early
from syncd.applier.geometry import file_system, folder_seen
from syncd.applier.held import Held
from syncd.applier.volume import CHUNK, FileSeen, Listing, Space
from syncd.errors import CardGone, CardProblem
from syncd.model import ContentHash
from syncd.planner.capacity import EXFAT_FUSE, FolderSeen, Geometry

_FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC
_FILE = os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK  # a pipe in the way must not hold us up

_CLOSED = -1
DEEPEST = 200
"""Folders within folders that are looked into: what is deeper counts as closed to us."""


class FolderVolume:
    """A card mounted at, or a plain folder standing in for one at, *root*.

    Everything goes through a descriptor of *root*: nothing is ever written to the empty folder that
    a card leaves. Raises CardProblem when it cannot be opened.
    """

    def __init__(self, root: Path, name: str | None = None) -> None:
        self.root = root
        self.name = name or root.name
        self._lock_fd: int | None = None
        self._locked = ""
        self._held = Held(self._write_out)
        with self._told("open", "."), contextlib.ExitStack() as stack:
            self._fd = os.open(root, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
            stack.callback(os.close, self._fd)
            self._fat = flushing.is_fat(self._fd)
            self._exfat = flushing.is_exfat(self._fd)
            self._exfat_fuse = file_system(self._fd) is EXFAT_FUSE
            stack.pop_all()

    def close(self) -> None:
        """Let go of the card, so that it can be unmounted.

        What is held still, since no barrier came, is held until it is written out: the card may be
        pulled before the system does that of itself.
        """
        with contextlib.suppress(OSError):
            self._held.make_room()
        self._held.let_go()
        for fd in (self._lock_fd, self._fd):
            if fd is not None:
                with contextlib.suppress(OSError):
                    os.close(fd)
        self._lock_fd, self._fd = None, _CLOSED

    def __enter__(self) -> "FolderVolume":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def lock(self, path: str) -> bool:
        """Lock the card by its file *path*, without writing to it; False if another holds it."""
        with self._told("lock", path), self._folder_of(path) as (folder, name):
            fd = os.open(name, os.O_RDONLY | _FILE, dir_fd=folder)
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(fd)
            return False
        except OSError:
            # A file system without locks: the lock at home still keeps this computer to one.
            os.close(fd)
            return True
        self._lock_fd, self._locked = fd, path
        return True

    def listing(self) -> Listing:
        found = Listing([], [])
        with self._told("list", "."):
            self._walk(self._fd, "", found)
        found.files.sort(key=lambda file: file.path)
        found.empty_folders.sort()
        return found

    def _walk(self, fd: int, prefix: str, found: Listing) -> None:
        with os.scandir(fd) as entries:
            listed = list(entries)
        if not listed and prefix:
            found.empty_folders.append(prefix[:-1])
        for entry in listed:
            if entry.is_dir(follow_symlinks=False):
                if prefix.count("/") >= DEEPEST:  # each one on the way stays open
                    found.files.append(FileSeen(prefix + entry.name, 0, closed=True))
                    continue
                try:
                    inner = os.open(entry.name, _FOLDER, dir_fd=fd)
                except PermissionError:
                    found.files.append(FileSeen(prefix + entry.name, 0, closed=True))
                    continue
                try:
                    self._walk(inner, f"{prefix}{entry.name}/", found)
                finally:
                    os.close(inner)
            else:
                facts = entry.stat(follow_symlinks=False)
                size = facts.st_size if stat.S_ISREG(facts.st_mode) else 0
                found.files.append(FileSeen(prefix + entry.name, size))

    @contextlib.contextmanager
    def _folder_of(self, path: str) -> Iterator[tuple[int, str]]:
        """The opened folder of *path*, and its name there; no link is followed on the way."""
        *folders, name = path.split("/")
        if any(part in ("", ".", "..") for part in (*folders, name)):
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        fd = self._fd
        try:
            for folder in folders:
                inner = os.open(folder, _FOLDER, dir_fd=fd)
                if fd != self._fd:
                    os.close(fd)
                fd = inner
            yield fd, name
        finally:
            if fd != self._fd:
                os.close(fd)

    def size(self, path: str) -> int | None:
        with self._told("look at", path):
            try:
                with self._folder_of(path) as (fd, name):
                    facts = os.stat(name, dir_fd=fd, follow_symlinks=False)
            except (FileNotFoundError, NotADirectoryError):
                return None
            return facts.st_size if stat.S_ISREG(facts.st_mode) else None

    def read(self, path: str) -> bytes | None:
        if self.size(path) is None:
            return None
        return b"".join(self.chunks(path))

    def chunks(self, path: str) -> Iterator[bytes]:
        with self._told("read", path), self._folder_of(path) as (folder, name):
            fd = os.open(name, os.O_RDONLY | _FILE, dir_fd=folder)
        try:
            uncached.read_past(fd)
            while True:
                with self._told("read", path):
                    chunk = os.read(fd, CHUNK)
                if not chunk:
                    return
                yield chunk
        finally:
            os.close(fd)

    def forget(self, paths: Collection[str]) -> int:
        in_memory = sum(map(self._stays, paths))
        return in_memory if uncached.device_forgets(self._fd) else len(paths)

    def _stays(self, path: str) -> bool:
        """Have the system forget a file; whether it may not have."""
        try:
            with self._told("read", path), self._folder_of(path) as (folder, name):
                fd = os.open(name, os.O_RDONLY | _FILE, dir_fd=folder)
                try:
                    return not uncached.forget(fd)
                finally:
                    os.close(fd)
        except CardGone:
            raise
        except CardProblem:
            return False

    def write(self, path: str, chunks: Iterable[bytes]) -> tuple[int, ContentHash]:
        fd = self._open_for_writing(path, os.O_TRUNC)
        early = Early(fd)
        digest = xxhash.xxh3_128()
        size = 0
        try:
            for chunk in chunks:
                digest.update(chunk)
                size += len(chunk)
                with self._told("write", path):
                    self._write_all(fd, chunk)
                early.given(len(chunk))
            early.complete()
            if path == self._locked:
                with self._told("write", path):
                    os.ftruncate(fd, size)
        finally:
            with self._told("write", path):
                os.close(fd)
        return size, ContentHash(digest.hexdigest())

    def _write_all(self, fd: int, data: bytes) -> None:
        view = memoryview(data)
        while view:
            view = view[self._held.with_room(partial(os.write, fd, view)) :]

    def append(self, path: str, data: bytes) -> None:
        fd = self._open_for_writing(path, os.O_APPEND)
        with self._told("write", path):
            try:
                self._write_all(fd, data)
            finally:
                os.close(fd)

    def _open_for_writing(self, path: str, how: int) -> int:
        """The file at *path*, made if need be. What is no regular file gives way to one."""
        self._make_folders(path)
        if path == self._locked:  # its lock would go with it, and its clusters if it were cut down
            how &= ~os.O_TRUNC
        elif (self._fat or self._exfat_fuse) and how == os.O_TRUNC:
            self.remove(path)
        flags = os.O_WRONLY | os.O_CREAT | how | _FILE
        with self._told("write", path), self._folder_of(path) as (folder, name):
            with contextlib.suppress(FileNotFoundError):
                mode = os.stat(name, dir_fd=folder, follow_symlinks=False).st_mode
                if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
                    os.unlink(name, dir_fd=folder)
            return self._held.with_room(partial(os.open, name, flags, 0o644, dir_fd=folder))

    def rename(self, origin: str, target: str) -> None:
        self._make_folders(target)
        with (
            self._told("rename", origin),
            self._folder_of(origin) as (origin_fd, origin_name),
            self._folder_of(target) as (target_fd, target_name),
        ):
            with contextlib.suppress(FileNotFoundError):
                os.stat(target_name, dir_fd=target_fd, follow_symlinks=False)
                raise FileExistsError(errno.EEXIST, f"{target} is there already")
            both = {"src_dir_fd": origin_fd, "dst_dir_fd": target_fd}
            # The folder may have to grow.
            self._held.with_room(partial(os.rename, origin_name, target_name, **both))

    def remove(self, path: str) -> None:
        with (
            self._told("remove", path),
            contextlib.suppress(FileNotFoundError, NotADirectoryError),
            self._folder_of(path) as (fd, name),
        ):
            if self._fat:
                self._held.add(fd, name)
            os.unlink(name, dir_fd=fd)
            if self._exfat_fuse:
                flushing.syncfs(self._fd)

    def remove_empty_folders(self, path: str) -> None:
        kept = {errno.ENOTEMPTY, errno.EEXIST, errno.EBUSY, errno.ENOTDIR, errno.ELOOP}
        while path:
            with self._told("tidy", path):
                try:
                    with self._folder_of(path) as (fd, name):
                        if self._fat:
                            self._held.add(fd, name)
                        os.rmdir(name, dir_fd=fd)
                        if self._exfat_fuse:
                            flushing.syncfs(self._fd)
                except FileNotFoundError:
                    pass
                except OSError as error:
                    if error.errno in kept:
                        return
                    raise
            path = path.rpartition("/")[0]

    def barrier(self) -> None:
        with self._told("finish writing to", "."):
            self._write_out()
        self._held.let_go()

    def _write_out(self) -> None:
        if self._fat:
            # Of a file with nothing to write: new folders in the root would go with it on FAT.
            os.fsync(self._fd if self._exfat or self._lock_fd is None else self._lock_fd)
        flushing.syncfs(self._fd)
        try:
            os.fsync(self._fd)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOSYS):  # has no fsync for folders
                raise

    def linked(self, path: str, other: str) -> bool:
        if not self._fat and not self._exfat_fuse:
            return False
        with (
            self._told("compare", path),
            self._folder_of(path) as (folder, name),
            self._folder_of(other) as (other_folder, other_name),
            contextlib.ExitStack() as stack,
        ):
            one = os.open(name, os.O_RDWR | _FILE, dir_fd=folder)
            stack.callback(os.close, one)
            two = os.open(other_name, os.O_RDONLY | _FILE, dir_fd=other_folder)
            stack.callback(os.close, two)
            return _share_clusters(one, two)

    def trim(self, path: str) -> None:
        if not self._fat or self._exfat:
            return
        with (
            self._told("look at", path),
            contextlib.suppress(FileNotFoundError, NotADirectoryError),
            self._folder_of(path) as (folder, name),
        ):
            fd = os.open(name, os.O_WRONLY | _FILE, dir_fd=folder)
            try:
                os.ftruncate(fd, os.fstat(fd).st_size)
            finally:
                os.close(fd)

    def space(self) -> Space:
        with self._told("measure", "."):
            facts = os.fstatvfs(self._fd)
        return Space(
            facts.f_bavail * facts.f_frsize,
            facts.f_blocks * facts.f_frsize,
            facts.f_frsize,
            bool(facts.f_flag & os.ST_RDONLY),
        )

    def geometry(self, folders: Iterable[str]) -> Geometry:
        with self._told("measure", "."):
            system = file_system(self._fd)
            cluster = os.fstatvfs(self._fd).f_frsize
            seen: dict[str, FolderSeen] = {}
            for path in folders if system.known else ():
                # Through a name below it, as a folder is opened for a file in it.
                with (
                    contextlib.suppress(FileNotFoundError, NotADirectoryError),
                    self._folder_of(f"{path}/x" if path else "x") as (fd, _),
                ):
                    seen[path] = folder_seen(fd, system, cluster)
        return Geometry(system, cluster, seen)

    def _make_folders(self, path: str) -> None:
        folder = path.rpartition("/")[0]
        if not folder:
            return
        with self._told("make the folder", folder):
            try:
                self._held.with_room(partial(self._make_folder, folder))
            except FileExistsError:
                return
            except FileNotFoundError:
                self._make_folders(folder)
                with contextlib.suppress(FileExistsError):
                    self._held.with_room(partial(self._make_folder, folder))

    def _make_folder(self, path: str) -> None:
        with self._folder_of(path) as (fd, name):
            os.mkdir(name, dir_fd=fd)

    @contextlib.contextmanager
    def _told(self, doing: str, path: str) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise card_problem(error, self.name, self.root, doing, path) from error


def _share_clusters(one: int, two: int) -> bool:
    """Whether a byte that is changed through *one* is changed in *two*; it is put right again."""
    before = os.pread(one, 1, 0)
    if not before or os.path.samestat(os.fstat(one), os.fstat(two)):
        return False
    changed = bytes([before[0] ^ 0xFF])
    try:
        os.pwrite(one, changed, 0)
        os.fsync(one)
        os.posix_fadvise(two, 0, 0, os.POSIX_FADV_DONTNEED)
        return os.pread(two, 1, 0) == changed
    finally:
        os.pwrite(one, before, 0)
        os.fsync(one)
        os.posix_fadvise(two, 0, 0, os.POSIX_FADV_DONTNEED)
