"""Thousands of files that go from a FAT32 card at once, by the Linux driver."""

import subprocess
from pathlib import Path

import pytest
from removal_deeds import FILES
from user_kernel import Bench, Job, no_bench

REASON = no_bench()
pytestmark = pytest.mark.skipif(REASON is not None, reason=REASON or "")


def test_thousands_of_removals_hold_a_quarter_of_the_files_that_may_be_open(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench")
    card = bench.image("card.img", 34 << 20, "-s", "1")
    job: Job = {
        "device": "/dev/ubdb",
        "deeds": ["call removal_deeds:fill", "call removal_deeds:clear"],
    }
    ((filled, cleared),) = bench.run([job], [card])
    assert filled["problem"] is None and cleared["problem"] is None
    assert cleared["value"]["files"] == 0
    assert cleared["value"]["open"] < 300 < FILES
    assert cleared["value"]["free"] == filled["free_before"], "all clusters were given back"
    said = subprocess.run(["/usr/sbin/fsck.vfat", "-n", str(card)], capture_output=True, text=True)
    assert said.returncode == 0, said.stdout
