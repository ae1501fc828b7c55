"""Power cuts on exFAT by Linux's own driver: at every write of an update, and at random.

As ``test_cuts_on_fat.py``, with the driver that ``get_exfat.sh`` makes; and by exfat-fuse in the
same kernel. ``SYNCD_DEEP=1`` runs the long form.
"""

import random
import shutil
from collections import Counter
from pathlib import Path

import pytest
from card_world import End, assert_same_end
from exfat_image import ExfatImage
from exfat_judges import KNOWN, counted, fsck, repaired, rescued
from judges import assert_untouched, assert_whole, end_of_image
from real_scenes import SCENES
from test_cuts_on_fat import BOOTS, CONTINUED, DEEP, all_states, recorded, save
from user_kernel import Bench, Job, lacking, no_bench, no_exfat_bench
from write_record import Medium, State, Write

RECORDED = ("all at once", "in the way later", "tight", "other root") if DEEP else ("all at once",)
FREE, SHARED, TORN = KNOWN[0], KNOWN[1], KNOWN[2]
SIZE = 16 << 20


def no_fuse_bench() -> str | None:
    """Why exfat-fuse cannot be run in the user-mode kernel here, None when it can."""
    programs = {
        "mkfs.exfat": "exfatprogs",
        "mount.exfat-fuse": "exfat-fuse",
        "pidof": "sysvinit-utils",
    }
    return no_bench() or lacking(programs)


needs_the_driver = pytest.mark.skipif(bool(no_exfat_bench()), reason=no_exfat_bench() or "")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench")


def recorded_exfat(bench: Bench, name: str, system: str = "exfat") -> tuple[bytes, list[Write]]:
    return recorded(bench, name, bench.exfat_image("card.img", SIZE), {"system": system})


@needs_the_driver
@pytest.mark.parametrize("name", RECORDED)
def test_a_cut_at_any_write_and_any_loss_of_what_was_not_flushed_keeps_every_promise_on_exfat(
    bench: Bench, name: str
) -> None:
    """I1 and I2 in every state; I3 after fsck.exfat in a sample, and without it, or it is told."""
    base, writes = recorded_exfat(bench, name)
    whole = Medium(base, writes)
    whole.go_to(State(len(writes)))
    start, wanted = end_of_image(ExfatImage(base)), end_of_image(ExfatImage(whole.image))
    foreign = SCENES[name].foreign
    assert sum(write.barrier for write in writes) >= 8
    reports: Counter[str] = Counter()
    jobs: list[Job] = []
    told: list[tuple[State, bool, bool]] = []
    seen = 0
    trial = bench.base / "trial.img"
    for number, (state, medium) in enumerate(all_states(base, writes)):
        seen += 1
        card = ExfatImage(medium.image)
        try:
            assert_whole(card, start, wanted)
            assert_untouched(card, foreign)
            # A medium that keeps the order of writes never has a name whose clusters are free:
            # the driver would give them to the next file.
            assert state.others or not card.unmarked()
        except Exception as error:
            raise AssertionError(f"in {state}") from error
        if number % CONTINUED and not DEEP:
            continue
        save(medium.image, trial)
        kinds = fsck(trial)
        assert not set(kinds) - set(KNOWN), kinds
        assert bool(card.unmarked()) <= (FREE in kinds), "fsck.exfat sees what we see"
        reports.update(kinds.keys())
        if number % CONTINUED == 0:
            for mended in (False, True):
                path = bench.base / f"state-{len(jobs)}.img"
                save(medium.image, path)
                if mended:
                    repaired(path)
                    card = ExfatImage(path.read_bytes())
                    assert_whole(card, start, wanted)
                    assert_untouched(card, foreign)
                jobs.append({"image": path.name, "deeds": [f"after {name}"], "system": "exfat"})
                must = mended or not kinds.keys() & {FREE, SHARED}
                told.append((state, must, mended or not kinds))
    refused = 0
    late: list[Job] = []
    done = [result for at in range(0, len(jobs), 100) for result in bench.run(jobs[at : at + 100])]
    for job, (state, must, clean), results in zip(jobs, told, done, strict=True):
        path = bench.base / job["image"]
        card = ExfatImage(path.read_bytes())
        assert_untouched(card, foreign)
        problem = results[0]["problem"]
        if problem is not None and not must:
            refused += 1
            assert "fsck.exfat -p" in problem, problem
            assert_whole(card, start, wanted)
            continue
        assert problem is None, f"{state}: {problem}"
        if SCENES[name].tight and end_of_image(card).key != wanted.key:
            # Its lost clusters take the room of what was to come: it comes when they are back.
            assert_whole(card, start, wanted)
            rescued(path)
            late.append({**job, "deeds": ["call lost_deeds:give_back", f"after {name}"]})
            continue
        assert_end(card, wanted, path, clean=clean)  # what is torn stays until it is repaired
        if must or results[0]["free_is_exact"]:
            assert results[0]["free_told"] == results[0]["free_after"], state
    for job, results in zip(late, bench.run(late) if late else [], strict=True):
        assert [result["problem"] for result in results] == [None, None]
        path = bench.base / job["image"]
        assert_end(ExfatImage(path.read_bytes()), wanted, path)
    print(
        f"{name}: {len(writes)} writes, {seen} states, {len(jobs)} continued, {refused} refused, "
        f"{len(late)} after lost clusters were given back"
    )
    print(*(f"  {count} x {kind}" for kind, count in reports.most_common()), sep="\n")


@pytest.mark.skipif(bool(no_fuse_bench()), reason=no_fuse_bench() or "")
@pytest.mark.parametrize("name", RECORDED)
def test_a_cut_at_any_write_by_exfat_fuse_leaves_a_whole_card(bench: Bench, name: str) -> None:
    """I1 and I2 in every state, and no name with free clusters on a medium that keeps the order."""
    base, writes = recorded_exfat(bench, name, "exfat-fuse")
    whole = Medium(base, writes)
    whole.go_to(State(len(writes)))
    start, wanted = end_of_image(ExfatImage(base)), end_of_image(ExfatImage(whole.image))
    assert sum(write.barrier for write in writes) >= 8
    trial = bench.base / "trial.img"
    for number, (state, medium) in enumerate(all_states(base, writes)):
        card = ExfatImage(medium.image)
        try:
            assert_whole(card, start, wanted)
            assert_untouched(card, SCENES[name].foreign)
            assert state.others or not card.unmarked()
        except Exception as error:
            raise AssertionError(f"in {state}") from error
        if number % CONTINUED == 0:
            save(medium.image, trial)
            repaired(trial)
            assert_whole(ExfatImage(trial.read_bytes()), start, wanted)


def assert_end(card: ExfatImage, wanted: End, path: Path, *, clean: bool = True) -> None:
    assert_same_end(end_of_image(card), wanted)
    assert_whole(card, wanted)
    if clean:
        assert not fsck(path)
        assert counted(path) == (len(card.folders) + 1, len(card.files()))


@needs_the_driver
def test_an_update_cut_again_and_again_on_exfat_ends_like_one_that_was_not(bench: Bench) -> None:
    """Random cuts of a running kernel, four cards at a time; fsck.exfat after every second one."""
    draw = random.Random(26)
    deeds = ["plain large", "before large"]
    bench.exfat_image("base.img", 64 << 20)
    bench.exfat_image("full.img", 64 << 20)
    jobs: list[Job] = [
        {"image": "base.img", "deeds": deeds, "system": "exfat"},
        {"image": "full.img", "deeds": [*deeds, "after large"], "system": "exfat"},
    ]
    base, full = bench.run(jobs)
    assert not [deed for deed in (*base, *full) if deed["problem"]]
    start = end_of_image(ExfatImage((bench.base / "base.img").read_bytes()))
    wanted = end_of_image(ExfatImage((bench.base / "full.img").read_bytes()))
    seconds = full[-1]["seconds"]
    cards = [bench.base / f"card-{number}.img" for number in range(4)]
    for card in cards:
        shutil.copyfile(bench.base / "base.img", card)
    foreign = SCENES["large"].foreign
    running: list[Job] = [
        {"device": f"/dev/ubd{letter}", "deeds": ["after large"], "system": "exfat", "beside": True}
        for letter in "bcde"
    ]
    steps = full[-1]["reported"]
    begun = 0
    ended = 0
    reports: Counter[str] = Counter()
    boots = 0
    while boots < BOOTS or (begun < BOOTS and boots < 4 * BOOTS):
        boots += 1
        before = (begun, ended)
        signal = draw.randint(steps // 2, steps)  # what is written at first waits for a barrier
        bench.cut([{**job, "signal": signal} for job in running], cards, draw.random() * seconds)
        for number, card in enumerate(cards):
            left = ExfatImage(card.read_bytes())
            assert_whole(left, start, wanted)
            assert_untouched(left, foreign)
            if (boots + number) % 2 or fsck(card).keys() & {SHARED}:
                reports.update(repaired(card).keys())
                left = ExfatImage(card.read_bytes())
                assert_whole(left, start, wanted)
                assert_untouched(left, foreign)
            if "SYNCD/journal" in {file.path for file in left.files()}:
                begun += 1
            elif end_of_image(left).key == wanted.key:
                ended += 1
                assert_same_end(end_of_image(left), wanted)
                shutil.copyfile(bench.base / "base.img", card)
        if (begun, ended) == before:
            seconds *= 1.5  # nothing reached the medium: the computer is busier than it was
        elif ended == before[1] + len(cards):
            seconds /= 1.5
    assert begun >= BOOTS  # else the cuts come at the wrong time
    results = bench.run(running, cards)
    for card, result in zip(cards, results, strict=True):
        assert result[0]["problem"] is None
        assert_end(ExfatImage(card.read_bytes()), wanted, card, clean=False)
    print(f"{boots * 4} cuts, {begun} in the middle, {ended} after the end")
    print(*(f"  {count} x {kind}" for kind, count in reports.most_common()), sep="\n")
