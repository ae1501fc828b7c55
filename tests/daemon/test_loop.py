"""The loop: it waits, is woken, and survives what is wrong with what it calls."""

import logging
import os
import signal
import sys
import threading
from pathlib import Path

import pytest
from daemon_kit import DONE, PRESSED, SCANNED, Clock, World, run_until

from syncd.daemon.loop import Loop
from syncd.daemon.pauses import Pauses


def test_calls_are_made_in_the_order_of_their_times_and_not_before() -> None:
    clock, made = Clock(), list[str]()
    loop = Loop(clock)
    loop.after(2, lambda: made.append("second"))
    loop.after(1, lambda: made.append("first"))
    loop.after(3, lambda: made.append("never")).cancel()
    loop.soon(lambda: None)
    loop.once()
    assert made == []
    clock.now += 5
    loop.once()
    assert made == ["first", "second"]
    loop.close()


def test_another_thread_wakes_it() -> None:
    loop, heard = Loop(), list[str]()
    thread = threading.Thread(
        target=lambda: loop.soon(lambda: heard.append(threading.current_thread().name))
    )
    thread.start()
    run_until(loop, lambda: bool(heard))
    thread.join()
    assert heard == [threading.current_thread().name]
    loop.close()


def test_very_many_wakes_before_it_looks_are_all_heard() -> None:
    loop, heard = Loop(), list[int]()
    for number in range(100_000):  # more than the pipe that wakes it holds
        loop.soon(lambda number=number: heard.append(number))  # type: ignore[misc]
    loop.once()
    assert heard == list(range(100_000))
    loop.close()


def test_a_fault_in_a_call_is_logged_and_ends_nothing(caplog: pytest.LogCaptureFixture) -> None:
    loop, heard = Loop(), list[str]()
    loop.soon(lambda: 1 // 0)  # type: ignore[arg-type, return-value]
    loop.soon(lambda: heard.append("next"))
    with caplog.at_level(logging.ERROR):
        loop.once()
    assert heard == ["next"]
    assert "ZeroDivisionError" in caplog.text
    loop.close()


def test_a_call_that_asks_for_another_does_not_keep_the_loop_from_waiting() -> None:
    loop, count = Loop(), [0]

    def again() -> None:
        count[0] += 1
        loop.soon(again)

    loop.soon(again)
    loop.once()
    assert count == [1]
    loop.close()


def test_a_descriptor_that_was_closed_meanwhile_does_not_keep_it_awake(
    caplog: pytest.LogCaptureFixture,
) -> None:
    loop, seen = Loop(), list[int]()
    reader, writer = os.pipe()
    loop.attend(reader, seen.append)
    os.close(reader)
    os.close(writer)
    loop.once()
    assert "was closed" in caplog.text and seen == []
    assert reader not in loop._attended
    loop.close()


def test_times_that_are_taken_back_do_not_pile_up() -> None:
    loop, made = Loop(clock := Clock()), list[int]()
    loop.after(5000, lambda: made.append(1))
    for _ in range(10_000):
        loop.after(3600, lambda: made.append(2)).cancel()
    assert len(loop._timers) < 200
    clock.now += 6000
    loop.once()
    assert made == [1]
    loop.close()


def test_pauses_grow_to_the_longest_and_begin_anew() -> None:
    pauses = Pauses(1.0, 10.0)
    assert [pauses.next_s() for _ in range(6)] == [1, 2, 4, 8, 10, 10]
    for _ in range(5000):
        assert pauses.next_s() == 10
    pauses.reset()
    assert pauses.next_s() == 1


def test_at_rest_the_keeper_waits_for_no_time_of_its_own_but_its_round(tmp_path: Path) -> None:
    """What is left for each minute is the round, which only :meth:`run` begins."""
    world = World(tmp_path)
    kitchen = world.enrolled("KITCHEN")
    world.begin()
    world.end("scan", SCANNED)
    world.end("ahead", PRESSED)
    world.plug(kitchen)
    world.table.mount("/media/me/STICK")
    world.settle()
    world.end("update", DONE)
    while "ahead" in world.kinds():
        world.end("ahead", PRESSED)
    world.pass_s(100)
    assert world.loop._patience_ms() is None


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks Linux who waits")
def test_a_signal_that_interrupts_no_waiting_wakes_the_loop_all_the_same() -> None:
    loop = Loop()
    heard: list[str] = []
    loop.after(10, lambda: heard.append("too late"))
    before = signal.signal(
        signal.SIGUSR1, lambda number, frame: loop.soon(lambda: heard.append("signal"))
    )
    main = Path(f"/proc/self/task/{threading.get_native_id()}/stat")

    def send() -> None:
        waits = 0  # looks in a row that find it waiting, as proc(5) tells by an S
        while waits < 50:
            waits = waits + 1 if main.read_text().rpartition(")")[2].split()[0] == "S" else 0
        signal.pthread_kill(threading.get_ident(), signal.SIGUSR1)  # taken by this thread

    try:
        loop.heed_signals()
        sender = threading.Thread(target=send, daemon=True)
        sender.start()
        while not heard:
            loop.once()
        sender.join()
    finally:
        loop.close()
        signal.signal(signal.SIGUSR1, before)
    assert heard == ["signal"]
    assert signal.set_wakeup_fd(-1) == -1
