"""What is to be begun and what is to be given up now: pure, from what is due and under way.

The order of things: a scan that is due comes before updates, so that a card gets what is new; while
a scan reads, the index is half done, and cards wait for its end. An update that has taken its
snapshot of the library does not mind a scan. What is pressed ahead of time gives way to both.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Due:
    """What the keeper knows when it decides. Cards are given by their ids.

    ``unbegun`` tells that an update is under way that has not taken its snapshot yet. ``halted``:
    nothing may run, because the daemon stops or gives way to a command.
    """

    scan: bool = False
    ahead: bool = False
    cards: tuple[str, ...] = ()
    scanning: bool = False
    pressing: bool = False
    updating: frozenset[str] = frozenset()
    unbegun: bool = False
    halted: bool = False


@dataclass(frozen=True, slots=True)
class Duties:
    """What to begin, and what to give up. ``stop_all`` is everything that is under way."""

    scan: bool = False
    ahead: bool = False
    cards: tuple[str, ...] = ()
    stop_ahead: bool = False
    stop_all: bool = False


def duties(due: Due) -> Duties:
    """What is to be done now. Asked again after everything that happens."""
    if due.halted:
        return Duties(stop_all=True)
    waiting = tuple(card for card in due.cards if card not in due.updating)
    scan = due.scan and not due.scanning and not due.unbegun
    cards = () if scan or due.scanning else waiting
    busy = bool(due.scan or due.scanning or waiting or due.updating)
    return Duties(
        scan=scan,
        ahead=due.ahead and not due.pressing and not busy,
        cards=cards,
        stop_ahead=due.pressing and bool(waiting or due.updating or scan),
    )
