"""The manifest and the journal of a card: what syncd put there, and what is being done now.

Both lie in the card's folder SYNCD.

``manifest.gz`` lists every file in order of its path: gzip (which checks itself) around JSON
lines, the first one a header with format and count, and zeros behind that. It is a function of the
card's content alone, so that the same end state has the same bytes. A new one is written as
``manifest.new``, passes a barrier, and is written a second time over the old one; at each instant
one of the two is whole. A
rename would not do: on FAT a cut may leave neither its old name nor its new one.

``journal`` exists while an update runs. Each line is a CRC-32 and a JSON object; a torn tail is
recognised and ignored. Lines come before the deeds that they tell of. Reading manifest and journal
together gives the card's files after any interruption.
"""

import gzip
import io
import json
import re
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import msgspec
import xxhash

from syncd.errors import CardProblem
from syncd.model import ContentHash
from syncd.planner.card_state import ManifestEntry

FOLDER = "SYNCD"
MANIFEST = f"{FOLDER}/manifest.gz"
MANIFEST_NEW = f"{FOLDER}/manifest.new"
JOURNAL = f"{FOLDER}/journal"
INCOMING = f"{FOLDER}/incoming"
MANIFEST_FORMAT = 1
JOURNAL_FORMAT = 1

_ASIDE = re.compile(re.escape(INCOMING) + "/[0-9a-z]+")

_ENTRY = msgspec.json.Encoder()
_PIECE = 1 << 20
LARGEST_MANIFEST = 1 << 30
"""Bytes, unpacked: a card is hostile input, and a million files take a third of this."""


@dataclass(frozen=True, slots=True)
class _Header:
    syncd: str
    format: int
    files: int = -1  # how a newer format counts is not known here


@dataclass(frozen=True, slots=True)
class _Form:
    format: int = 0


_HEADER = msgspec.json.Decoder(_Header)
_FORM = msgspec.json.Decoder(_Form)
_DECODER = msgspec.json.Decoder(ManifestEntry)


class ManifestDamaged(CardProblem):
    """The manifest cannot be read whole."""


def encode_manifest(entries: Iterable[ManifestEntry]) -> bytes:
    """The bytes of a manifest; equal entries in any order give equal bytes.

    Its length does not depend on the content hashes, so that the room on the card can be reckoned
    before they are known: zeros stand behind what is packed (gzip's format lets them), up to what
    other hashes of the same files would take and a little more.
    """
    ordered = sorted(entries, key=lambda entry: entry.path)
    packed = _packed(ordered, [entry.xxh3_128 for entry in ordered])
    # Hexadecimal digits of any text stand for hashes: they are as hard to pack.
    likes = [
        xxhash.xxh3_128_hexdigest(entry.path.encode("utf-8", "surrogatepass")) for entry in ordered
    ]
    length = len(_packed(ordered, likes)) + 64 + len(ordered) // 4
    return packed.ljust(length, b"\0")


def _packed(ordered: list[ManifestEntry], hashes: list[str]) -> bytes:
    header = {"syncd": "manifest", "format": MANIFEST_FORMAT, "files": len(ordered)}
    lines = [json.dumps(header).encode()]
    for entry, digest in zip(ordered, hashes, strict=True):
        lines.append(
            _ENTRY.encode(ManifestEntry(entry.path, entry.size, ContentHash(digest), entry.source))
        )
    lines.append(b"")
    packed = io.BytesIO()
    with gzip.GzipFile(fileobj=packed, mode="wb", compresslevel=6, mtime=0, filename="") as file:
        file.write(b"\n".join(lines))
    return packed.getvalue()


def decode_manifest(data: bytes, card: str) -> tuple[ManifestEntry, ...]:
    """The entries of a manifest. Raises ManifestDamaged, or CardProblem for a newer format."""
    try:
        lines = _unpacked(data).split(b"\n")
        header = _HEADER.decode(lines[0])
    except (OSError, EOFError, zlib.error, ValueError, msgspec.MsgspecError) as error:
        raise ManifestDamaged(f"The manifest of the card {card} is damaged.") from error
    if header.syncd == "manifest" and header.format > MANIFEST_FORMAT:
        raise _newer(card, "manifest", header.format)
    count = header.files
    try:
        entries = tuple(_DECODER.decode(line) for line in lines[1:-1])
    except msgspec.MsgspecError as error:
        raise ManifestDamaged(f"The manifest of the card {card} is damaged.") from error
    sound = all(is_card_path(entry.path) and entry.size >= 0 for entry in entries)
    if len(entries) != count or not sound or len({entry.path for entry in entries}) != count:
        raise ManifestDamaged(f"The manifest of the card {card} is damaged.")
    return entries


def _newer(card: str, what: str, form: int) -> CardProblem:
    return CardProblem(
        f"The card {card} was written by a newer syncd ({what} format {form}). Update syncd on "
        "this computer; the card was left as it is."
    )


def _unpacked(data: bytes) -> bytes:
    """What gzip *data* holds. Raises ValueError for what would fill the memory."""
    unpacked = bytearray()
    with gzip.GzipFile(fileobj=io.BytesIO(data)) as file:
        # In pieces: read takes memory for as much as it is asked for.
        while piece := file.read(_PIECE):
            unpacked += piece
            if len(unpacked) > LARGEST_MANIFEST:
                raise ValueError("it is too large to be one")
    return bytes(unpacked)


def is_card_path(path: str) -> bool:
    """Whether *path* stays on the card and out of syncd's folder: a card is hostile input."""
    parts = path.split("/")
    return (
        all(part not in ("", ".", "..") for part in parts)
        and "\0" not in path
        and "\\" not in path
        # FAT passes over dots and spaces at the end, and case.
        and parts[0].rstrip(". ").upper() != FOLDER
    )


@dataclass(frozen=True, slots=True)
class JournalLine:
    """One line of the journal.

    ``begin``: an update starts; where room was short, ``room`` is the bytes that its music was
    chosen for, and ``coming`` what was chosen beside what lay on the card (``Plan.coming``).
    ``put``: the file of *entry* lies, complete, at ``aside`` and will take its place.
    ``placing``: from here on, files aside take their places.
    ``sure``: all that was told before is past a barrier.
    """

    kind: str
    entry: ManifestEntry | None = None
    aside: str = ""
    format: int = JOURNAL_FORMAT
    room: int | msgspec.UnsetType = msgspec.UNSET
    coming: tuple[str, ...] | msgspec.UnsetType = msgspec.UNSET


_LINE = msgspec.json.Decoder(JournalLine)


def encode_line(line: JournalLine) -> bytes:
    """One journal line with its checksum, between line ends: what stood before may be torn."""
    body = msgspec.json.encode(line)
    return b"\n%08x %b\n" % (zlib.crc32(body), body)


def decode_journal(data: bytes, card: str = "") -> list[JournalLine]:
    """The lines that are whole, in order. A torn one is passed over: what follows checks itself.

    Raises CardProblem for a newer format.
    """
    lines: list[JournalLine] = []
    for raw in data.split(b"\n"):
        head, _, body = raw.partition(b" ")
        try:
            if len(head) != 8 or int(head, 16) != zlib.crc32(body):
                continue
            if (form := _FORM.decode(body).format) > JOURNAL_FORMAT:
                raise _newer(card, "journal", form)
            line = _LINE.decode(body)
        except (ValueError, msgspec.MsgspecError):
            continue
        if line.entry is not None and not is_card_path(line.entry.path):
            continue
        if line.aside and not _ASIDE.fullmatch(line.aside):
            continue
        lines.append(line)
    return lines


@dataclass(slots=True)
class Known:
    """What manifest and journal say together.

    ``candidates`` maps each place (a path as the card tells paths apart) to the contents that may
    lie there, likeliest first; ``asides`` maps each file aside to its entry. ``unsure`` are the
    places, and ``unsure_asides`` the files aside, that were touched after the last barrier: they
    must be read to be believed.
    """

    candidates: dict[str, list[ManifestEntry]] = field(default_factory=dict)
    asides: dict[str, ManifestEntry] = field(default_factory=dict)
    unsure: set[str] = field(default_factory=set)
    unsure_asides: set[str] = field(default_factory=set)

    @classmethod
    def replay(
        cls,
        entries: Iterable[ManifestEntry],
        lines: Iterable[JournalLine],
        place: Callable[[str], str] = str,
    ) -> "Known":
        """Manifest *entries*, then the journal's *lines*, in order.

        *place* gives paths that are one to the card's file system the same text. A file aside may
        lie at its path only from the line "placing" on: until then something else may, even one
        of the same size.
        """
        known = cls()
        for listed in entries:
            known.candidates.setdefault(place(listed.path), []).append(listed)
        for line in lines:
            entry = line.entry
            if line.kind == "sure":
                known.unsure.clear()
                known.unsure_asides.clear()
            elif line.kind == "placing":
                known.unsure_asides.update(known.asides)
                for placed in known.asides.values():
                    known.unsure.add(place(placed.path))
                    _first(known.candidates.setdefault(place(placed.path), []), placed)
            elif entry is not None and line.kind == "put":
                known.asides.pop(line.aside, None)  # what was told last comes last
                known.asides[line.aside] = entry
                known.unsure_asides.add(line.aside)
        return known


def _first(candidates: list[ManifestEntry], entry: ManifestEntry) -> None:
    if entry in candidates:
        candidates.remove(entry)
    candidates.insert(0, entry)
