"""What is known before a plan is made: how large dressed files are, and how loud masters sound."""

from collections.abc import Iterator, Mapping

from syncd.model import AudioHash, LibrarySnapshot
from syncd.planner.card_state import Source
from syncd.planner.gain import NOTHING_HEARD, Heard, LevelKey
from syncd.transcoder.dressed_sizes import DressedSizes
from syncd.transcoder.measurements import Measurements
from syncd.transcoder.store import PressingKey, Store


class KnownSizes(Mapping[Source, int]):
    """The exact sizes of dressed files: those kept at home, read when first asked, and new ones."""

    def __init__(self, library: LibrarySnapshot, store: Store) -> None:
        self.sizes: dict[Source, int] = {}
        self.kept = DressedSizes(store.folder)
        self._library = library
        self._store = store
        self._read = False
        self._masters: dict[AudioHash, int] = {}

    def bytes_of(self, key: PressingKey) -> int | None:
        """Bytes of what is dressed: the pressing, or the master that is carried over."""
        self._begin()
        return self._masters.get(key[0]) if key[1].endswith("-carry") else self._pressings.get(key)

    def look_again(self) -> None:
        """See what was pressed since the first look."""
        self._begin()
        self._pressings = self._store.sizes()

    def _begin(self) -> None:
        if self._read:
            return
        self._read = True
        self._pressings = self._store.sizes()
        self._masters = {
            entry.track.audio_hash: entry.track.size_bytes for entry in self._library.tracks
        }
        self.sizes |= self.kept.known(self.bytes_of)

    def __getitem__(self, source: Source) -> int:
        self._begin()
        return self.sizes[source]

    def get(self, source: Source, default: int | None = None) -> int | None:  # type: ignore[override]
        """Bytes of the file made from *source*; *default* where that is not known."""
        self._begin()
        return self.sizes.get(source, default)

    def __iter__(self) -> Iterator[Source]:
        self._begin()
        return iter(self.sizes)

    def __len__(self) -> int:
        self._begin()
        return len(self.sizes)


class KnownLevels:
    """What was measured, and what cannot be: whatever holds such a track has no loudness."""

    def __init__(self, measured: Measurements, unmeasurable: set[LevelKey]) -> None:
        self._measured = measured
        self._unmeasurable = unmeasurable

    def known(self, key: LevelKey) -> bool:
        """Whether there is nothing left to measure."""
        return key in self._unmeasurable or self._measured.known(key)

    def of(self, keys: tuple[LevelKey, ...]) -> Heard | None:
        """What *keys* sound like in a row."""
        if not self._unmeasurable.isdisjoint(keys):
            return NOTHING_HEARD
        return self._measured.of(keys)
