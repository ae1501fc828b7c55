"""What is begun and given up, from what is due and under way."""

import itertools

from syncd.daemon.duties import Due, Duties, duties


def every_due() -> list[Due]:
    """All that may be the case, with two cards."""
    flags = list(itertools.product((False, True), repeat=6))
    waiting = ((), ("a",), ("a", "b"))
    updating = (frozenset(), frozenset({"a"}))
    return [
        Due(scan, ahead, cards, scanning, pressing, busy, unbegun and bool(busy), halted)
        for scan, ahead, scanning, pressing, unbegun, halted in flags
        for cards in waiting
        for busy in updating
    ]


def test_nothing_is_begun_twice() -> None:
    for due in every_due():
        todo = duties(due)
        assert not (todo.scan and due.scanning), due
        assert not (todo.ahead and due.pressing), due
        assert not set(todo.cards) & due.updating, due


def test_nothing_is_begun_while_the_daemon_gives_way_or_stops() -> None:
    for due in every_due():
        if due.halted:
            assert duties(due) == Duties(stop_all=True)
        else:
            assert not duties(due).stop_all


def test_no_update_takes_its_snapshot_while_a_scan_writes_the_index() -> None:
    for due in every_due():
        todo = duties(due)
        if due.scanning or todo.scan:
            assert todo.cards == ()
        if due.unbegun:
            assert not todo.scan


def test_an_update_that_has_begun_does_not_keep_a_scan_waiting() -> None:
    assert duties(Due(scan=True, updating=frozenset("a"))).scan


def test_pressing_ahead_is_given_up_as_soon_as_a_card_or_a_scan_wants_to_run() -> None:
    for due in every_due():
        todo = duties(due)
        if due.pressing and not due.halted and (due.cards or todo.scan):
            assert todo.stop_ahead, due
        if not due.pressing:
            assert not todo.stop_ahead


def test_pressing_ahead_begins_only_when_nothing_else_is_wanted() -> None:
    for due in every_due():
        if duties(due).ahead:
            assert not (due.scan or due.scanning or due.cards or due.updating)


def test_two_cards_are_updated_at_once() -> None:
    assert duties(Due(cards=("a", "b"))).cards == ("a", "b")
    assert duties(Due(cards=("a", "b"), updating=frozenset("a"))).cards == ("b",)


def test_whatever_is_due_is_begun_at_last() -> None:
    """Carrying out the duties again and again, with jobs that end, leaves nothing due."""
    for start in every_due():
        if start.halted:
            continue
        due = start
        for _ in range(8):
            todo = duties(due)
            due = Due(
                scan=due.scan and not todo.scan,
                ahead=(due.ahead or todo.stop_ahead) and not todo.ahead,
                cards=tuple(card for card in due.cards if card not in todo.cards),
            )  # what was under way has ended
        assert due == Due(), start
