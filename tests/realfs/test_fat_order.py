"""Directories in playing order on FAT32 by the Linux driver, read from the raw directory."""

import subprocess
from pathlib import Path

import pytest
from fat_image import FatImage
from ordered_world import entries_in_order
from user_kernel import Bench, Job, no_bench

REASON = no_bench()
pytestmark = pytest.mark.skipif(REASON is not None, reason=REASON or "")


def test_after_each_update_the_raw_directories_are_in_playing_order(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench")
    card = bench.image("card.img", 34 << 20, "-s", "1")
    job: Job = {"device": "/dev/ubdb", "deeds": ["call order_deeds:updates"]}
    ((done,),) = bench.run([job], [card])
    assert done["problem"] is None
    for told in done["value"]:
        if told["again"]:
            assert told["steps"] == 0, "what is in order is left alone"
        else:
            assert told["written"] == told["writes"], "renames put it right, not copies"
    image = FatImage(card.read_bytes())
    wanted = entries_in_order(done["value"][-1]["order"])
    raw = [path for path in image.in_order() if not path.startswith("SYNCD")]
    found = entries_in_order(raw)
    assert found == wanted
    # A second reader of the directory: mtools lists entries as they come.
    folder = max((path.rpartition("/")[0] for path in raw), key=lambda at: len(wanted[at.lower()]))
    listed = subprocess.run(
        ["mdir", "-b", "-i", str(card), f"::/{folder}"], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    names = [line.rstrip("/").rpartition("/")[2] for line in listed if line]
    assert names == wanted[folder.lower()]
