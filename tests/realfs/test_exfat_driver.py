"""exFAT by Linux's own driver, in a user-mode kernel: room, order, reading back, shared clusters.

``get_exfat.sh`` makes the driver.
"""

import struct
from pathlib import Path

import pytest
from exfat_image import ExfatImage, checksum
from exfat_judges import counted, fsck
from ordered_world import entries_in_order
from user_kernel import Bench, Job, no_exfat_bench

REASON = no_exfat_bench()
pytestmark = pytest.mark.skipif(REASON is not None, reason=REASON or "")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench")


def called(deed: str, letter: str = "b") -> Job:
    return {"device": f"/dev/ubd{letter}", "system": "exfat", "deeds": [f"call {deed}"]}


def test_what_is_reckoned_free_is_what_statvfs_says_after_each_of_many_updates(
    bench: Bench,
) -> None:
    cards = [
        bench.exfat_image("scenes.img", 34 << 20, "-c", "4K"),
        bench.exfat_image("folders.img", 34 << 20, "-c", "512", "-L", "CARD"),
        bench.exfat_image("wide.img", 272 << 20, "-c", "32K"),
    ]
    deeds = ["scenes", "large_folders", "large_folders"]
    jobs = [
        called(f"capacity_deeds:{deed}", letter) for letter, deed in zip("bcd", deeds, strict=True)
    ]
    for card, done in zip(cards, bench.run(jobs, cards), strict=True):
        (deed,) = done
        assert deed["problem"] is None
        assert len(deed["value"]) >= 6
        for exact, told, free in deed["value"]:
            assert (exact, told) == (True, free)
        assert not fsck(card)
        image = ExfatImage(card.read_bytes())
        assert image.space().free == deed["value"][-1][2]
        assert counted(card) == (len(image.folders) + 1, len(image.files()))


def test_little_more_reaches_the_medium_than_the_files_of_an_update(bench: Bench) -> None:
    """At most 1.02 times, with the bitmap and the folders, whose writing is the driver's."""
    card = bench.exfat_image("card.img", 272 << 20, "-c", "4K")
    ((done,),) = bench.run([called("capacity_deeds:wear")], [card])
    assert done["problem"] is None
    told = done["value"]
    assert told["files"] > 40_000_000
    assert told["medium"] >= told["files"], "all of it reached the medium"
    assert told["medium"] <= 1.02 * told["files"], told


def test_after_each_update_the_raw_directories_are_in_playing_order(bench: Bench) -> None:
    card = bench.exfat_image("card.img", 34 << 20, "-c", "512")
    ((done,),) = bench.run([called("order_deeds:updates")], [card])
    assert done["problem"] is None
    for told in done["value"]:
        if told["again"]:
            assert told["steps"] == 0, "what is in order is left alone"
        else:
            assert told["written"] == told["writes"], "renames put it right, not copies"
    image = ExfatImage(card.read_bytes())
    found = [path for path in image.in_order() if not path.startswith("SYNCD")]
    assert entries_in_order(found) == entries_in_order(done["value"][-1]["order"])


def test_what_is_read_back_comes_from_the_medium(bench: Bench) -> None:
    card = bench.exfat_image("card.img")
    ((done,),) = bench.run([called("memory_deeds:behind_the_back")], [card])
    assert done["problem"] is None
    assert done["value"] == {"plainly": False, "forgot": True, "past": True}


def test_two_names_on_the_same_clusters_are_told_from_two_equal_files(bench: Bench) -> None:
    card = bench.exfat_image("card.img")
    ((done,),) = bench.run([called("link_deeds:three")], [card])
    assert done["problem"] is None
    data = bytearray(card.read_bytes())
    one, two = (data.index(name.encode("utf-16-le")) - 66 for name in ("ONE.BIN", "TWO.BIN"))
    # First cluster, in the second entry (exFAT specification 7.6.5).
    data[two + 52 : two + 56] = data[one + 52 : one + 56]
    struct.pack_into("<H", data, two + 2, checksum(bytes(data[two : two + 96])))
    card.write_bytes(data)
    assert "is already allocated for the other file" in fsck(card)
    ((deed,),) = bench.run([called("link_deeds:linked")], [card])
    assert deed["problem"] is None
    assert deed["value"] == [True, True, False, False, True]
