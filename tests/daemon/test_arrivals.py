"""Volumes that come and go, that answer slowly or not at all."""

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from daemon_kit import Clock, Table, run_until

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import CardIdentity, write_identity
from syncd.daemon.arrivals import SLOW_S, Arrivals, Sighting, look_at
from syncd.daemon.loop import Loop
from syncd.daemon.mounts import Mount

KITCHEN = CardIdentity("2b0b6ad8-1f6c-4a43-a35f-6b6a6f0d3c55", "KITCHEN")


class Looking:
    """Looks that wait until a test lets them go on."""

    def __init__(self) -> None:
        self.gates: dict[str, threading.Event] = {}
        self.looked: list[str] = []

    def __call__(self, mount: Mount) -> Sighting:
        self.looked.append(mount.place)
        if mount.place in self.gates:
            self.gates[mount.place].wait(60)
        return Sighting(mount, KITCHEN)


@pytest.fixture
def looking() -> Iterator[Looking]:
    made = Looking()
    yield made
    for gate in made.gates.values():
        gate.set()


def arrivals(
    loop: Loop, table: Table, look: Callable[[Mount], Sighting], folders: tuple[str, ...] = ()
) -> tuple[Arrivals, list[int]]:
    changes: list[int] = []
    made = Arrivals(
        loop, lambda changed: table(loop, changed), lambda: changes.append(1), folders=folders,
        look=look,
    )  # fmt: skip
    return made, changes


def test_a_volume_is_slow_once_it_should_have_answered_and_no_longer_when_it_has(
    looking: Looking,
) -> None:
    clock, table = Clock(), Table()
    loop = Loop(clock)
    gate = looking.gates["/media/slow"] = threading.Event()
    made, changes = arrivals(loop, table, looking)
    table.mount("/media/slow")
    assert made.waiting() and made.slow() == ()
    clock.now += SLOW_S + 1
    loop.soon(lambda: None)
    loop.once()
    assert [mount.place for mount in made.slow()] == ["/media/slow"] and len(changes) == 1
    gate.set()
    run_until(loop, lambda: not made.waiting())
    assert made.slow() == () and len(changes) == 2
    # Looked at once more, it answers as before and in time: nobody is woken for that.
    made.look_again(["/media/slow"])
    run_until(loop, lambda: not made.waiting())
    assert made.slow() == () and len(changes) == 2
    clock.now += SLOW_S + 1
    assert loop._patience_ms() is None
    made.close()
    loop.close()


def test_a_card_s_own_file_says_who_it_is(tmp_path: Path) -> None:
    mount = Mount(str(tmp_path), "vfat", "8:1", "1")
    assert look_at(mount).identity is None
    with FolderVolume(tmp_path) as volume:
        write_identity(volume, KITCHEN)
    seen = look_at(mount)
    assert seen.identity == KITCHEN and not seen.problem
    (tmp_path / "SYNCD" / "card.json").write_text("{torn")
    damaged = look_at(mount)
    assert damaged.damaged and "Enrol the card again" in damaged.problem


def test_looking_writes_nothing(tmp_path: Path) -> None:
    look_at(Mount(str(tmp_path), "vfat", "8:1", "1"))
    assert list(tmp_path.iterdir()) == []


def test_a_volume_that_does_not_answer_holds_up_no_other(looking: Looking) -> None:
    loop, table = Loop(), Table()
    looking.gates["/media/stuck"] = threading.Event()
    made, _ = arrivals(loop, table, looking)
    table.mount("/media/stuck")
    good = table.mount("/media/good")
    run_until(loop, lambda: bool(made.sightings()))
    assert [seen.mount for seen in made.sightings()] == [good]
    assert [mount.place for mount in made.waiting()] == ["/media/stuck"]
    looking.gates["/media/stuck"].set()
    run_until(loop, lambda: len(made.sightings()) == 2)
    made.close()
    loop.close()


def test_an_answer_for_a_mount_that_is_gone_is_not_heeded(looking: Looking) -> None:
    loop, table = Loop(), Table()
    gate = looking.gates["/media/x"] = threading.Event()
    made, _ = arrivals(loop, table, looking)
    table.mount("/media/x")
    table.unmount("/media/x")
    del looking.gates["/media/x"]
    again = table.mount("/media/x")
    run_until(loop, lambda: bool(made.sightings()))
    gate.set()
    run_until(loop, lambda: threading.active_count() == 1)
    loop.soon(lambda: None)
    loop.once()
    assert [seen.mount for seen in made.sightings()] == [again]
    made.close()
    loop.close()


def test_each_mount_is_looked_into_once(looking: Looking) -> None:
    loop, table = Loop(), Table()
    made, changes = arrivals(loop, table, looking)
    table.mount("/media/x")
    run_until(loop, lambda: bool(made.sightings()))
    for _ in range(5):
        table.changed()
    assert looking.looked == ["/media/x"]
    assert len(changes) == 1
    table.unmount("/media/x")
    assert made.sightings() == () and len(changes) == 2
    made.close()
    loop.close()


def test_network_and_kernel_file_systems_are_not_looked_into(looking: Looking) -> None:
    loop, table = Loop(), Table()
    made, _ = arrivals(loop, table, looking)
    for kind in ("nfs4", "cifs", "proc", "sysfs", "autofs", "fuse.sshfs"):
        table.mount(f"/x/{kind}", kind=kind)
    assert looking.looked == [] and made.waiting() == ()
    made.close()
    loop.close()


def test_a_folder_named_in_the_settings_is_looked_at_like_a_volume(tmp_path: Path) -> None:
    loop, table = Loop(), Table()
    card = tmp_path / "card"
    made, _ = arrivals(loop, table, look_at, (str(card),))
    made.refresh()
    assert made.sightings() == ()
    card.mkdir()
    with FolderVolume(card) as volume:
        write_identity(volume, KITCHEN)
    made.refresh()
    run_until(loop, lambda: bool(made.sightings()))
    assert made.sightings()[0].identity == KITCHEN
    card.rename(tmp_path / "elsewhere")
    made.refresh()
    assert made.sightings() == ()
    made.close()
    loop.close()


def test_a_volume_for_which_no_thread_is_to_be_had_is_looked_at_again(
    looking: Looking, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, table = Clock(), Table()
    loop = Loop(clock)
    made, _ = arrivals(loop, table, looking)

    def none_left(thread: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    with monkeypatch.context() as short:
        short.setattr(threading.Thread, "start", none_left)
        table.mount("/media/card")
        run_until(loop, lambda: bool(made.sightings()))
    assert "cannot be looked at now" in made.sightings()[0].problem
    clock.now += 1.0
    run_until(loop, lambda: made.sightings()[0].identity == KITCHEN)
    made.close()
    loop.close()
