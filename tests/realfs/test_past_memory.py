"""Reading back on FAT32 by the Linux driver and on exFAT by exfat-fuse comes from the medium."""

from pathlib import Path

import pytest
from exfat_card import ExfatCard, no_exfat
from memory_deeds import behind_the_back
from user_kernel import Bench, Job, no_bench

from syncd.applier.folder_volume import FolderVolume


def test_on_fat_what_is_read_back_comes_from_the_medium(tmp_path: Path) -> None:
    if reason := no_bench():
        pytest.skip(reason)
    bench = Bench(tmp_path / "bench")
    card = bench.image("card.img", 34 << 20, "-s", "1")
    job: Job = {"device": "/dev/ubdb", "deeds": ["call memory_deeds:behind_the_back"]}
    ((done,),) = bench.run([job], [card])
    assert done["problem"] is None
    assert done["value"] == {"plainly": False, "forgot": True, "past": True}


def test_on_exfat_what_is_read_back_comes_from_the_medium(tmp_path: Path) -> None:
    if reason := no_exfat():
        pytest.skip(reason)
    card = ExfatCard(tmp_path / "card.img", tmp_path / "card")
    try:
        with FolderVolume(card.point) as volume:
            # The image is the medium; the loop device is what the system has in memory of it.
            seen = behind_the_back(volume, str(card.image))
    finally:
        card.close()
    assert seen == {"plainly": False, "forgot": True, "past": True}
