"""Weeks of a daemon's life in minutes: a real keeper with real jobs, and faults drawn at random.

    unshare -m python tests/daemon/daemon_soak.py [ROUNDS] [SEED] [--keep FOLDER]

The library, the home and two cards are folders, a third card, with little room, is a small file
system of its own where mounting is allowed. Doubles are the mount table, the library's watch, the
clocks and the notices; jobs are real, and commands are run as a listener runs them, by the real
socket. Each round changes the library (``soak_library``) or the home, lets hours pass, plugs cards
in and out, and may break something. Then all is mended, and the cards that are in must be right:
by what was put into the library, judged without syncd (``soak_cards``), and byte for byte what a
card has that was filled in one go. Memory, descriptors, threads, processes and temporary files are
counted in the first quarter and at the end.
"""

import argparse
import contextlib
import faulthandler
import gc
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent)]
sys.path.insert(0, str(ROOT))


class Wall:
    """The clock on the wall, which is set back and forth. To be there before syncd is loaded."""

    def __init__(self) -> None:
        self.ahead_s = 0
        self._real, self._real_ns = time.time, time.time_ns
        time.time = self
        time.time_ns = lambda: self._real_ns() + self.ahead_s * 10**9

    def __call__(self) -> float:
        return self._real() + self.ahead_s


WALL = Wall()

import psutil  # noqa: E402
from daemon_kit import Table, Told, Watch  # noqa: E402
from soak_cards import differences, judged, on_card  # noqa: E402
from soak_library import Library  # noqa: E402

from syncd import at_home, cards  # noqa: E402
from syncd.daemon import child  # noqa: E402
from syncd.daemon.control import Control  # noqa: E402
from syncd.daemon.keeper import Keeper  # noqa: E402
from syncd.daemon.loop import Loop  # noqa: E402
from syncd.daemon.process import preload  # noqa: E402
from syncd.daemon.state import CardStage  # noqa: E402
from syncd.library.index import LibraryIndex  # noqa: E402
from syncd.refresh import refresh  # noqa: E402
from syncd.settings import find_home  # noqa: E402

SECONDS = 300.0
KEPT = (".json", ".held")
SETTINGS = 'damaged = "use"\nworkers = 1\nsettle_seconds = 1\n'
EVERYTHING = '[[clause]]\nkind = "popular"\n'
TIGHT_MB = 6
PLACES = 4
YEAR_S = 365 * 86_400


@dataclass(frozen=True)
class Count:
    """What a daemon must not have ever more of. ``blocks`` are those of Python's allocator."""

    resident_kb: int
    blocks: int
    descriptors: int
    threads: int
    children: int

    @classmethod
    def now(cls) -> "Count":
        for _ in range(2):
            gc.collect()
        me = psutil.Process()
        return cls(
            me.memory_info().rss // 1024, sys.getallocatedblocks(), me.num_fds(), me.num_threads(),
            len(me.children()),
        )  # fmt: skip

    def more_than(self, first: "Count", rounds: int) -> list[str]:
        """What has grown since *first*, so many *rounds* before, that should not have."""
        most = {
            "resident_kb": 2_000 + 6 * rounds,
            "blocks": 500 + rounds,
            "descriptors": 2,
            "threads": 1,
            "children": 0,
        }
        return [
            f"{name}: {getattr(first, name)} -> {getattr(self, name)} in {rounds} rounds"
            for name, room in most.items()
            if getattr(self, name) > getattr(first, name) + room
        ]


@dataclass
class Medium:
    """A card: where its files are, what it is called now, what programme it has."""

    folder: Path
    name: str
    artist: str | None = None
    programme: Path | None = None
    foreign: dict[str, bytes] = None  # type: ignore[assignment]
    renamed: int = 0


class Soak:
    """The world of the soak."""

    def __init__(self, base: Path, seed: int, trace: Callable[[str], None]) -> None:
        self.base, self.draw, self.trace = base, random.Random(seed), trace
        self.offset = 0.0
        self.done: dict[str, int] = {}
        self.orphans: list[int] = []
        self.home = find_home(str(base / "home"), environment={})
        self.home.made()
        self.home.settings_file.write_text(SETTINGS)
        self.library = Library(base, self.draw)
        self.media = {key: self._medium(key) for key in ("kitchen", "shed", "tight")}
        with LibraryIndex(self.home.index_file) as index:
            for root in self.library.roots:
                index.add_root(root)
        self.plugged: dict[str, Path] = {}
        self.begin()

    def _medium(self, key: str) -> Medium:
        folder = self.base / f"card {key}"
        folder.mkdir()
        if key == "tight":
            mounting = ["mount", "-t", "tmpfs", "-o", f"size={TIGHT_MB}M", "soak", str(folder)]
            self.tight = subprocess.run(mounting, capture_output=True).returncode == 0
        made = Medium(folder, key.upper(), foreign={})
        if key == "shed":
            made.programme = self.base / "programme.toml"
            made.programme.write_text(EVERYTHING)
        for name in ("notes.txt", "Music/of mine.txt", "Music/Marnesund 1/cover.txt"):
            made.foreign[name] = f"{key} {name}\n".encode() * 50
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(made.foreign[name])
        programme = None if made.programme is None else str(made.programme)
        cards.enrol(self.home, folder, "mcu-mp3", made.name, programme)
        return made

    def close(self) -> None:
        self.library.eyes.close()
        if self.tight:
            subprocess.run(["umount", "--lazy", str(self.media["tight"].folder)], check=False)

    # -- the daemon ---------------------------------------------------------------------------

    def begin(self) -> None:
        self.table, self.told, self.watch = Table(), Told(), Watch()
        self.told.all = deque(maxlen=10)  # type: ignore[assignment]
        for key, place in self.plugged.items():
            self.table.mount(str(place), f"dev {key}")
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
        self.control = Control(self.loop, self.home, self.keeper)
        self.keeper.arrivals.refresh()
        self.keeper._step()

    def end(self) -> None:
        """Stop the daemon as SIGTERM does."""
        self.keeper.stop()
        begun = time.monotonic()
        self.keeper.run()
        self.control.close()
        assert time.monotonic() - begun < 15, "it did not stop"

    def pump(self, rounds: int, each_s: float = 0.05) -> None:
        for _ in range(rounds):
            self.loop.after(self.draw.random() * each_s, lambda: None)
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
            and not state.giving_way
            and not self.keeper.arrivals.waiting()
            and all(known[self.media[key].name] is CardStage.DONE for key in self.plugged)
            and not any(card.held.due for card in self.keeper._plugged.cards.values())
        )

    # -- cards --------------------------------------------------------------------------------

    def plug(self) -> None:
        """A card comes into a slot: a link, as a place where now this is mounted and now that."""
        key = self.draw.choice([key for key in self.media if key != "tight" or self.tight])
        free = [self.base / f"slot {n}" for n in range(PLACES)]
        free = [place for place in free if place not in self.plugged.values()]
        if key not in self.plugged:
            self._put(key, self.draw.choice(free))

    def _put(self, key: str, place: Path) -> None:
        place.unlink(missing_ok=True)
        place.symlink_to(self.media[key].folder)
        self.plugged[key] = place
        self.table.mount(str(place), f"dev {key}")

    def unplug(self) -> None:
        if self.plugged:
            key = self.draw.choice(sorted(self.plugged))
            place = self.plugged.pop(key)
            place.unlink()
            self.table.unmount(str(place))

    def swap_cards(self) -> None:
        """One card out and another in, in one slot, before the daemon has looked at all."""
        out = sorted(key for key in self.media if key not in self.plugged)
        if self.plugged and out and (out[0] != "tight" or self.tight):
            place = self.plugged.pop(self.draw.choice(sorted(self.plugged)))
            del self.table.mounted[str(place)]
            self._put(out[0], place)

    def copy_appears(self) -> None:
        """Another volume with the same id, which comes, or was there first."""
        key = self.draw.choice(["kitchen", "shed"])
        copy = self.base / "copy"
        if not copy.exists() and not self._updating():
            shutil.copytree(self.media[key].folder, copy)
            self.table.mount(str(copy), "dev copy")

    def _updating(self) -> bool:
        return any(job.what == "update" for job in self.keeper.state.jobs)

    def fill_card(self) -> None:
        if self.tight and not self._file_in_the_way().exists():
            with contextlib.suppress(OSError), self._file_in_the_way().open("wb") as file:
                for _ in range(self.draw.randint(1, 12 * TIGHT_MB)):
                    file.write(os.urandom(100_000))

    def _file_in_the_way(self) -> Path:
        return self.media["tight"].folder / "films.bin"

    def make_read_only(self) -> None:
        if self.tight:
            self._remount("ro")

    def _remount(self, how: str) -> None:
        folder = str(self.media["tight"].folder)
        subprocess.run(["mount", "-o", f"remount,{how}", folder], capture_output=True)

    def enrol_again(self) -> None:
        """The same card with or without a programme, perhaps under a new id."""
        if not self.plugged or (self.base / "copy").exists():
            return
        key = self.draw.choice(sorted(self.plugged))
        medium, programme, more = self.media[key], None, []
        if key == "shed" and self.draw.random() < 0.7:
            programme = self.base / "programme.toml"
            more += ["--programme", str(programme)]
        name = medium.name
        if medium.renamed < 4 and self.draw.random() < 0.2:
            medium.renamed += 1
            name = f"{key.upper()} {medium.renamed}"
            more.append("--new-id")
        place = str(self.plugged[key])
        self.command("enrol", place, "--profile", "mcu-mp3", "--name", name, *more)
        known = {record.id: record for record in cards.records(self.home)}
        identity = cards.identity_at(medium.folder)
        assert identity is not None
        medium.name = known[identity.id].name
        told = known[identity.id].programme
        medium.programme = None if told is None else Path(told)

    def edit_programme(self) -> None:
        """It takes in one artist only, or everything again; seen at once or within a minute."""
        artist = f"Marnesund {self.draw.randrange(5)}" if self.draw.random() < 0.6 else None
        self.media["shed"].artist = artist
        (self.base / "programme.toml").write_text(self._programme())
        if self.draw.random() < 0.5:
            self.keeper.look_round()

    def _programme(self) -> str:
        artist = self.media["shed"].artist
        return EVERYTHING if artist is None else f'[[clause]]\nartist = "{artist}"\n'

    # -- what breaks --------------------------------------------------------------------------

    def kill_a_job(self) -> None:
        for worker in psutil.Process().children():
            worker.send_signal(signal.SIGKILL)

    def pull(self) -> None:
        """The job is killed at whatever it does: what the card holds is what it holds."""
        self.kill_a_job()
        self.unplug()

    def kill_the_daemon(self) -> None:
        """As SIGKILL does: nothing is said to anybody, and what it has open is closed."""
        keeper = self.keeper
        for running in keeper._running.values():
            process = getattr(running.job, "_process", None)
            if process is not None and not running.job._over:  # type: ignore[attr-defined]
                self.orphans.append(process.pid)
                running.job._let_go()  # type: ignore[attr-defined]
        if self.draw.random() < 0.3:
            self.kill_a_job()
        self.control._listener.close()
        keeper.arrivals.close()
        keeper._lock.release()
        keeper.loop.close()
        self.home.settings_file.write_text(SETTINGS)  # else it says so, and ends
        self.begin()

    def reap(self) -> None:
        for pid in list(self.orphans):
            try:
                if os.waitpid(pid, os.WNOHANG)[0]:
                    self.orphans.remove(pid)
            except ChildProcessError:
                self.orphans.remove(pid)

    def break_settings(self) -> None:
        self.home.settings_file.write_text(f"worker = {self.draw.random()}\n")
        self.keeper.look_round()

    def break_programme(self) -> None:
        (self.base / "programme.toml").write_text(f"formats = {self.draw.random()}\n")
        self.keeper.look_round()

    def set_clock(self) -> None:
        """Back and forth by hours and years, as a dead battery or a wrong time zone does."""
        jump = self.draw.choice([3_600, 12 * 3_600, 40 * 86_400, YEAR_S, 20 * YEAR_S])
        WALL.ahead_s = self.draw.choice([0, -jump, jump, WALL.ahead_s + 3_600])

    def restart(self) -> None:
        self.end()
        self.home.settings_file.write_text(SETTINGS)
        self.begin()

    # -- what commands do ---------------------------------------------------------------------

    def command(self, *arguments: str) -> None:
        """A command as the listener gives it, while the daemon goes on."""
        self.trace(f"  syncd {' '.join(arguments)}")
        process = subprocess.Popen(
            [sys.executable, "-m", "syncd", "--home", str(self.base / "home"), *arguments],
            cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        deadline = time.monotonic() + SECONDS
        while process.poll() is None:
            assert time.monotonic() < deadline, f"{arguments} hangs"
            self.pump(1)
        assert process.stderr is not None
        said = process.stderr.read()
        process.stderr.close()
        self.trace(f"  {process.returncode} {said.strip()[-200:]}")
        assert process.returncode in (0, 1, 2, 3), (arguments, process.returncode, said)
        assert "Traceback" not in said, said

    def any_command(self) -> None:
        choices = [["scan"], ["review"], ["store", "trim", "--to", "0"], ["cards"], ["status"]]
        if self.plugged:
            place = str(self.plugged[self.draw.choice(sorted(self.plugged))])
            choices += [["plan", place], ["update", place], ["verify", place, "--repair"]]
        self.command(*self.draw.choice(choices))

    def lock_is_held(self) -> None:
        """A command that has the lock for a while."""
        if not self.keeper.state.jobs and (fd := self.home.try_lock()) is not None:
            self.watch.set_off()
            self.pass_s(self.draw.random() * 20)
            os.close(fd)

    def command_wants_way(self) -> None:
        self.keeper.give_way(lambda: None)

    def ask_to_scan(self) -> None:
        self.keeper.refresh()

    # -- rounds -------------------------------------------------------------------------------

    LIBRARY = (
        "add_album", "add_album", "remove_album", "move_album", "move_tree", "retag", "retag",
        "swap", "replace_audio", "break_song", "mend_song", "paint", "change_sheet", "lose_root",
        "root_back", "begin_rip", "end_rip",
    )  # fmt: skip
    OTHER = (
        "plug", "plug", "plug", "plug", "unplug", "swap_cards", "copy_appears", "fill_card",
        "make_read_only", "enrol_again", "edit_programme", "kill_a_job", "pull", "kill_the_daemon",
        "break_settings", "break_programme", "set_clock", "restart", "any_command", "any_command",
        "lock_is_held", "command_wants_way", "ask_to_scan",
    )  # fmt: skip

    def round(self) -> None:
        """Some hours of it."""
        for _ in range(self.draw.randint(1, 5)):
            changes = self.draw.random() < 0.5
            deed = self.draw.choice(self.LIBRARY if changes else self.OTHER)
            self.trace(f"{deed}; under way: {[job.what for job in self.keeper.state.jobs]}")
            self.done[deed] = self.done.get(deed, 0) + 1
            if changes:
                self.library_deed(deed)
            else:
                getattr(self, deed)()
            if self.draw.random() < 0.7:
                self.watch.set_off()
            self.pump(self.draw.randint(0, 12))
            self.reap()
            if self.draw.random() < 0.6:
                self.pass_s(self.draw.random() * 3600)

    def library_deed(self, deed: str) -> None:
        library = self.library
        library.eyes.untouched()
        told = getattr(library, deed)()
        if deed == "begin_rip" and told is not None:
            self.watch.stirring = (told,)
        elif library.ripping is None:
            self.watch.stirring = ()
        library.eyes.look_at(library.here())

    def mend(self) -> None:
        """Take away what is broken; the rest is the daemon's affair."""
        self.trace("mend")
        self.library_deed("root_back")
        self.library_deed("end_rip")
        self.watch.stirring = ()
        self.home.settings_file.write_text(SETTINGS)
        (self.base / "programme.toml").write_text(self._programme())
        copy = self.base / "copy"
        if copy.exists():
            if str(copy) in self.table.mounted:
                self.table.unmount(str(copy))
            shutil.rmtree(copy)
        if self.tight:
            self._remount("rw")
            if self._file_in_the_way().exists():
                self._file_in_the_way().unlink()
                if "tight" in self.plugged:  # nobody hears of a file that goes: it is asked for
                    with contextlib.suppress(Exception):
                        self.keeper.update_card(self.media["tight"].name)
        self.keeper.refresh()
        self.rest()
        # A daemon's first scan leaves what changed just before; its watch tells of that later.
        self.watch.set_off()
        self.rest()
        self.library.eyes.untouched()

    def rest(self) -> None:
        self.pass_s(1)
        deadline = time.monotonic() + SECONDS
        while not self.resting() or self.orphans:
            assert time.monotonic() < deadline, (self.keeper.state, self.orphans)
            self.pump(1)
            self.reap()
            if not self.keeper.state.jobs:
                self.offset += 30  # what is held back after a failure

    def check(self, *, whole: bool) -> None:
        """The cards that are in are right; *whole*: byte for byte those of one go."""
        assert len(self.left_behind()) < 6  # of jobs that were killed since the daemon last rested
        # Apart, so that its memory is not taken for the daemon's.
        apart = os.fork()
        if apart == 0:
            status = 1
            try:
                for key in self.plugged:
                    medium = self.media[key]
                    artist = medium.artist if medium.programme is not None else None
                    judged(medium.folder, self.library.expected(artist), medium.foreign)
                if whole and self.plugged and not self.library.has_broken():
                    self.check_whole()
                status = 0
            except BaseException:
                traceback.print_exc()
            finally:
                os._exit(status)
        assert os.waitstatus_to_exitcode(os.waitpid(apart, 0)[1]) == 0, key_of(self.plugged)

    def left_behind(self) -> list[str]:
        """Temporary files and folders of jobs, and other odd things at home."""
        scratch = self.home.state / "scratch"
        found = list(scratch.glob("jobs/*"))
        found += [path for path in scratch.glob("*") if path.name != "jobs"]
        found += (self.home.store / "parts").glob("*")
        found += (path for path in self.home.cards.iterdir() if path.suffix not in KEPT)
        return sorted(path.name for path in found)

    def check_whole(self) -> None:
        """Each card beside one that was filled in one go, by another home with a new index."""
        home = find_home(str(self.base / "fresh home"), environment={})
        home.made()
        home.settings_file.write_text(SETTINGS)
        with LibraryIndex(self.home.index_file) as index:
            came = {each.track.address: each.track.added for each in index.snapshot().tracks}
        shutil.rmtree(home.state)
        home.made()
        with LibraryIndex(home.index_file) as index:
            for root in self.library.roots:
                index.add_root(root)
            refresh(index)
            library = index.snapshot()
        # On which day a file came is what only the home knows that was there.
        library = replace(
            library,
            tracks=tuple(
                replace(each, track=replace(each.track, added=came[each.track.address]))
                for each in library.tracks
            ),
        )
        for key in self.plugged:
            medium = self.media[key]
            fresh = self.base / "fresh"
            fresh.mkdir()
            programme = None if medium.programme is None else str(medium.programme)
            cards.enrol(home, fresh, "mcu-mp3", "FRESH", programme)
            with (
                at_home.card_in_hand(home, str(fresh)) as hand,
                at_home.updater(home, library) as work,
            ):
                work.update(hand.target)
            one, other = on_card(medium.folder, medium.foreign), on_card(fresh, {})
            assert one == other, (key, differences(one, other))
            shutil.rmtree(fresh)
            shutil.rmtree(home.cards)
            home.made()
        if self.draw.random() < 0.2:
            shutil.rmtree(home.state.parent)  # else its pressings serve again


def key_of(plugged: dict[str, Path]) -> str:
    return f"a card is not right, of {sorted(plugged)}"


def soak(
    rounds: int,
    seed: int,
    base: Path,
    whole_every: int = 10,
    trace: Callable[[str], None] = lambda text: None,
    each: Callable[[Soak], None] = lambda world: None,
) -> tuple[list[str], Soak, tuple[Count, Count]]:
    """Live so many *rounds*; what has grown since the first quarter that should not have."""
    preload()
    # Hours that are let pass in one go are no sign of a process that hangs.
    child.MUTE_S = 1e9
    world = Soak(base, seed, trace)
    first: Count | None = None
    try:
        for number in range(rounds):
            trace(f"round {number}")
            world.round()
            world.mend()
            world.check(whole=number % whole_every == whole_every - 1)
            each(world)
            if number == rounds // 4:
                first = Count.now()
            if rounds >= 100 and number % (rounds // 10) == 0:
                print(f"round {number}: {Count.now()}", flush=True)
        last = Count.now()
        world.end()
        world.begin()
        world.mend()  # one more scan, begun at rest
        world.end()
        assert world.left_behind() == []
        assert first is not None
        assert not psutil.Process().children()
        return last.more_than(first, rounds - rounds // 4), world, (first, last)
    finally:
        WALL.ahead_s = 0
        world.close()


def main() -> None:
    faulthandler.register(signal.SIGUSR1)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rounds", nargs="?", type=int, default=1000)
    parser.add_argument("seed", nargs="?", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="work here; kept with its trace if it ends wrong")
    parser.add_argument(
        "--leak", choices=["memory", "descriptor"], help="plant one, to see it seen"
    )
    chosen = parser.parse_args()
    base = chosen.keep or Path(tempfile.mkdtemp(prefix="daemon-soak-"))
    base.mkdir(exist_ok=True)
    hoard: list[object] = []
    leaks: dict[str | None, Callable[[Soak], None]] = {
        None: lambda world: None,
        "memory": lambda world: hoard.extend([object() for _ in range(100)]),
        "descriptor": lambda world: hoard.append(os.dup(0)),
    }
    begun = time.monotonic()
    with (base / "trace.txt").open("w", buffering=1) as trace:
        grown, world, (first, last) = soak(
            chosen.rounds, chosen.seed, base,
            trace=lambda text: print(text, file=trace), each=leaks[chosen.leak],
        )  # fmt: skip
    print(f"{chosen.rounds} rounds in {time.monotonic() - begun:.0f} s, seed {chosen.seed}")
    print(f"simulated: {world.offset / 86400:.1f} days; {world.done}")
    print(f"a card with little room: {'yes' if world.tight else 'no, mounting is not allowed'}")
    print(f"after a quarter: {first}\nat the end:      {last}")
    shutil.rmtree(base, ignore_errors=True)
    if grown:
        raise SystemExit(f"grown: {grown}")


if __name__ == "__main__":
    main()
