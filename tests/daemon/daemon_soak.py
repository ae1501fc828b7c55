"""Weeks of a daemon's life in minutes: a real keeper with real jobs, and faults drawn at random.

    python tests/daemon/daemon_soak.py [ROUNDS] [SEED]

The library, two cards and the home are folders; only the mount table, the clock and the notices are
doubles. Each round changes the library or the home, lets hours pass, plugs cards in and out, and
may break something: a job is killed, a card is pulled in the middle, a root disappears, a settings
file or a programme is broken, a command holds the lock or asks to be given way, the daemon is
stopped and started anew. Then all is mended, and the cards that are in must be right: the very
files that a card has that was filled in one go. Memory, descriptors, threads, processes and
temporary files are counted in the first quarter and at the end.
"""

import gc
import os
import random
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent)]
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

import mutagen  # noqa: E402
import psutil  # noqa: E402
from daemon_kit import Table, Told, Watch  # noqa: E402
from update_kit import tone  # noqa: E402

from syncd import at_home, cards  # noqa: E402
from syncd.daemon import child  # noqa: E402
from syncd.daemon.keeper import Keeper  # noqa: E402
from syncd.daemon.loop import Loop  # noqa: E402
from syncd.daemon.process import preload  # noqa: E402
from syncd.daemon.state import CardStage  # noqa: E402
from syncd.library.index import LibraryIndex  # noqa: E402
from syncd.refresh import refresh  # noqa: E402
from syncd.settings import find_home  # noqa: E402
from syncd.transcoder.ffmpeg_port import find_ffmpeg  # noqa: E402

SECONDS = 300.0
KEPT = (".json", ".held")
NAMES = ("KITCHEN", "SHED")
EVERYTHING_TOML = '[[clause]]\nkind = "popular"\n'


@dataclass(frozen=True)
class Count:
    """What a daemon must not have ever more of."""

    resident_kb: int
    descriptors: int
    threads: int
    children: int

    @classmethod
    def now(cls) -> "Count":
        gc.collect()
        me = psutil.Process()
        return cls(me.memory_info().rss // 1024, me.num_fds(), me.num_threads(), len(me.children()))


@dataclass
class Soak:
    """The world of the soak."""

    base: Path
    seed: int
    offset: float = 0.0
    done: dict[str, int] = field(default_factory=dict)
    albums: int = 0

    def __post_init__(self) -> None:
        self.draw = random.Random(self.seed)
        self.music = self.base / "music"
        self.music.mkdir()
        tone(self.base / "sample.flac", 440)
        self.sample = self.base / "sample.mp3"
        command = [find_ffmpeg(), "-v", "error", "-i", str(self.base / "sample.flac")]
        subprocess.run([*command, "-b:a", "64k", str(self.sample)], check=True)
        self.home = find_home(str(self.base / "home"), environment={})
        self.home.made()
        self.good_settings = 'damaged = "use"\nworkers = 1\n'
        self.home.settings_file.write_text(self.good_settings)
        self.programme = self.base / "programme.toml"
        self.programme.write_text(EVERYTHING_TOML)
        for name in NAMES:
            medium = self.medium(name)
            medium.mkdir()
            programme = str(self.programme) if name == "SHED" else None
            cards.enrol(self.home, medium, "mcu-mp3", name, programme)
        for _ in range(6):
            self.add_album()
        with LibraryIndex(self.home.index_file) as index:
            index.add_root(self.music)
        self.begin()

    def medium(self, name: str) -> Path:
        return self.base / f"card {name}"

    # -- the daemon ---------------------------------------------------------------------------

    def begin(self) -> None:
        self.table, self.told, self.watch = Table(), Told(), Watch()
        for name in getattr(self, "plugged", set()):
            self.table.mount(str(self.medium(name)), f"dev {name}")
        self.plugged: set[str] = getattr(self, "plugged", set())
        self.loop = Loop(lambda: time.monotonic() + self.offset)

        def maker(wake: Callable[[], None]) -> Watch:
            self.watch.wake = wake
            return self.watch

        self.keeper = Keeper(
            self.home,
            notices=lambda settings: self.told,
            watch=lambda settings: maker,
            loop=self.loop,
            table=self.table,
            now=lambda: time.time() + self.offset,
        )
        self.keeper.arrivals.refresh()
        self.keeper._step()

    def end(self) -> None:
        """Stop the daemon as SIGTERM does."""
        self.keeper.stop()
        begun = time.monotonic()
        self.keeper.run()
        assert time.monotonic() - begun < 15, "it did not stop"

    def until(self, holds: Callable[[], bool]) -> None:
        deadline = time.monotonic() + SECONDS
        while not holds():
            assert time.monotonic() < deadline, self.keeper.state
            self.loop.after(0.02, lambda: None)
            self.loop.once()

    def pass_s(self, seconds: float) -> None:
        self.offset += seconds
        self.loop.soon(lambda: None)
        self.loop.once()

    def resting(self) -> bool:
        state = self.keeper.state
        known = {card.name: card.stage for card in state.cards}
        return (
            not state.jobs
            and not state.library.scan_due
            and not self.keeper.arrivals.waiting()
            and all(known[name] is CardStage.DONE for name in self.plugged)
            and not any(card.held.due for card in self.keeper._plugged.cards.values())
        )

    # -- what happens -------------------------------------------------------------------------

    def add_album(self) -> None:
        self.albums += 1
        # Made aside: a folder in which something is going on is left out of scans in real life
        # (the watch waits until it has come to rest), and what is read in the very timer tick in
        # which it is written may be half of it, with the times of the whole.
        folder = self.base / f"Album {self.albums:05}"
        folder.mkdir()
        for number in range(1, self.draw.randint(2, 5)):
            path = folder / f"{number:02}.mp3"
            data = self.sample.read_bytes()
            path.write_bytes(data[:-8] + struct.pack(">II", self.albums, number))
            audio = mutagen.File(path, easy=True)
            audio["artist"] = f"Marnesund Five {self.albums % 7}"
            audio["album"] = f"Low Tide {self.albums}"
            audio["title"] = f"Song {number}"
            audio["tracknumber"] = str(number)
            audio["genre"] = "Pop"
            audio.save()
        folder.rename(self.music / folder.name)

    def a_folder(self) -> Path:
        return self.draw.choice(sorted(path for path in self.music.iterdir() if path.is_dir()))

    def remove_album(self) -> None:
        if len(list(self.music.iterdir())) > 4:
            shutil.rmtree(self.a_folder())

    def rename_album(self) -> None:
        self.albums += 1
        self.a_folder().rename(self.music / f"Album {self.albums:05} moved")

    def retag(self) -> None:
        path = self.draw.choice(sorted(self.a_folder().glob("*.mp3")))
        aside = self.base / path.name
        shutil.copy(path, aside)
        audio = mutagen.File(aside, easy=True)
        audio["title"] = f"Other title {self.draw.randint(0, 999)}"
        audio.save()
        aside.replace(path)

    def plug(self) -> None:
        name = self.draw.choice(NAMES)
        if name not in self.plugged:
            self.plugged.add(name)
            self.table.mount(str(self.medium(name)), f"dev {name}")

    def unplug(self) -> None:
        if self.plugged:
            name = self.draw.choice(sorted(self.plugged))
            self.plugged.discard(name)
            self.table.unmount(str(self.medium(name)))

    def kill_a_job(self) -> None:
        for worker in psutil.Process().children():
            worker.send_signal(signal.SIGKILL)

    def pull(self) -> None:
        """The job is killed at whatever it does: what the card holds is what it holds."""
        self.kill_a_job()
        self.unplug()

    def copy_appears(self) -> None:
        name = self.draw.choice(NAMES)
        copy = self.base / "copy"
        if name in self.plugged and not copy.exists():
            shutil.copytree(self.medium(name), copy)
            self.table.mount(str(copy), "dev copy")

    def lose_root(self) -> None:
        if self.music.exists():
            self.music.rename(self.base / "away")

    def break_settings(self) -> None:
        self.home.settings_file.write_text(f"worker = {self.draw.random()}\n")
        self.keeper.look_round()

    def break_programme(self) -> None:
        self.programme.write_text(f"formats = {self.draw.random()}\n")
        self.keeper.look_round()

    def command_at_work(self) -> None:
        if not self.keeper.state.jobs and (fd := self.home.try_lock()) is not None:
            self.watch.set_off()
            self.pass_s(self.draw.random() * 20)
            os.close(fd)

    def command_wants_way(self) -> None:
        self.keeper.give_way(lambda: None)

    def restart(self) -> None:
        self.end()
        self.home.settings_file.write_text(self.good_settings)  # else it says so, and ends
        self.begin()

    def ask_to_scan(self) -> None:
        self.keeper.refresh()

    LIBRARY = (add_album, add_album, remove_album, rename_album, retag)
    OTHER = (
        plug, plug, plug, unplug, kill_a_job, pull, copy_appears, lose_root, break_settings,
        break_programme, command_at_work, command_wants_way, restart, ask_to_scan,
    )  # fmt: skip

    def round(self) -> None:
        """Some hours of it."""
        for _ in range(self.draw.randint(1, 4)):
            deeds = self.LIBRARY if self.draw.random() < 0.5 else self.OTHER
            if deeds is self.LIBRARY and not self.music.exists():
                continue
            deed = self.draw.choice(deeds)
            deed(self)
            self.done[deed.__name__] = self.done.get(deed.__name__, 0) + 1
            if self.draw.random() < 0.7:
                self.watch.set_off()
            for _ in range(self.draw.randint(0, 12)):
                self.loop.after(self.draw.random() * 0.05, lambda: None)
                self.loop.once()
            self.pass_s(self.draw.random() * 3600)

    def mend(self) -> None:
        """Take away what is broken; the rest is the daemon's affair."""
        if not self.music.exists():
            (self.base / "away").rename(self.music)
        self.home.settings_file.write_text(self.good_settings)
        self.programme.write_text(EVERYTHING_TOML)
        copy = self.base / "copy"
        if copy.exists():
            if str(copy) in self.table.mounted:
                self.table.unmount(str(copy))
            shutil.rmtree(copy)
        self.keeper.refresh()
        self.pass_s(1)
        deadline = time.monotonic() + SECONDS
        while not self.resting():
            assert time.monotonic() < deadline, self.keeper.state
            self.loop.after(0.05, lambda: None)
            self.loop.once()
            if not self.keeper.state.jobs:
                self.offset += 30  # what is held back after a failure

    def check(self, *, whole: bool) -> None:
        """The cards that are in are right; *whole*: byte for byte those of one go."""
        wanted = len(list(self.music.rglob("*.mp3")))
        for name in sorted(self.plugged):
            medium = self.medium(name)
            files = list((medium / "Music").rglob("*.mp3"))
            assert len(files) == wanted, (name, len(files), wanted)
            assert not (medium / "SYNCD" / "journal").exists()
            assert not (medium / "SYNCD" / "incoming").exists()
        assert len(self.left_behind()) < 6  # of jobs that were killed since the daemon last rested
        if whole and self.plugged:
            # Apart, so that its memory is not taken for the daemon's.
            apart = os.fork()
            if apart == 0:
                status = 1
                try:
                    self.check_whole()
                    status = 0
                except BaseException:
                    traceback.print_exc()
                finally:
                    os._exit(status)
            assert os.waitstatus_to_exitcode(os.waitpid(apart, 0)[1]) == 0, "not as in one go"

    def left_behind(self) -> list[str]:
        """Temporary files and folders of jobs, and other odd things at home."""
        scratch = self.home.state / "scratch"
        found = list(scratch.glob("jobs/*"))
        found += [path for path in scratch.glob("*") if path.name != "jobs"]
        found += (self.home.store / "parts").glob("*")
        found += (path for path in self.home.cards.iterdir() if path.suffix not in KEPT)
        return sorted(path.name for path in found)

    def check_whole(self) -> None:
        fresh = self.base / "fresh"
        home = find_home(str(self.base / "fresh home"), environment={})
        fresh.mkdir()
        home.made()
        home.settings_file.write_text(self.good_settings)
        with LibraryIndex(home.index_file) as index:
            index.add_root(self.music)
            refresh(index)
            library = index.snapshot()
        cards.enrol(home, fresh, "mcu-mp3", "FRESH")
        with (
            at_home.card_in_hand(home, "FRESH") as hand,
            at_home.updater(home, library) as work,
        ):
            work.update(hand.target)
        for name in self.plugged:
            assert on_card(self.medium(name)) == on_card(fresh), name
        shutil.rmtree(fresh)
        shutil.rmtree(home.state.parent)


def on_card(card: Path) -> dict[str, bytes]:
    """Every file but for the identity and the slot's letter and record (I3)."""
    found = {}
    for path in card.rglob("*"):
        shown = path.relative_to(card).as_posix()
        if path.is_file() and shown != "SYNCD/card.json" and not shown.endswith(".rec"):
            found[shown.replace("cat-b.db", "cat-a.db")] = path.read_bytes()
    return found


def soak(rounds: int, seed: int, base: Path, whole_every: int = 10) -> tuple[Count, Count, Soak]:
    """Live so many *rounds*; what was counted after the first quarter and at the end."""
    preload()
    # Hours that are let pass in one go are no sign of a process that hangs.
    child.MUTE_S = 1e9
    world = Soak(base, seed)
    first: Count | None = None
    for number in range(rounds):
        world.round()
        world.mend()
        world.check(whole=number % whole_every == whole_every - 1)
        if number == rounds // 4:
            first = Count.now()
        if rounds >= 100 and number % (rounds // 8) == 0:
            print(f"round {number}: {Count.now()}", flush=True)
    last = Count.now()
    world.end()
    world.begin()
    world.mend()  # one more scan, begun at rest
    world.end()
    assert world.left_behind() == []
    assert first is not None
    assert not psutil.Process().children()
    return first, last, world


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory(prefix="daemon-soak-") as base:
        begun = time.monotonic()
        first, last, world = soak(rounds, seed, Path(base))
        print(f"{rounds} rounds in {time.monotonic() - begun:.0f} s, seed {seed}")
        print(f"simulated: {world.offset / 86400:.1f} days; {world.done}")
        print(f"after a quarter: {first}\nat the end:      {last}")


if __name__ == "__main__":
    main()
