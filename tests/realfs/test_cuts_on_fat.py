"""Power cuts on FAT32 by the Linux driver: at every write of an update, and at random.

The driver runs in a user-mode kernel (``user_kernel.py``). ``SYNCD_DEEP=1`` runs the long form.
"""

import os
import random
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from card_world import End, assert_same_end
from fat_image import FatImage
from judges import (
    KNOWN,
    assert_untouched,
    assert_whole,
    end_of_image,
    fsck,
    listed_by_mtools,
    repaired,
)
from real_scenes import SCENES
from user_kernel import Bench, Job, no_bench
from write_record import Medium, State, Write, between, read_record, states

DEEP = os.environ.get("SYNCD_DEEP") == "1"
RECORDED = ("all at once", "in the way later", "tight", "other root") if DEEP else ("all at once",)
SUBSETS = 12 if DEEP else 4
"""Random subsets of the writes between two flushes."""
CONTINUED = 4 if DEEP else 16
"""Of so many states one is updated to the end by the driver."""
BOOTS = 52 if DEEP else 3
"""Times that four cards at once lose their power in a large update."""
DRIVER = "utf8=1,shortname=mixed"

pytestmark = pytest.mark.skipif(bool(no_bench()), reason=no_bench() or "")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench")


def recorded(bench: Bench, name: str, blank: Path, mounted: Job) -> tuple[bytes, list[Write]]:
    """The card before the update of a scene, and every write of the update to it.

    *blank* is the empty card, *mounted* says by which driver it is mounted and how.
    """
    image = blank.read_bytes()
    log = bench.base / "log.img"
    with log.open("wb") as file:
        file.truncate(512 << 20)
    deeds = [f"plain {name}", f"before {name}", "mark start", f"after {name}", "mark end"]
    job: Job = {"device": "/dev/ubdb", "log": "/dev/ubdc", "deeds": deeds, **mounted}
    for result in bench.run([job], [blank, log])[0]:
        assert result["problem"] is None
    before, writes = between(read_record(log), "start", "end")
    medium = Medium(image, before)
    medium.go_to(State(len(before)))
    return bytes(medium.image), writes


def save(image: bytes | bytearray, path: Path) -> None:
    """Write *image* with holes where it is zero."""
    view, piece = memoryview(image), 1 << 16
    zeros = bytes(piece)
    with path.open("wb") as file:
        file.truncate(len(view))
        for start in range(0, len(view), piece):
            part = view[start : start + piece]
            if part != zeros[: len(part)]:
                file.seek(start)
                file.write(part)


def batched(jobs: list[Job]) -> Iterator[list[Job]]:
    """As many as one boot does in its time, even on a busy computer."""
    for start in range(0, len(jobs), 100):
        yield jobs[start : start + 100]


def all_states(base: bytes, writes: list[Write]) -> Iterator[tuple[State, Medium]]:
    medium = Medium(base, writes)
    drawn = False
    for state in states(writes, SUBSETS, seed=5):
        if state.others and not drawn:
            medium, drawn = Medium(base, writes), True
        medium.go_to(state)
        yield state, medium


@pytest.mark.parametrize("name", RECORDED)
def test_a_cut_at_any_write_and_any_loss_of_what_was_not_flushed_keeps_every_promise(
    bench: Bench, name: str
) -> None:
    """I1 and I2 in every state; I3 after fsck.vfat in a sample, and without it, or it is told.

    What the update that goes on says will be free is free then.
    """
    base, writes = recorded(bench, name, bench.image("card.img"), {"options": DRIVER})
    whole = Medium(base, writes)
    whole.go_to(State(len(writes)))
    start, wanted = end_of_image(FatImage(base)), end_of_image(FatImage(whole.image))
    foreign = SCENES[name].foreign
    # The promise stands on barriers that the medium hears of: without flushes there are none.
    assert sum(write.barrier for write in writes) >= 8
    reports: Counter[str] = Counter()
    jobs: list[Job] = []
    told: list[tuple[State, bool]] = []
    seen = 0
    trial = bench.base / "trial.img"
    for number, (state, medium) in enumerate(all_states(base, writes)):
        seen += 1
        card = FatImage(medium.image)
        try:
            assert_whole(card, start, wanted)
            assert_untouched(card, foreign)
        except Exception as error:
            raise AssertionError(f"in {state}") from error
        if number % CONTINUED and not DEEP:
            continue
        save(medium.image, trial)
        judged = fsck(trial)
        assert not [path for path in foreign if path in judged.said], judged.said
        reports.update(judged.kinds)
        reports.update(line.strip() for line in judged.unknown)
        if number % CONTINUED == 0:
            for mended in (False, True):
                path = bench.base / f"state-{len(jobs)}.img"
                save(medium.image, path)  # with its holes: there are hundreds
                if mended:
                    repaired(path)
                    without_salvage(path)
                    card = FatImage(path.read_bytes())
                    assert_whole(card, start, wanted)
                    assert_untouched(card, foreign)
                jobs.append({"image": path.name, "deeds": [f"after {name}"], "options": DRIVER})
                told.append((state, mended or judged.harmless))
    refused = 0
    late: list[Job] = []
    done = [one for batch in batched(jobs) for one in bench.run(batch)]
    for job, (state, must), results in zip(jobs, told, done, strict=True):
        path = bench.base / job["image"]
        card = FatImage(path.read_bytes())
        assert_untouched(card, foreign)
        problem = results[0]["problem"]
        if problem is not None and not must:
            refused += 1
            assert "fsck.vfat -a" in problem, problem
            assert_whole(card, start, wanted)
            continue
        assert problem is None, f"{state}: {problem}"
        if SCENES[name].tight and end_of_image(card).key != wanted.key:
            # Its lost clusters take the room of what was to come: it comes when they are back.
            assert "Reclaimed # unused cluster" in fsck(path).kinds
            assert_whole(card, start, wanted)
            repaired(path)
            without_salvage(path)
            late.append(job)
            continue
        assert_end(card, wanted, path)
        if must or results[0]["free_is_exact"]:
            assert results[0]["free_told"] == results[0]["free_after"], state
    for job, results in zip(late, bench.run(late) if late else [], strict=True):
        assert results[0]["problem"] is None
        path = bench.base / job["image"]
        assert_end(FatImage(path.read_bytes()), wanted, path)
    print(
        f"{name}: {len(writes)} writes, {seen} states, {len(jobs)} continued, {refused} refused, "
        f"{len(late)} after lost clusters were given back"
    )
    print(*(f"  {count} x {kind}" for kind, count in reports.most_common()), sep="\n")


def without_salvage(image: Path) -> None:
    """Remove the files that fsck.vfat made of lost clusters, as a listener may."""
    kept = [file.path for file in FatImage(image.read_bytes()).files()]
    for path in kept:
        if path.startswith("FSCK") and path.endswith(".REC"):
            command = ["mdel", "-i", str(image), f"::/{path}"]
            environment = {"PATH": "/usr/bin:/bin", "MTOOLS_SKIP_CHECK": "1"}
            subprocess.run(command, check=True, capture_output=True, env=environment)


def assert_end(card: FatImage, wanted: End, path: Path) -> None:
    assert_same_end(end_of_image(card), wanted)
    assert_whole(card, wanted)
    kinds = fsck(path).kinds
    # What the driver did not know as lost after the cut stays lost until it is repaired.
    allowed = {*KNOWN[:5]}
    assert not set(kinds) - allowed, fsck(path).said
    assert listed_by_mtools(path) == {file.path for file in card.files()}


def test_an_update_cut_again_and_again_ends_like_one_that_was_not(bench: Bench) -> None:
    """Random cuts of a running kernel, four cards at a time; fsck.vfat after each."""
    draw = random.Random(26)
    deeds = ["plain large", "before large"]
    bench.image("base.img", 64 << 20)
    bench.image("full.img", 64 << 20)
    jobs: list[Job] = [
        {"image": "base.img", "deeds": deeds, "options": DRIVER},
        {"image": "full.img", "deeds": [*deeds, "after large"], "options": DRIVER},
    ]
    base, full = bench.run(jobs)
    assert not [deed for deed in (*base, *full) if deed["problem"]]
    start = end_of_image(FatImage((bench.base / "base.img").read_bytes()))
    wanted = end_of_image(FatImage((bench.base / "full.img").read_bytes()))
    seconds = full[-1]["seconds"]
    cards = [bench.base / f"card-{number}.img" for number in range(4)]
    for card in cards:
        shutil.copyfile(bench.base / "base.img", card)
    foreign = SCENES["large"].foreign
    running: list[Job] = [
        {"device": f"/dev/ubd{letter}", "deeds": ["after large"], "options": DRIVER, "beside": True}
        for letter in "bcde"
    ]
    steps = full[-1]["reported"]
    begun = 0
    ended = 0
    reports: Counter[str] = Counter()
    for _ in range(BOOTS):
        signal = draw.randint(steps // 2, steps)  # what is written at first waits for a barrier
        bench.cut([{**job, "signal": signal} for job in running], cards, draw.random() * seconds)
        for card in cards:
            left = FatImage(card.read_bytes())
            assert_whole(left, start, wanted)
            assert_untouched(left, foreign)
            reports.update(repaired(card).kinds)
            left = FatImage(card.read_bytes())
            assert_whole(left, start, wanted)
            assert_untouched(left, foreign)
            if "SYNCD/journal" in {file.path for file in left.files()}:
                begun += 1
            elif end_of_image(left).key == wanted.key:
                ended += 1
                assert_same_end(end_of_image(left), wanted)
                shutil.copyfile(bench.base / "base.img", card)
    assert begun >= BOOTS  # else the cuts come at the wrong time
    results = bench.run(running, cards)
    for card, result in zip(cards, results, strict=True):
        assert result[0]["problem"] is None
        assert_end(FatImage(card.read_bytes()), wanted, card)
    print(f"{BOOTS * 4} cuts, {begun} in the middle, {ended} after the end")
    print(*(f"  {count} x {kind}" for kind, count in reports.most_common()), sep="\n")
