"""What judges a card image from outside: fsck.vfat, mdir, and the promises I1 to I3.

``KNOWN`` are reports of fsck.vfat that power cuts were seen to leave (messages of Debian's fsck.fat
4.2); any other is counted by its own words. None may name a file of the listener's.
"""

import json
import re
import subprocess
import zlib
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from card_world import End, slot_states
from fat_image import FatImage

from syncd.catalogue import slots
from syncd.errors import CardProblem

KNOWN = (
    "Dirty bit is set",
    "There are differences between boot sector and its backup",
    "Free cluster summary wrong",
    "FATs differ but appear to be intact",
    "Reclaimed # unused cluster",
    "Contains a free cluster",
    "File size is # bytes, cluster chain length is",
    "share clusters",
    "Expected a valid '.' entry",
    "Expected a valid '..' entry",
    "Start does point to root directory",
    "Orphaned long file name part",
    "Bad short file name",
    "Duplicate directory entry",
    "Wrong checksum for long file name",
    "Unfinished long file name",
    "A new long file name starts within an old one",
)
_PLAIN = (  # lines that tell how and where, not what
    "fsck.fat", "Automatically removing", "This is mostly harmless", "Not automatically fixing",
    "Using first FAT", "Auto-correcting", "Truncating", "Leaving filesystem unchanged", "Creating",
    "Assuming EOF", "*** Filesystem was changed", "Writing changes", "and", "Deleting dir", "Auto-",
    "/", "#:",  # a path; a byte's place in the boot sector
)  # fmt: skip
HARMLESS = KNOWN[:5]
"""Reports that stand for no name without clusters, and no clusters with two names."""


@dataclass
class Judged:
    """What fsck.vfat said: kinds of reports with how often, and its lines."""

    kinds: Counter[str] = field(default_factory=Counter)
    unknown: list[str] = field(default_factory=list)
    said: str = ""

    @property
    def harmless(self) -> bool:
        return not self.unknown and not set(self.kinds) - set(HARMLESS)


def fsck(image: Path, how: str = "-n") -> Judged:
    """fsck.vfat on *image*: ``-n`` changes nothing, ``-a`` repairs."""
    done = subprocess.run(
        ["/usr/sbin/fsck.vfat", how, str(image)], capture_output=True, text=True, timeout=60
    )
    judged = Judged(said=done.stdout + done.stderr)
    for line in judged.said.splitlines():
        text = re.sub(r"\d+", "#", line).strip()
        kind = next((known for known in KNOWN if known in text), None)
        if kind is not None:
            judged.kinds[kind] += 1
        elif text and not text.startswith(_PLAIN) and not re.search(r"files, #/# clusters", text):
            judged.unknown.append(line)
    return judged


def repaired(image: Path) -> Judged:
    """What fsck.vfat -a said at first; it is run until it has nothing to say any more.

    Once is not enough: what it does to a folder's clusters shows as another fault in the next run.
    """
    first = fsck(image, "-a")
    for _ in range(4):
        if not fsck(image).kinds.keys() - {KNOWN[1]}:
            return first
        fsck(image, "-a")
    raise AssertionError(f"fsck.vfat does not come to an end: {fsck(image).said}")


def listed_by_mtools(image: Path) -> set[str]:
    """Paths of all files as mdir of mtools lists them."""
    done = subprocess.run(
        ["mdir", "-/", "-b", "-a", "-i", str(image), "::/"],
        capture_output=True,
        check=True,
        env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "MTOOLS_SKIP_CHECK": "1"},
    )
    lines = done.stdout.decode().splitlines()
    return {line.removeprefix("::/") for line in lines if line and not line.endswith("/")}


def used_catalogue(card: FatImage) -> tuple[slots.Slot, bytes, slots.Record] | None:
    """The catalogue that a player opens, by its own rule: a record that it cannot read is none."""
    found = []
    for slot in ("a", "b"):
        record = None
        try:
            raw = card.read(slots.record_path(slot))
            record = None if raw is None else slots.decode(raw)
        except CardProblem:
            record = None
        found.append(slots.SlotState(record, card.size(slots.catalogue_path(slot))))
    used = slots.newest(*found)
    if used is None:
        return None
    record = found[0 if used == "a" else 1].record
    data = card.read(slots.catalogue_path(used))
    assert record is not None and data is not None
    return used, data, record


def assert_whole(card: FatImage, *ends: End) -> int:
    """I1: all that the player's catalogue names is there, as one of *ends* has it. Their number."""
    used = used_catalogue(card)
    if used is None:
        return 0
    _, data, record = used
    assert zlib.crc32(data) == record.crc32, "the catalogue that the player opens is not whole"
    named = json.loads(data)
    for path, size in named:
        assert card.size(path) == size, f"{path} is not there, or of another size"
        content = card.read(path)
        assert any(content == end.files.get(path) for end in ends), f"{path} is not whole"
    return len(named)


def assert_untouched(card: FatImage, foreign: dict[str, bytes]) -> None:
    """I2."""
    for path, data in foreign.items():
        assert card.read(path) == data, f"the listener's {path} changed"


def end_of_image(card: FatImage) -> End:
    """All on *card* but the slot's letter and record, and what fsck.vfat put there."""
    files = {}
    for file in card.files():
        if not re.fullmatch(r"FSCK\d{4}\.REC", file.path):
            data = card.read(file.path)
            assert data is not None
            files[file.path] = data
    states = slot_states(card)
    used = slots.newest(*states)
    if used is None:
        return End(files, set(card.folders), None, None)
    record = states[0 if used == "a" else 1].record
    assert record is not None
    del files[slots.record_path(used)]
    return End(files, set(card.folders), files.pop(slots.catalogue_path(used)), record.content_key)
