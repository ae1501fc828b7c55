"""FAT32 cards that are full to within a cluster, by the Linux driver: nothing is lost, or said of.

What the reserve's edge is for each is found on the card in memory (``edge_world.py``): the driver
fills its clusters likewise, or the figures here would not be exact.
"""

import contextlib
import os
from pathlib import Path

import pytest
from card_world import assert_same_end
from edge_world import EDGES, least
from fat_image import FatImage
from judges import end_of_image, fsck, repaired
from test_cuts_on_fat import DRIVER, all_states, batched, save
from user_kernel import Bench, Job, no_bench
from write_record import Medium, State, between, read_record

from syncd.applier.manifest import decode_journal
from syncd.errors import CardProblem

DEEP = os.environ.get("SYNCD_DEEP") == "1"
NAMES = tuple(EDGES) if DEEP else ("comes in order", "changes")
CONTINUED = 3 if DEEP else 20
"""Of so many states of the medium one is updated to the end."""

pytestmark = pytest.mark.skipif(bool(no_bench()), reason=no_bench() or "")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench")


def begun(image: bytearray) -> bool:
    """Whether the journal on *image* tells that an update began."""
    told = b""
    with contextlib.suppress(CardProblem):  # its clusters may be lost
        told = FatImage(image).read("SYNCD/journal") or b""
    return any(line.kind == "begin" for line in decode_journal(told))


@pytest.mark.parametrize("name", NAMES)
def test_an_update_that_is_cut_on_a_full_card_ends_as_one_that_was_not(
    bench: Bench, name: str
) -> None:
    """Lost clusters of a cut take of the reserve; what was chosen stays chosen."""
    edge = EDGES[name]
    blank = bench.image("card.img", 34 << 20, "-s", "1")
    image = blank.read_bytes()
    log = bench.base / "log.img"
    with log.open("wb") as file:
        file.truncate(512 << 20)
    deeds = [f"brim {name} {least(edge)}", "mark start", f"over {name}", "mark end"]
    job: Job = {"device": "/dev/ubdb", "log": "/dev/ubdc", "deeds": deeds, "options": DRIVER}
    brim, over = bench.run([job], [blank, log])[0]
    assert (brim["problem"], over["problem"]) == (None, None)
    assert over["free_before"] == least(edge)
    assert (over["free_is_exact"], over["free_told"]) == (True, over["free_after"])
    assert over["steps"] and not over["not_fitting"]
    before, writes = between(read_record(log), "start", "end")
    medium = Medium(image, before)
    medium.go_to(State(len(before)))
    base = bytes(medium.image)
    whole = Medium(base, writes)
    whole.go_to(State(len(writes)))
    wanted = end_of_image(FatImage(whole.image))
    jobs: list[Job] = []
    must: list[tuple[State, bool, bool]] = []
    for number, (state, medium) in enumerate(all_states(base, writes)):
        if number % CONTINUED:
            continue
        for mended in (False, True):
            path = bench.base / f"state-{len(jobs)}.img"
            save(medium.image, path)
            judged = repaired(path) if mended else fsck(path)
            jobs.append({"image": path.name, "deeds": [f"over {name}"], "options": DRIVER})
            lost = not begun(medium.image) and "Reclaimed # unused cluster" in judged.kinds
            must.append((state, mended or judged.harmless, lost))
    refused = early = 0
    done = [one for batch in batched(jobs) for one in bench.run(batch)]
    for job, (state, mended, lost), (result,) in zip(jobs, must, done, strict=True):
        if lost and (result["problem"] or "").startswith("CardFull"):
            # As below, where nothing is new that could wait.
            assert "Nothing was written" in result["problem"], state
            early += 1
            continue
        if result["problem"] is not None and not mended:
            assert "fsck.vfat -a" in result["problem"], result["problem"]
            refused += 1
            continue
        assert result["problem"] is None, f"{state}: {result['problem']}"
        found = end_of_image(FatImage((bench.base / job["image"]).read_bytes()))
        if lost and result["not_fitting"]:
            # The journal's cluster is lost, and the card a cluster smaller: nothing had begun.
            early += 1
        else:
            assert_same_end(found, wanted)
        if mended or result["free_is_exact"]:
            assert result["free_told"] == result["free_after"], state
    assert len(jobs) > 10 and early <= len(jobs) // 10
    print(
        f"{name}: {len(writes)} writes, {len(jobs)} continued, {refused} refused, {early} smaller "
        "by a lost cluster before anything had begun"
    )


def test_a_card_that_the_listener_filled_keeps_its_music_and_takes_changed_tags(
    bench: Bench,
) -> None:
    """With less than the reserve free, nothing is withdrawn; with no room to work, it is said."""
    lefts = (0, 60_416, 400_384)  # whole clusters
    cards = [bench.image(f"{left}.img", 34 << 20, "-s", "1") for left in lefts]
    jobs: list[Job] = [
        {"device": f"/dev/ubd{letter}", "deeds": [f"brim changes {left}", "over changes"]}
        for letter, left in zip("bcd", lefts, strict=True)
    ]
    none, little, some = bench.run(jobs, cards)
    assert all(card[0]["problem"] is None for card in (none, little, some))
    for card in (none, little):
        assert card[1]["problem"].startswith("CardFull"), card
        assert "Nothing was written" in card[1]["problem"]
        assert card[1]["free_after"] == card[1]["free_before"]
    assert some[1]["problem"] is None
    assert some[1]["steps"] and not some[1]["not_fitting"]
    assert some[1]["free_told"] == some[1]["free_after"]
