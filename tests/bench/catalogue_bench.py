"""What a catalogue costs a player, and what it costs to build: beside the contract's budgets.

Run: python tests/bench/catalogue_bench.py [TRACKS ...]   (1000 10000 100000 300000)
Each size runs in a process of its own for its peak memory. Reads are what a counting virtual file
system sees (apsw): the worst of each step from an empty page cache of 8 pages, at every place where
the step can be taken (at one in a few, for large libraries), and a warm session with 16 pages (see
contract_steps.Session), once more by a listener who leaves each track the moment it begins.
"""

import json
import multiprocessing
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "catalogue"))
from big_library import big_library
from contract_steps import Measured

from syncd.catalogue import contract
from syncd.catalogue.build import build

SIZES = (1_000, 10_000, 100_000, 300_000)
BYTES_A_TRACK = {1_000: 390, 10_000: 390}
BUILD_SECONDS = {100_000: 2.5, 300_000: 9.0}
SESSION_STEPS = 20_000


def measure(tracks: int, result: str) -> None:
    """Build and measure one size; the figures go into the file *result*."""
    entries = big_library(tracks)
    base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "catalogue.db"
        wall, cpu = time.perf_counter(), time.process_time()
        build(entries, target)
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        measured = Measured(target, 8)
        cold = measured.cold(max(1, tracks // 25_000))
        session = sorted(Measured(target, contract.WARM_PAGES).session(SESSION_STEPS))
        unheard = Measured(target, contract.WARM_PAGES).session(SESSION_STEPS, hears=False)
        figures = {
            "cold": {
                step.number: [w.runs, w.reads, w.bytes, w.vm_steps, w.over]
                for step, w in cold.items()
            },
            "plans": {s.name: measured.connection.plan(s) for s in contract.STATEMENTS},
            "mean": sum(session) / len(session),
            "unheard": sum(unheard) / len(unheard),
            "p99": session[len(session) * 99 // 100],
            "bytes_a_track": target.stat().st_size / tracks,
            "wall": wall,
            "cpu": cpu,
            "library_mb": base / 1024,
            "peak_mb": peak / 1024,
        }
    Path(result).write_text(json.dumps(figures), encoding="utf-8")


def main(sizes: list[int]) -> None:
    found = {}
    for tracks in sizes:
        with tempfile.NamedTemporaryFile() as result:
            process = multiprocessing.get_context("spawn").Process(
                target=measure, args=(tracks, result.name)
            )
            process.start()
            process.join()
            found[tracks] = json.loads(Path(result.name).read_text(encoding="utf-8"))
    row = "{:<26}{:>9}" + "{:>14}" * len(sizes)
    print(row.format("worst reads, cold", "budget", *(f"{n:,}" for n in sizes)))
    for step in contract.STEPS:
        cells = []
        for n in sizes:
            runs, reads, _, _, over = found[n]["cold"][str(step.number)]
            cells.append(f"{reads}" + (f" ({over}/{runs})" if over else ""))
        print(row.format(f"{step.number:>2} {step.name}", step.reads, *cells))
    cold = {n: list(found[n]["cold"].values()) for n in sizes}
    lines = [
        ("bytes moved, worst", contract.MOST_BYTES_A_STEP, lambda n: max(c[2] for c in cold[n])),
        ("VM steps, worst", contract.MOST_VM_STEPS, lambda n: max(c[3] for c in cold[n])),
        ("warm, mean reads", contract.WARM_MEAN_READS, lambda n: f"{found[n]['mean']:.2f}"),
        ("  where nothing is heard", "", lambda n: f"{found[n]['unheard']:.2f}"),
        ("warm, 99th percentile", contract.WARM_P99_READS, lambda n: found[n]["p99"]),
        ("bytes a track", "390/340", lambda n: f"{found[n]['bytes_a_track']:.0f}"),
        ("build, seconds of wall", "2.5/9", lambda n: f"{found[n]['wall']:.2f}"),
        ("build, seconds of CPU", "", lambda n: f"{found[n]['cpu']:.2f}"),
        ("peak memory, MB", "400", lambda n: f"{found[n]['peak_mb']:.0f}"),
        ("  library alone, MB", "", lambda n: f"{found[n]['library_mb']:.0f}"),
    ]
    for name, budget, cell in lines:
        print(row.format(name, budget, *(cell(n) for n in sizes)))
    print("(over/runs) behind a figure: how many places are over the budget, of those tried")
    for name, plan in found[sizes[0]]["plans"].items():
        print(f"  {name:<10}{'; '.join(plan)}")


if __name__ == "__main__":
    main([int(size) for size in sys.argv[1:]] or list(SIZES))
