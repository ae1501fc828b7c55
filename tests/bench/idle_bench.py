"""An update with nothing to do, of a card with many files: seconds, and that nothing is written.

    python tests/bench/idle_bench.py [--files 10000] [--folder DIR]

The card is a folder that the applier itself fills, with a few bytes a file: what a file holds does
not matter to an update that changes none. Prints the time of reading the card beside that of the
whole update (reading it included), and compares size, inode and times of all that is on it before
and after. Budget: under 1 s after the scan of the library.
"""

import argparse
import contextlib
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from plan_bench import library

from syncd.applier.apply import apply
from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import new_identity, write_identity
from syncd.applier.reading import read_card
from syncd.applier.volume import Space
from syncd.planner.plan import Placement
from syncd.profile import read_profile, sample_profiles
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.store import Store
from syncd.updating.carrying_out import catalogue_builder
from syncd.updating.updater import Updater
from syncd.updating.values import Target


class Roomy(FolderVolume):
    """Room for all, however full the disk is: else more is wanted once a few bytes stand for it."""

    def space(self) -> Space:
        return replace(super().space(), free=1 << 40, total=1 << 41)


class Few:
    """A few bytes in place of music."""

    size = 100

    def chunks(self) -> Iterator[bytes]:
        yield bytes(self.size)


@contextlib.contextmanager
def few(placement: Placement) -> Iterator[Few]:
    yield Few()


def seen(card: Path) -> dict[str, tuple[int, int, int, int]]:
    found = {}
    for path in [card, *card.rglob("*")]:
        facts = path.stat()
        found[str(path)] = (facts.st_size, facts.st_ino, facts.st_mtime_ns, facts.st_ctime_ns)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--folder", type=Path, help="where to work; default: a temporary folder")
    wanted = parser.parse_args()
    snapshot = library(wanted.files)
    for name in ("mcu-mp3", "mcu-mp3, order directory"):
        profile = read_profile(sample_profiles()["mcu-mp3"])
        if name.endswith("directory"):
            card_layout = profile.card.model_copy(update={"order": "directory"})
            profile = profile.model_copy(update={"card": card_layout})
        with tempfile.TemporaryDirectory(dir=wanted.folder) as work:
            place = Path(work)
            (place / "card").mkdir()
            with (
                Roomy(place / "card", "BENCH") as volume,
                Store(place / "store") as store,
            ):
                write_identity(volume, new_identity("BENCH"))
                tool = Ffmpeg(find_ffmpeg())
                updater = Updater(snapshot, store, tool, place / "scratch", checks=False)
                target = Target(volume, profile)
                plan, reading = updater.plan(target)
                end = tuple(replace(one, size=Few.size) for one in plan.end)

                plan = replace(plan, end=end)
                (place / "scratch").mkdir(exist_ok=True)
                built = catalogue_builder(target.profile, plan, place / "scratch")
                apply(plan, volume, reading, few, built, read_back=False)
                before = seen(place / "card")
                updater = Updater(snapshot, store, tool, place / "scratch", checks=False)
                start = time.perf_counter()
                read_card(volume)
                read = time.perf_counter() - start
                start, busy = time.perf_counter(), time.process_time()
                outcome = updater.update(target)
                seconds, busy = time.perf_counter() - start, time.process_time() - busy
                assert outcome.plan.steps == () and len(outcome.plan.end) >= wanted.files
                assert seen(place / "card") == before
        print(
            f"{name}: {wanted.files} files, nothing to do: {seconds:.2f} s ({busy:.2f} s of "
            f"processor), of which reading the card {read:.2f} s; nothing written; budget 1 s"
        )


if __name__ == "__main__":
    main()
