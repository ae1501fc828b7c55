"""Looking through the folders of the library: names and stats, compared with what is known.

No file is opened here. The common case, a library in which nothing changed, is what this is fast
for: one stat a file, one comparison, nothing kept.
"""

import errno
import os
import stat
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from syncd.library.kinds import AUDIO_SUFFIXES, FOREIGN_SUFFIXES
from syncd.library.masterfile import shown
from syncd.library.records import (
    Cover,
    FolderRow,
    Listing,
    Stat,
    Unknown,
    pack_listing,
    unpack_listing,
)

_AUDIO = frozenset(suffix[1:].encode() for suffix in {*AUDIO_SUFFIXES, *FOREIGN_SUFFIXES})
_PICTURES = frozenset({b"jpg", b"jpeg", b"png"})
_COVER_STEMS = (b"cover", b"folder", b"front")
_NOT_MUSIC = frozenset(
    {b"lost+found", b"$recycle.bin", b"system volume information", b".trash", b".trashes"}
)
_NOTHING = FolderRow(pack_listing({}))


@dataclass(slots=True)
class Looked:
    """What looking through one root found.

    ``unknown`` are files that are new or look different; ``gone`` known files that are not there
    any more; ``kept`` known files that could not be looked for, since their folder could not be
    read. ``covers`` are folders whose picture is new, different or gone,
    ``sheets`` the cue sheets of folders where one is.
    """

    seen: int = 0
    unknown: list[Unknown] = field(default_factory=list)
    gone: dict[bytes, Stat] = field(default_factory=dict)
    covers: dict[bytes, Cover | None] = field(default_factory=dict)
    sheets: dict[bytes, Listing] = field(default_factory=dict)
    notices: list[str] = field(default_factory=list)
    blind: list[bytes] = field(default_factory=list)


def is_rubbish(name: bytes) -> bool:
    """Whether a folder of this name is a system's bin or bookkeeping, which holds no music."""
    lowered = name.lower()
    return lowered in _NOT_MUSIC or lowered.startswith(b".trash-")


class Walker:
    """Looks through one root. ``known`` is what the index has of its folders."""

    def __init__(
        self,
        known: Mapping[bytes, FolderRow],
        deep: bool,
        report: Callable[[int], None] | None = None,
    ) -> None:
        self._known = known
        self._deep = deep
        self._report = report
        self._visited: dict[tuple[int, int], bytes] | None = None
        self._walked: list[bytes] = []
        self._links: list[bytes] = []
        self.found = Looked()

    def walk(self, root: bytes) -> Looked:
        """Look through *root*. Links to folders come last, and each real folder once only."""
        self._tree(root)
        while self._links:
            links, self._links = sorted(self._links), []
            for link in links:
                self._follow(link)
        looked = set(self._walked)
        for folder, row in self._known.items():
            if folder not in looked and not self._is_blind(folder):
                for name, known in unpack_listing(row.packed).items():
                    self.found.gone[folder + b"/" + name] = Stat(*known)
                if row.cover is not None:
                    self.found.covers[folder] = None
                if row.sheets is not None:
                    self.found.sheets[folder] = {}
        return self.found

    def _is_blind(self, folder: bytes) -> bool:
        return any(folder == blind or folder.startswith(blind + b"/") for blind in self.found.blind)

    def _follow(self, link: bytes) -> None:
        if self._visited is None:
            self._visited = {}
            for folder in self._walked:
                self._mark(folder)
        try:
            status = os.stat(link)  # noqa: PTH116
        except OSError as error:
            self._cannot_look(link, error, "link")
            return
        first = self._visited.get((status.st_dev, status.st_ino))
        if first is not None:
            self.found.notices.append(
                f"The link {shown(link)} leads to {shown(first)}, which is looked through already; "
                "it is not followed."
            )
            return
        self._tree(link)

    def _mark(self, folder: bytes) -> None:
        assert self._visited is not None
        try:
            status = os.stat(folder)  # noqa: PTH116
        except OSError:
            return  # gone since: nothing can loop to it
        self._visited.setdefault((status.st_dev, status.st_ino), folder)

    def _tree(self, top: bytes) -> None:
        waiting = [top]
        while waiting:
            folder = waiting.pop()
            if self._visited is not None:
                self._mark(folder)
            self._walked.append(folder)
            try:
                self._folder(folder, waiting)
            except OSError as error:
                self._cannot_look(folder, error, "folder")
            if self._report is not None and len(self._walked) % 64 == 0:
                self._report(self.found.seen)

    def _cannot_look(self, folder: bytes, error: OSError, what: str) -> None:
        self.found.blind.append(folder)
        if error.errno == errno.ELOOP:
            self.found.notices.append(
                f"The {what} {shown(folder)} leads in a circle, by links to links; remove it. What "
                "is known of files in it is kept."
            )
            return
        cause = error.strerror or type(error).__name__
        self.found.notices.append(
            f"The {what} {shown(folder)} cannot be looked into ({cause}); what is known of the "
            "files in it is kept. Give syncd the right to read it, or bring its disk back."
        )

    def _folder(self, folder: bytes, waiting: list[bytes]) -> None:
        row = self._known.get(folder, _NOTHING)
        left = unpack_listing(row.packed)  # what is still there is taken out; the rest is gone
        deep = self._deep
        seen = 0
        pictures: list[bytes] = []
        sheets: list[os.DirEntry[bytes]] = []
        with os.scandir(folder) as entries:
            for entry in entries:
                name = entry.name
                suffix = name.rpartition(b".")[2].lower()
                if suffix in _AUDIO:
                    if entry.is_file(follow_symlinks=False):
                        status = entry.stat(follow_symlinks=False)
                    else:
                        other = self._odd_entry(entry, waiting, left)
                        if other is None:
                            continue
                        status = other
                    known = left.pop(name, None)
                    now = (status.st_size, status.st_mtime_ns, status.st_ino)
                    if known != now or deep:
                        if name.startswith(b"._") or name.rfind(b".") < 1:
                            continue  # some systems' bookkeeping, or a name without a suffix
                        self.found.unknown.append(
                            Unknown(entry.path, Stat(*now), known is not None)
                        )
                    seen += 1
                elif suffix in _PICTURES:
                    pictures.append(name)
                elif suffix == b"cue" and not name.startswith(b"._") and _is_file(entry):
                    sheets.append(entry)
                elif entry.is_dir(follow_symlinks=False):
                    if not is_rubbish(name):
                        waiting.append(entry.path)
                elif entry.is_symlink() and not _is_file(entry):
                    self._links.append(entry.path)
        self.found.seen += seen
        for name, known in left.items():
            self.found.gone[folder + b"/" + name] = Stat(*known)
        if pictures or row.cover is not None:
            self._cover(folder, row, pictures, has_music=seen > 0)
        if sheets or row.sheets is not None:
            self._sheets(folder, row, sheets if seen else [])

    def _odd_entry(
        self, entry: os.DirEntry[bytes], waiting: list[bytes], left: Listing
    ) -> os.stat_result | None:
        """An entry with an audio suffix that is no plain file: a folder, a link, a pipe."""
        if entry.is_dir(follow_symlinks=False):
            waiting.append(entry.path)
            return None
        if not entry.is_symlink():
            return None
        try:
            status = entry.stat()
        except OSError as error:
            left.pop(entry.name, None)  # what it led to is away, not deleted
            cause = error.strerror or type(error).__name__
            self.found.notices.append(
                f"The link {shown(entry.path)} leads nowhere ({cause}); bring its target back or "
                "remove the link."
            )
            return None
        if stat.S_ISDIR(status.st_mode):
            self._links.append(entry.path)
        return status if stat.S_ISREG(status.st_mode) else None

    def _sheets(self, folder: bytes, row: FolderRow, entries: list[os.DirEntry[bytes]]) -> None:
        """Compare the cue sheets beside music with those that are known."""
        now: Listing = {}
        for entry in entries:
            try:
                status = entry.stat()
            except OSError:
                continue  # gone since: the next scan sees
            now[entry.name] = (status.st_size, status.st_mtime_ns, status.st_ino)
        known = {} if row.sheets is None else unpack_listing(row.sheets)
        if now != known or (now and self._deep):
            self.found.sheets[folder] = now

    def _cover(
        self, folder: bytes, row: FolderRow, pictures: list[bytes], *, has_music: bool
    ) -> None:
        """Choose the folder's picture: by its name, else the only one beside the music."""
        known = row.cover
        name = _chosen(pictures, has_music)
        if name is None:
            if known is not None:
                self.found.covers[folder] = None
            return
        try:
            status = os.stat(folder + b"/" + name)  # noqa: PTH116
        except OSError:
            return  # a link that leads nowhere, or gone since: the next scan sees
        now = Stat(status.st_size, status.st_mtime_ns, status.st_ino)
        if known is None or known.name != name or known.stat != now or self._deep:
            self.found.covers[folder] = Cover(name, now)


def _is_file(entry: os.DirEntry[bytes]) -> bool:
    try:
        return entry.is_file()
    except OSError:
        return False


def _chosen(pictures: list[bytes], has_music: bool) -> bytes | None:
    if len(pictures) == 1 and has_music:
        return pictures[0]
    stems = {name.rpartition(b".")[0].lower(): name for name in sorted(pictures, reverse=True)}
    for stem in _COVER_STEMS:
        if stem in stems:
            return stems[stem]
    return None
