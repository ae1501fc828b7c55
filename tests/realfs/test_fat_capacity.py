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
