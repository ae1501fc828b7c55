"""What is wrong with a file whose content is not what was written, in words for the listener."""

from collections.abc import Iterable, Iterator

import xxhash

from syncd.applier.volume import Volume, content_hash
from syncd.errors import CardGone, CardProblem
from syncd.planner.card_state import ManifestEntry

HEAD_BYTES = 4096
"""Of each file so much is remembered, as a hash: it holds tags or audio, and no other has it."""


class Heads:
    """How each file of a card begins, to know it where it does not belong."""

    def __init__(self, cluster_bytes: int) -> None:
        self.step = max(1, cluster_bytes)
        self.length = min(HEAD_BYTES, self.step)
        self._paths: dict[int, list[str]] = {}

    def watched(self, path: str, chunks: Iterable[bytes]) -> Iterator[bytes]:
        """The same *chunks*, the first of which is remembered."""
        begun = False
        for chunk in chunks:
            if not begun:
                begun = True
                self._remember(path, chunk[: self.length])
            yield chunk

    def _remember(self, path: str, head: bytes) -> None:
        if len(head) == self.length and head.count(head[:1]) < len(head):
            self._paths.setdefault(xxhash.xxh3_64_intdigest(head), []).append(path)

    def others(self, path: str, cluster: bytes) -> str | None:
        """Which other file begins as *cluster* does, if there is one."""
        found = self._paths.get(xxhash.xxh3_64_intdigest(cluster[: self.length]), ())
        return next((other for other in found if other != path), None)


def ailment(volume: Volume, entry: ManifestEntry, first: str, heads: Heads) -> str:
    """A sentence on the file of *entry*, whose content hash was *first* when it was read.

    Reads it once more. Raises CardGone.
    """
    looked = _Looked(entry.path, heads)
    try:
        volume.forget([entry.path])
        second = content_hash(looked.through(volume.chunks(entry.path)))
    except CardGone:
        raise
    except CardProblem as problem:
        return str(problem)
    if second == entry.xxh3_128:
        return "It was not read as it was written, but well when it was read again."
    if second != first:
        return "It is read otherwise each time."
    if looked.other is not None:
        at, other = looked.other
        return (
            f"From byte {at} on it holds what belongs to {other}: they share clusters, or the "
            "card is smaller than it says."
        )
    if looked.zeros >= 512:
        return f"Its content is lost: {looked.zeros} bytes of it are zeros in blocks."
    return "Its content is not what was written."


def is_rest(lying: Iterable[bytes], whole: Iterable[bytes]) -> bool:
    """Whether *lying* holds bytes of *whole* in their places and zeros, and nothing else."""
    held = b""
    source = iter(whole)
    for chunk in lying:
        while len(held) < len(chunk):
            more = next(source, None)
            if more is None:
                return False
            held += more
        ours, held = held[: len(chunk)], held[len(chunk) :]
        if chunk != ours and any(a not in (0, b) for a, b in zip(chunk, ours, strict=True)):
            return False
    return True


class _Looked:
    """What is seen in passing: blocks of zeros, and where another file begins."""

    def __init__(self, path: str, heads: Heads) -> None:
        self.path = path
        self.heads = heads
        self.zeros = 0
        self.other: tuple[int, str] | None = None

    def through(self, chunks: Iterable[bytes]) -> Iterator[bytes]:
        """The same chunks, looked at cluster by cluster."""
        step = self.heads.step
        held = b""
        at = 0
        for chunk in chunks:
            held += chunk
            whole = len(held) // step * step
            for start in range(0, whole, step):
                self._look(at + start, held[start : start + step])
            held, at = held[whole:], at + whole
            yield chunk
        if held:
            self._look(at, held)

    def _look(self, at: int, cluster: bytes) -> None:
        if not any(cluster):
            self.zeros += len(cluster)
        elif self.other is None and (other := self.heads.others(self.path, cluster)) is not None:
            self.other = (at, other)
