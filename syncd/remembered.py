"""What a card held when it was last here, kept at home: so pressings can be made while it is away.

A small file a card beside its record. It is a memory, not the truth: the card itself is read before
anything is written to it, and a memory that is lost or damaged costs time only.
"""

import contextlib
import os
from pathlib import Path

import msgspec

from syncd.planner.card_state import CardState
from syncd.settings import Home

_FORM = 1


class _Memory(msgspec.Struct, frozen=True):
    form: int
    entries: list[tuple[str, int, str, str, str, str]]
    foreign: list[str]
    catalogue_key: str | None
    bytes_free: int
    cluster_bytes: int
    own_bytes: int
    largest_file_bytes: int | None


def _file(home: Home, card_id: str) -> Path:
    return home.cards / f"{card_id}.held"


def remember(home: Home, card_id: str, state: CardState) -> None:
    """Keep *state* as what the card held last. A full disk at home is no fault of the card's."""
    memory = _Memory(
        _FORM,
        [
            (e.path, e.size, e.xxh3_128, e.source.audio, e.source.recipe, e.source.dress)
            for e in state.entries
        ],
        [path for path in state.foreign if _is_unicode(path)],  # no plan needs the others
        state.catalogue_key,
        state.bytes_free,
        state.cluster_bytes,
        state.own_bytes,
        state.largest_file_bytes,
    )
    path = _file(home.made(), card_id)
    aside = path.with_suffix(f".{os.getpid()}")
    with contextlib.suppress(OSError):
        try:
            aside.write_bytes(msgspec.msgpack.encode(memory))
            aside.replace(path)
        finally:
            aside.unlink(missing_ok=True)


def recall(home: Home, card_id: str) -> CardState | None:
    """What the card held last; None if it was never remembered, or the memory is of no use."""
    from syncd.model import CardPath, ContentHash
    from syncd.planner.card_state import ManifestEntry, Source

    try:
        memory = msgspec.msgpack.decode(_file(home, card_id).read_bytes(), type=_Memory)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError):
        return None
    if memory.form != _FORM:
        return None
    return CardState(
        entries=tuple(
            ManifestEntry(CardPath(path), size, ContentHash(digest), Source(audio, recipe, dress))
            for path, size, digest, audio, recipe, dress in memory.entries
        ),
        foreign=tuple(CardPath(path) for path in memory.foreign),
        catalogue_key=memory.catalogue_key,
        bytes_free=memory.bytes_free,
        cluster_bytes=memory.cluster_bytes,
        own_bytes=memory.own_bytes,
        largest_file_bytes=memory.largest_file_bytes,
    )


def _is_unicode(path: str) -> bool:
    return not any("\ud800" <= letter <= "\udfff" for letter in path)
