"""The cards that are plugged in: which came and left, what is due for each, what is told of it.

Beginning and stopping their updates is the keeper's; which volume is which card is ``presence``'s.
"""

import logging
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from syncd.cards import CardRecord
from syncd.daemon import telling
from syncd.daemon.arrivals import Sighting
from syncd.daemon.held import Held
from syncd.daemon.household import Household
from syncd.daemon.loop import Loop
from syncd.daemon.mounts import Mount
from syncd.daemon.pauses import Pauses
from syncd.daemon.ports import Notice
from syncd.daemon.presence import Presence, presence
from syncd.daemon.state import CardNow, CardStage, Doing
from syncd.errors import CardProblem, SetupProblem

_log = logging.getLogger("syncd.daemon")


@dataclass(slots=True, eq=False)
class Card:
    """A card that is plugged in. ``told`` is what the listener was last told of it."""

    record: CardRecord
    mount: Mount
    held: Held
    stage: CardStage = CardStage.WAITING
    message: str = ""
    told: str = ""


class PluggedIn:
    """The cards that are plugged in, by their ids in ``cards``.

    *step* is called when a pause is over, *tell* with each notice; *now* is the clock on the wall.
    ``presence`` is what was made of the volumes last.
    """

    def __init__(
        self,
        loop: Loop,
        house: Household,
        step: Callable[[], None],
        tell: Callable[[Notice], None],
        now: Callable[[], float],
    ) -> None:
        self.cards: dict[str, Card] = {}
        self.presence = Presence({}, {}, {})
        self._loop, self._house, self._step = loop, house, step
        self._tell, self._now = tell, now
        self._updated: dict[str, float] = {}
        self._parting: dict[str, str] = {}
        self._told: set[str] = set()

    # -- coming and going ---------------------------------------------------------------------

    def volumes_are(self, sightings: Sequence[Sighting]) -> list[Card]:
        """Take in what was seen on the volumes; the cards that have left."""
        at = {card_id: card.mount for card_id, card in self.cards.items()}
        self.presence = presence(sightings, self._house.known, at)
        gone = [card for card in self.cards.values() if not self._is_there(card)]
        for card in gone:
            _log.info("The card %s is no longer at %s.", card.record.name, card.mount.place)
            del self.cards[card.record.id]
            card.held.cancel()
        for record in self._house.known:
            if record.id in self.presence.at and record.id not in self.cards:
                self._arrived(record, self.presence.at[record.id])
        doubles = (*self.presence.twice.values(), *self.presence.copies.values())
        self._told &= {*doubles, *self._house.problems.values()}
        for text in doubles:
            self.tell_once(Notice("A card is here twice", text, urgent=True))
        return gone

    def _is_there(self, card: Card) -> bool:
        return self.presence.at.get(card.record.id) == card.mount

    def tell_once(self, notice: Notice) -> None:
        """Tell what every look finds only when it is new."""
        if notice.text not in self._told:
            self._told.add(notice.text)
            _log.warning("%s", notice.text)
            self._tell(notice)

    def _arrived(self, record: CardRecord, mount: Mount) -> None:
        held = Held(self._loop, self._step, Pauses(2.0, 3600.0), due=record.auto == "update")
        card = self.cards[record.id] = Card(record, mount, held)
        self._parting.pop(record.id, None)
        _log.info("The card %s is at %s.", record.name, mount.place)
        if not held.due:
            notice = self._asks(card)
            _log.info("%s: %s", record.name, notice.text)
            self._tell(notice)

    @staticmethod
    def _asks(card: Card) -> Notice:
        """From now on it waits to be asked for; what there is to tell of that."""
        notice = telling.asking_notice(card.record.name, card.mount.place)
        card.stage, card.message = CardStage.ASKING, notice.text
        return notice

    # -- what is due --------------------------------------------------------------------------

    def due(self) -> tuple[str, ...]:
        """The ids of the cards that are to be updated now, in the order of their names."""
        by_name = sorted(self.cards.items(), key=lambda one: (one[1].record.name, one[0]))
        return tuple(card_id for card_id, card in by_name if card.held.now)

    def all_due(self) -> None:
        """Something changed that all cards depend on."""
        for card in self.cards.values():
            self._make_due(card)

    def changed(self, ids: Iterable[str]) -> None:
        """The records, programmes or profiles of these cards changed."""
        for record in self._house.known:
            if record.id in ids and record.id in self.cards:
                card = self.cards[record.id]
                if record.auto != card.record.auto:
                    card.held.due = False
                card.record = record
                self._make_due(card)

    def _make_due(self, card: Card) -> None:
        card.held.reset()
        if card.record.auto == "update":
            card.held.due = True
        elif not card.held.due and card.stage is not CardStage.UPDATING:
            self._asks(card)

    def asked_for(self, name: str) -> str:
        """Make the card with this name, id or mount point due; its name.

        Raises SetupProblem when it is not known here, CardProblem when it is not plugged in.
        """
        for record in self._house.known:
            card = self.cards.get(record.id)
            place = None if card is None else card.mount.place
            if name.casefold() != record.name.casefold() and name not in (record.id, place):
                continue
            if card is None:
                twice = self.presence.twice.get(record.id)
                raise CardProblem(twice or f"The card {record.name} is not plugged in.")
            card.held.reset()
            card.held.due, card.told = True, ""
            return record.name
        raise SetupProblem(f"No card is called '{name}'. 'syncd cards' lists those that are known.")

    # -- how updates end ----------------------------------------------------------------------

    def update_ended(self, card: Card, event: dict[str, Any], *, current: bool) -> bool:
        """Take in the outcome of *card*'s update; whether its volume should be looked at again.

        *current*: nothing that it depends on changed meanwhile.
        """
        card_id, name = card.record.id, card.record.name
        here = self.cards.get(card_id) is card
        if event["event"] == "done":
            self._done(card, event)
            if here and not current:
                self._make_due(card)
            return False
        if event["event"] == "stopped" and here:
            card.stage, card.held.due = CardStage.WAITING, True
            return False
        text = event.get("message", "")
        if not here and event.get("kind") != "gone":
            text = telling.gone_text(name)
        busy = event.get("kind") == "busy"
        card.stage = CardStage.BUSY if busy else CardStage.FAILED
        card.message = text
        if not busy and card.told != text:
            card.told = text
            _log.warning("%s: %s", name, text)
            self._tell(telling.failed_notice(name, text))
        if here:
            card.held.failed()
        else:
            self._parting[card_id] = text
        return here

    def _done(self, card: Card, event: dict[str, Any]) -> None:
        name = card.record.name
        self._updated[card.record.id] = self._now()
        notice = telling.done_notice(name, event)
        card.stage, card.message = CardStage.DONE, notice.text
        self._parting[card.record.id] = notice.text
        if event.get("outdated"):
            card.held.failed()  # the library is another one by now: once more, after a scan
        else:
            card.held.reset()
        _log.info("%s: %s", name, notice.text)
        if event["steps"] or event["unmounted"] or not card.told:
            card.told = notice.text
            self._tell(notice)

    # -- showing ------------------------------------------------------------------------------

    def problems(self) -> tuple[str, ...]:
        """What is wrong with volumes that bear a known card's id."""
        return (*self.presence.twice.values(), *self.presence.copies.values())

    def shown(self, record: CardRecord, doing: Doing | None) -> CardNow:
        """The card of *record* as it is now."""
        card = self.cards.get(record.id)
        updated = self._updated.get(record.id)
        if card is None:
            twice = self.presence.twice.get(record.id, "")
            stage = CardStage.TWICE if twice else CardStage.AWAY
            said = twice or self._parting.get(record.id, "")
            return CardNow(record.id, record.name, stage, message=said, updated=updated)
        place = card.mount.place
        return CardNow(record.id, record.name, card.stage, place, card.message, doing, updated)
