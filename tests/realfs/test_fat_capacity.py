"""On FAT32 by the Linux driver: what a plan says will be free is what statvfs says afterwards."""

from pathlib import Path

import pytest
from user_kernel import Bench, Job, no_bench

REASON = no_bench()
pytestmark = pytest.mark.skipif(REASON is not None, reason=REASON or "")


def test_what_is_reckoned_free_is_what_statvfs_says_after_each_of_many_updates(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path / "bench")
    cards = [
        bench.image("scenes.img", 34 << 20, "-s", "1"),
        bench.image("folders.img", 34 << 20, "-s", "1", "-n", "CARD"),
        bench.image("wide.img", 272 << 20, "-s", "8"),
    ]
    deeds = ["scenes", "large_folders", "large_folders"]
    jobs: list[Job] = [
        {"device": f"/dev/ubd{letter}", "deeds": [f"call capacity_deeds:{deed}"]}
        for letter, deed in zip("bcd", deeds, strict=True)
    ]
    for done in bench.run(jobs, cards):
        (deed,) = done
        assert deed["problem"] is None
        assert len(deed["value"]) >= 6
        for exact, told, free in deed["value"]:
            assert (exact, told) == (True, free)


def test_little_more_reaches_the_medium_than_the_files_of_an_update(tmp_path: Path) -> None:
    """At most 1.02 times, with FAT's two tables and the folders, whose writing is the driver's."""
    bench = Bench(tmp_path / "bench")
    card = bench.image("card.img", 272 << 20, "-s", "8")
    ((done,),) = bench.run([{"device": "/dev/ubdb", "deeds": ["call capacity_deeds:wear"]}], [card])
    assert done["problem"] is None
    told = done["value"]
    assert told["files"] > 40_000_000
    assert told["medium"] >= told["files"], "all of it reached the medium"
    assert told["medium"] <= 1.02 * told["files"], told
