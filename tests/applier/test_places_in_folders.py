"""Where names stand in an exFAT folder, found out from what Linux's driver tells of it.

The real driver is met in ``tests/realfs``; here is a folder that answers as it does: with each name
where it goes on, which for the last one is where it stopped looking (fs/exfat/dir.c, Linux 6.1).
"""

import random
from dataclasses import dataclass

import pytest

from syncd.applier import geometry
from syncd.planner.capacity import EXFAT, Folder


@dataclass
class Answering:
    """A folder as entries, which answers what is asked of its descriptor."""

    starts: dict[str, int]
    unused: int
    """The first entry that was never used."""
    asked: int = 0

    def __call__(self, fd: int, start: int = 0, most: int | None = None) -> list[tuple[str, int]]:
        self.asked += 1
        found = [(".", 1), ("..", 0)] if start == 0 else []
        names = sorted(
            (at, name) for name, at in self.starts.items() if at >= start
        )  # it goes on from a place to the next name that begins there
        for number, (at, name) in enumerate(names):
            last = number == len(names) - 1
            found.append((name, self.unused if last else at + EXFAT.entries(name)))
            if most is not None and len(found) >= most and start:
                break
        return found


def worn(draw: random.Random, cluster_bytes: int) -> Answering:
    """A folder to which names came and from which they went."""
    folder = Folder(EXFAT, cluster_bytes)
    unused = 0
    starts: dict[str, int] = {}
    for number in range(draw.randint(0, 60)):
        if starts and draw.random() < 0.45:
            gone = draw.choice([*starts, max(starts, key=starts.__getitem__)])
            folder.remove(gone)
            del starts[gone]
        else:
            name = f"{number} " + "x" * draw.randint(1, 200)
            folder.add(name)
            # ``seen`` is asked for the places, which ``Folder`` keeps to itself but for their order
            at = _gap(starts, EXFAT.entries(name))
            starts[name] = at
            unused = max(unused, at + EXFAT.entries(name))
        assert folder.names == sorted(starts, key=starts.__getitem__)
    return Answering(starts, unused)


def _gap(starts: dict[str, int], count: int) -> int:
    """The first gap of *count* entries."""
    at = 0
    for begins, name in sorted((begins, name) for name, begins in starts.items()):
        if begins - at >= count:
            return at
        at = begins + EXFAT.entries(name)
    return at


@pytest.mark.parametrize("seed", range(30))
def test_the_places_of_all_names_follow_from_what_the_exfat_driver_tells(
    monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    folder = worn(random.Random(seed), 512)
    monkeypatch.setattr(geometry, "_listed", folder)
    found = geometry._before_another(3, folder(3))
    assert found == folder.starts
    assert folder.asked <= 2 + folder.unused.bit_length(), "the last one is searched by halves"
