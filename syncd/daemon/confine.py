"""A job may write only where its work belongs: state, store, its own card. The music is read-only.

By Landlock (landlock(7), Linux 5.19 and later), which needs no rights and no namespaces. What
systemd offers for this to a user's own services needs user namespaces, which some systems forbid,
and leaves volumes read-only that were mounted before the service started; here each job gets the
card that it is for, wherever that is. What it starts, encoders above all, is bound in the same way.
"""

import ctypes
import os
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

_CREATE, _ADD, _RESTRICT = 444, 445, 446
"""The calls' numbers, which are the same on all processors (linux/landlock.h knows no wrappers)."""

_ASK_VERSION = 1
_BENEATH = 1
_SET_NO_NEW_PRIVS, _GET_NO_NEW_PRIVS = 38, 39

_LEAST = 2
"""The first version of Landlock that lets a file be renamed from one folder into another."""

_WRITE_FILE = 1 << 1
_REMOVE_AND_MAKE = sum(1 << bit for bit in range(4, 13))
_REFER = 1 << 13
_TRUNCATE = 1 << 14
_TRUNCATE_SINCE = 3

_NOTHING = Path("/dev/null")

T = TypeVar("T")


class _Ruleset(ctypes.Structure):
    _fields_ = (("handled", ctypes.c_uint64),)


class _Beneath(ctypes.Structure):
    _pack_ = 1
    _fields_ = (("allowed", ctypes.c_uint64), ("folder", ctypes.c_int32))


def _version() -> int:
    if not sys.platform.startswith("linux"):
        return 0
    return max(0, _call(_CREATE, None, 0, _ASK_VERSION))


def _call(number: int, *arguments: object) -> int:
    words = [
        ctypes.c_void_p(None) if a is None else ctypes.c_size_t(a) if isinstance(a, int) else a
        for a in arguments
    ]
    return int(ctypes.CDLL(None, use_errno=True).syscall(ctypes.c_long(number), *words))


def _checked(result: int) -> int:
    if result < 0:
        error = ctypes.get_errno()
        raise OSError(error, os.strerror(error))
    return result


def can_confine() -> bool:
    """Whether this kernel can do it."""
    return _version() >= _LEAST


def confine(writable: Iterable[Path]) -> bool:
    """Let this thread, and what it starts from now on, change files beneath *writable* only.

    The null device is allowed besides. The system's folders for temporary files are not, since a
    library may lie below one; whoever needs some names a folder of his own in ``TMPDIR`` before. It
    cannot be undone, and mounting or unmounting is out of the question as well. False, and nothing
    is done, where the kernel cannot.
    """
    version = _version()
    if version < _LEAST:
        return False
    rights = _WRITE_FILE | _REMOVE_AND_MAKE | _REFER
    if version >= _TRUNCATE_SINCE:
        rights |= _TRUNCATE
    told = _Ruleset(rights)
    rules = _checked(_call(_CREATE, ctypes.byref(told), ctypes.sizeof(told), 0))
    try:
        for folder in set(writable):
            _allow(rules, folder, rights, os.O_DIRECTORY)
        _allow(rules, _NOTHING, rights & (_WRITE_FILE | _TRUNCATE))
        libc = ctypes.CDLL(None, use_errno=True)
        _checked(libc.prctl(_SET_NO_NEW_PRIVS, 1, 0, 0, 0))
        _checked(_call(_RESTRICT, rules, 0))
    finally:
        os.close(rules)
    return True


def _allow(rules: int, place: Path, rights: int, kind: int = 0) -> None:
    try:
        fd = os.open(place, os.O_PATH | os.O_CLOEXEC | kind)
    except OSError:
        return  # what cannot be opened cannot be written to, either
    try:
        rule = _Beneath(rights, fd)
        _checked(_call(_ADD, rules, _BENEATH, ctypes.byref(rule), 0))
    finally:
        os.close(fd)


def no_new_privileges() -> bool:
    """Whether programs that act with their owner's rights (umount(8)) cannot do so for us."""
    if not sys.platform.startswith("linux"):
        return False
    return bool(ctypes.CDLL(None).prctl(_GET_NO_NEW_PRIVS, 0, 0, 0, 0) == 1)


class Outside:
    """A thread that was there before :func:`confine`, and so is free: for unmounting."""

    def __init__(self) -> None:
        self._thread = ThreadPoolExecutor(1)
        self._thread.submit(os.getpid).result()  # it begins only when it has something to do

    def call(self, do: Callable[[], T]) -> T:
        """What *do* returns or raises, done there."""
        return self._thread.submit(do).result()
