"""What commands and daemon do alike: the errata, a card in hand, an updater for this home."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from syncd.errors import CardGone, CardProblem
from syncd.model import LibrarySnapshot, Track
from syncd.settings import Home

# Cards and updating are imported where they are needed: a scan with nothing new needs neither.
if TYPE_CHECKING:
    from syncd.cards import CardRecord
    from syncd.updating.updater import Updater
    from syncd.updating.values import Report, Target
    from syncd.works.errata import Errata


def read_corrections(home: Home) -> "Errata | None":
    """The listener's errata, None where there are none. Raises SetupProblem for a faulty entry."""
    if not home.errata_file.exists():
        return None
    from syncd import errata_file

    return errata_file.read_corrections(home)


def forgiving(home: Home) -> Callable[[Track], bool]:
    """Which damaged tracks the listener wants used: by the errata, else by the settings."""
    use = home.settings().damaged == "use"
    errata = read_corrections(home)
    if errata is None or not errata.speaks_of_damage():
        return lambda track: use

    def forgives(track: Track) -> bool:
        artists = (track.artist, *track.artist.split("; "))
        said = errata.correction(track.path, track.album, artists, (), (track.album_artist,))
        return use if said.damaged is None else said.damaged == "use"

    return forgives


def speaks_of_damage(home: Home) -> bool:
    """Whether the errata say of any damaged file what is to be done with it."""
    errata = read_corrections(home)
    return errata is not None and errata.speaks_of_damage()


@dataclass(frozen=True, slots=True)
class Hand:
    """A card in hand: its record, where it is, and what an update needs of it."""

    record: "CardRecord"
    mount: Path
    target: "Target"


@contextmanager
def card_in_hand(home: Home, card: str, programme_file: Path | None = None) -> Iterator[Hand]:
    """The card that *card* means, locked for this process; with another programme to try."""
    from syncd import cards

    record, mount = cards.find(home, card)
    with _hand(record, mount, programme_file) as hand:
        yield hand


@contextmanager
def card_at(home: Home, card_id: str, name: str, mount: Path) -> Iterator[Hand]:
    """The card that the caller knows to be at *mount*, locked for this process.

    No other volume is looked at: one that does not answer holds up no other card, and which of a
    card and its copies is meant, the caller knows. Raises CardGone when it is not there any more.
    """
    from syncd import cards

    record = cards.record_at(home, mount)
    if record is None or record.id != card_id:
        raise CardGone(
            f"The card {name} is at {mount} no longer. Plug it in again; the update goes on from "
            "there."
        )
    with _hand(cards.seen_at(home, record, mount), mount.absolute()) as hand:
        yield hand


@contextmanager
def _hand(record: "CardRecord", mount: Path, programme_file: Path | None = None) -> Iterator[Hand]:
    from syncd import cards
    from syncd.applier.locked import open_volume
    from syncd.planner.programme import read_programme
    from syncd.updating.values import Target

    profile = record.read_profile()
    programme = (
        record.read_programme() if programme_file is None else read_programme(programme_file)
    )
    with open_volume(mount, record.name) as volume:
        target = Target(volume, profile, programme, cards.largest_file(mount), record.read_back)
        yield Hand(record, mount, target)


@contextmanager
def updater(
    home: Home,
    library: LibrarySnapshot,
    report: "Report | None" = None,
    scratch: str = "scratch",
) -> "Iterator[Updater]":
    """An updater with this home's store and settings. Raises SetupProblem.

    *scratch* is the folder below the state's for what is made on the way.
    """
    from syncd import cards
    from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
    from syncd.transcoder.store import Store
    from syncd.updating.updater import Updater

    settings = home.settings()
    forgives = forgiving(home)
    with Store(home.store) as store:
        yield Updater(
            library,
            store,
            Ffmpeg(find_ffmpeg(settings.ffmpeg) if settings.ffmpeg else None),
            home.state / scratch,
            workers=settings.workers,
            report=report,
            store_limit_bytes=int(settings.store_limit_gb * 1e9),
            forgives=forgives,
            checks=settings.damaged != "use" or speaks_of_damage(home),
            needed_elsewhere=lambda: cards.needed_pressings(home),
        )


def remember(home: Home, hand: Hand) -> None:
    """Keep at home what the card in *hand* holds now, for the time when it is away.

    A card that cannot be read now is remembered as it was: that is told where it is updated.
    """
    from syncd import remembered
    from syncd.applier.reading import read_card

    limit = hand.target.largest_file_bytes
    with suppress(CardProblem):
        reading = read_card(hand.target.volume, largest_file_bytes=limit)
        remembered.remember(home, hand.record.id, reading.state)
