"""What a card is at one moment, as the planner sees it: values only."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from syncd.model import CardPath, ContentHash


@dataclass(frozen=True, slots=True)
class Source:
    """What a file on a card was made from.

    ``audio`` is the audio hash of the track, ``recipe`` the recipe's key, ``dress`` a digest of
    the tags and the picture that were written. For a playlist ``audio`` is empty, ``recipe`` is
    "playlist" and ``dress`` a digest of its text. For a picture file ``audio`` is the hash of the
    master's picture, ``recipe`` is "picture" and ``dress`` a digest of its form.
    """

    audio: str
    recipe: str
    dress: str


@dataclass(frozen=True, slots=True)
class ManifestEntry:
    """One file that syncd put on a card: its path, size, content hash and origin."""

    path: CardPath
    size: int
    xxh3_128: ContentHash
    source: Source


@dataclass(frozen=True, slots=True)
class CardState:
    """A card at one moment.

    ``entries`` are the manifest's files that are there with the size they should have;
    ``missing`` the others. ``foreign`` are the files that are not ours. ``catalogue_key`` is the
    content key of the catalogue that a player would open, None when there is none.
    ``bytes_free`` is what the card tells, ``cluster_bytes`` the unit in which files take room,
    ``largest_file_bytes`` the most that its file system allows, None for any. ``own_bytes`` is what
    the folder of syncd's own files takes, with files of ours that are not whole and go before
    anything is written. ``unfinished`` tells that an update was interrupted, so that there is
    tidying to do even where nothing else differs.
    """

    entries: tuple[ManifestEntry, ...] = ()
    missing: tuple[ManifestEntry, ...] = ()
    foreign: tuple[CardPath, ...] = ()
    catalogue_key: str | None = None
    bytes_free: int = 0
    cluster_bytes: int = 4096
    own_bytes: int = 0
    largest_file_bytes: int | None = None
    unfinished: bool = False
    empty_folders: tuple[CardPath, ...] = ()
    """Folders in which there is nothing and nothing of ours was: no file can take their place."""
    arrived: Mapping[Source, int] = field(default_factory=dict)
    """Files of an interrupted update that wait on the card, complete, for their place: sizes."""
    room: int | None = None
    """The bytes that an interrupted update chose music for, where room was short."""
    coming: frozenset[str] = frozenset()
    """Digests of the groups' keys that it had chosen beside what lay on the card then."""

    def with_less(self, spare: int) -> "CardState":
        """The same card, as if it had *spare* bytes less."""
        room = None if self.room is None else self.room - spare
        return replace(self, bytes_free=self.bytes_free - spare, room=room)

    def allocated(self, size: int) -> int:
        """Bytes that a file of *size* bytes takes on this card, in whole clusters."""
        return -(-size // self.cluster_bytes) * self.cluster_bytes
