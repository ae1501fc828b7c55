"""When a folder has come to rest."""

from itertools import pairwise

from daemon_kit import Clock

from syncd.daemon.stirring import PATIENCE_S, Stirring

ROOT, A, B = b"/m", b"/m/a", b"/m/b"


def made(most: int = 100) -> tuple[Stirring, Clock]:
    clock = Clock()
    return Stirring(ROOT, 60.0, clock, most), clock


def test_a_folder_that_looks_the_same_twice_has_come_to_rest() -> None:
    stirring, clock = made()
    stirring.stir(A)
    clock.now += 29
    assert stirring.due() == []
    clock.now += 1
    assert stirring.due() == [A]
    stirring.looked({A: 1})
    assert stirring.take() == set()
    clock.now += 29
    assert stirring.due() == []
    clock.now += 1
    stirring.looked({A: 1})
    assert stirring.take() == {A}
    assert stirring.take() == set()
    assert stirring.restless() == ()


def test_a_folder_whose_files_grow_without_an_event_does_not_come_to_rest() -> None:
    stirring, clock = made()
    stirring.stir(A)
    for look in range(20):
        clock.now += 60
        stirring.looked({A: look})
        assert stirring.take() == set()
        assert stirring.restless() == (A,)
    clock.now += 60
    stirring.looked({A: 19})
    assert stirring.take() == {A}


def test_an_event_between_the_looks_begins_the_settling_time_anew() -> None:
    stirring, clock = made()
    stirring.stir(A)
    clock.now += 30
    stirring.looked({A: 1})
    clock.now += 29
    stirring.stir(A)
    clock.now += 29
    stirring.looked({A: 1})
    assert stirring.due() == []
    assert stirring.take() == set()


def test_one_folder_that_stirs_keeps_no_other_waiting() -> None:
    stirring, clock = made()
    stirring.stir(A)
    stirring.stir(B)
    for seen in (1, 1):
        clock.now += 30
        stirring.stir(A)
        stirring.looked({B: seen})
    assert stirring.take() == {B}
    assert stirring.restless() == (A,)


def test_while_folders_stir_what_rests_is_handed_out_once_a_settling_time() -> None:
    stirring, clock = made()
    handed = []
    for number in range(40):
        stirring.stir(b"/m/%d" % number)
        clock.now += 30
        for folder in stirring.due():
            stirring.looked({folder: 7})
        if taken := stirring.take():
            handed.append((clock.now, len(taken)))
    times = [at for at, _ in handed]
    assert len(times) > 5
    assert all(later - sooner >= 60 for sooner, later in pairwise(times))


def test_more_folders_than_are_kept_apart_are_taken_for_the_whole_root() -> None:
    stirring, clock = made(most=10)
    for number in range(10_000):
        stirring.stir(b"/m/%d" % number)
        assert len(stirring.restless()) <= 10
    assert stirring.restless() == (b"/m/",)
    clock.now += 30
    stirring.looked({b"/m/": 0})
    clock.now += 30
    stirring.looked({b"/m/": 0})
    assert stirring.take() == {ROOT}


def test_a_folder_that_is_always_written_to_is_due_after_the_longest_patience() -> None:
    stirring, clock = made()
    stirring.stir(A)
    began = clock.now
    taken: set[bytes] = set()
    while not taken:
        clock.now += 20
        stirring.stir(A)
        stirring.looked(dict.fromkeys(stirring.due(), 0))
        taken = stirring.take()
    assert taken == {A}
    assert PATIENCE_S <= clock.now - began <= PATIENCE_S + 20


def test_only_the_first_change_wakes_the_keeper() -> None:
    stirring, clock = made()
    assert stirring.stir(A)
    stirring.next_at(looking=False)
    wakes = sum(stirring.stir(b"/m/%d" % number) for number in range(90))
    assert wakes == 0
    clock.now += 5
    assert not stirring.stir(A)


def test_what_rests_is_told_within_a_second_of_its_settling_time() -> None:
    stirring, clock = made()
    stirring.stir(A)
    began = clock.now
    while not stirring.take():
        at = stirring.next_at(looking=False)
        assert at is not None
        clock.now = at
        stirring.looked(dict.fromkeys(stirring.due(), 1))
    assert 60 <= clock.now - began <= 61


def test_nothing_that_stirs_asks_for_no_time() -> None:
    stirring, _ = made()
    assert stirring.next_at(looking=False) is None
    stirring.keep_stirring(A)
    assert stirring.next_at(looking=False) is None
