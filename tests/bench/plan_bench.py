"""Planning for a full card of N tracks with nothing to do: seconds, peak memory, growth.

Run: python tests/bench/plan_bench.py [--tracks 100000] [--clauses 20 [--fit]]
With --clauses: a programme of so many clauses, on a card that holds a third of what is there;
with --fit the quality is chosen, too.
Prints one line for a tenth of the tracks and one for all, and the ratio between them, so that
growth out of proportion shows. Each size runs in a process of its own for its peak memory.
"""

import argparse
import json
import multiprocessing
import pickle
import resource
import tempfile
import time
from pathlib import Path

import xxhash

from syncd.model import (
    AudioFacts,
    AudioHash,
    CardPath,
    CataloguedTrack,
    Codec,
    Composer,
    ContentHash,
    Credit,
    Identity,
    Kind,
    LibraryPath,
    LibrarySnapshot,
    Movement,
    Track,
    Work,
)
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.planning import make_plan
from syncd.planner.programme import Choice, Clause, Limit, Programme
from syncd.profile import read_profile, sample_profiles


def library(tracks: int) -> LibrarySnapshot:
    """Invented: four movements a recording, ten recordings a composer, a fifth popular."""
    made = []
    for number in range(tracks):
        recording, movement = divmod(number, 4)
        composer = recording // 10
        digest = xxhash.xxh3_128_hexdigest(f"audio {number}".encode())
        audio = AudioFacts("flac", Codec.FLAC, 44100, 2, 200.0 + number % 300, 16, 800_000)
        popular = recording % 5 == 0
        path = f"/music/{composer:05d}/{recording:06d}/{movement + 1:02d} Track {number}.flac"
        track = Track(
            LibraryPath(path), AudioHash(digest), audio, 20_000_000 + number,
            title=f"Title {number}", artist=f"Orchestra {recording % 97}",
            album=f"Album {recording}", date="1998", track_number=movement + 1,
        )  # fmt: skip
        identity = (
            Identity(Kind.POPULAR, artist=track.artist, album=track.album, confidence=0.9)
            if popular
            else Identity(
                Kind.WORK,
                Composer(f"Given {composer} Family", f"Family {composer}, Given"),
                Work(f"Symphony No. {recording % 10 + 1}", (f"Op. {recording % 130}",), "C minor"),
                f"{recording:012x}",
                Movement(movement + 1, f"Allegro {movement}"),
                (
                    Credit(f"Orchestra {recording % 97}", "ensemble"),
                    Credit(f"Conductor {recording % 301}", "conductor"),
                ),
                track.artist,
                track.album,
                0.95,
            )
        )
        made.append(CataloguedTrack(track, identity))
    return LibrarySnapshot(tuple(made))


def first_update(tracks: int, end: Path) -> None:
    """Plan for an empty card and keep, in *end*, what lies on the card after it."""
    profile = read_profile(sample_profiles()["mcu-mp3"])
    empty = CardState(bytes_free=1 << 50, cluster_bytes=32768)
    first = make_plan(library(tracks), empty, profile)
    assert len(first.end) == tracks
    entries = tuple(
        ManifestEntry(CardPath(place.path), place.size, ContentHash("0" * 32), place.source)
        for place in first.end
    )
    end.write_bytes(pickle.dumps((entries, first.catalogue_key)))


def measure(tracks: int, end: Path, answer: "multiprocessing.Queue[str]") -> None:
    """Plan again for the card as it is after its first update, and time that."""
    profile = read_profile(sample_profiles()["mcu-mp3"])
    snapshot = library(tracks)
    entries, catalogue_key = pickle.loads(end.read_bytes())
    card = CardState(entries, bytes_free=1 << 40, cluster_bytes=32768, catalogue_key=catalogue_key)
    before, processor = time.perf_counter(), time.process_time()
    plan = make_plan(snapshot, card, profile)
    seconds, processor = time.perf_counter() - before, time.process_time() - processor
    assert plan.steps == ()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = {"tracks": tracks, "seconds": seconds, "processor": processor, "peak_mb": peak}
    answer.put(json.dumps(told))


def programme(clauses: int, fit: bool) -> Programme:
    """Clauses of every kind, some with limits, some of names alone; the last asks for the rest."""
    kinds = (
        lambda n: Clause(composer=(f"Family {n}, Given", f"G. Family {n + 100}")),
        lambda n: Clause(conductor=(f"Conductor {n * 7}",), limit=Limit(hours=200)),
        lambda n: Clause(work=(f"Op. {n}",), form=("Symphony",), order="year"),
        lambda n: Clause(ensemble=(f"Orchestra {n}",), limit=Limit(size=40_000_000_000)),
        lambda n: Clause(artist=(f"Orchestra {n + 40}",), leave_out=(Choice(album="Album 55"),)),
        lambda n: Clause(performer=(f"Conductor {n}",), period=("romantic",)),
        lambda n: Clause(kind="popular", label=(f"Label {n}",)),
    )
    made = [kinds[number % len(kinds)](number + 1) for number in range(clauses - 1)]
    return Programme(clause=(*made, Clause(everything=True)), fit=fit)


def measure_clauses(
    tracks: int, clauses: int, fit: bool, answer: "multiprocessing.Queue[str]"
) -> None:
    """Plan for an empty card with a third of the room, then again for what lies on it then."""
    profile = read_profile(sample_profiles()["mcu-mp3"])
    snapshot = library(tracks)
    wanted = programme(clauses, fit)
    everything = make_plan(snapshot, CardState(bytes_free=1 << 50, cluster_bytes=32768), profile)
    room = sum(place.size for place in everything.end) // 3
    told: dict[str, object] = {"tracks": tracks}
    card = CardState(bytes_free=room, cluster_bytes=32768)
    for name in ("empty", "full"):
        before, processor = time.perf_counter(), time.process_time()
        plan = make_plan(snapshot, card, profile, wanted)
        told[name] = time.perf_counter() - before
        told[f"{name}_cpu"] = time.process_time() - processor
        entries = tuple(
            ManifestEntry(CardPath(p.path), p.size, ContentHash("0" * 32), p.source)
            for p in plan.end
        )
        card = CardState(entries, bytes_free=plan.bytes_free_after, cluster_bytes=32768)
        told[f"{name}_tracks"] = len(plan.end)
    answer.put(json.dumps(told))


def main_clauses(tracks: int, clauses: int, fit: bool) -> None:
    """Print what a programme costs."""
    answer: multiprocessing.Queue[str] = multiprocessing.Queue()
    process = multiprocessing.Process(target=measure_clauses, args=(tracks, clauses, fit, answer))
    process.start()
    told = json.loads(answer.get())
    process.join()
    for name in ("empty", "full"):
        print(
            f"{tracks} tracks, {clauses} clauses, a third of the room, {name} card: "
            f"{told[name]:.2f} s ({told[f'{name}_cpu']:.2f} s of processor), "
            f"{told[f'{name}_tracks']} tracks on it"
        )
    print("budget 5 s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tracks", type=int, default=100_000)
    parser.add_argument("--clauses", type=int, default=0)
    parser.add_argument("--fit", action="store_true")
    arguments = parser.parse_args()
    wanted = arguments.tracks
    if arguments.clauses:
        main_clauses(wanted, arguments.clauses, arguments.fit)
        return
    results = []
    for tracks in (wanted // 10, wanted):
        answer: multiprocessing.Queue[str] = multiprocessing.Queue()
        with tempfile.TemporaryDirectory() as folder:
            end = Path(folder) / "end"
            # Processes of their own: the memory of the first plan must not count for the second.
            first = multiprocessing.Process(target=first_update, args=(tracks, end))
            first.start()
            first.join()
            process = multiprocessing.Process(target=measure, args=(tracks, end, answer))
            process.start()
            results.append(json.loads(answer.get()))
            process.join()
        last = results[-1]
        print(
            f"{last['tracks']:>8} tracks: {last['seconds']:.2f} s "
            f"({last['processor']:.2f} s of processor), peak {last['peak_mb']:.0f} MB "
            "(library, card and plan together)"
        )
    growth = results[1]["seconds"] / results[0]["seconds"]
    print(f"ten times the tracks take {growth:.1f} times the time; budget 2 s and 500 MB")


if __name__ == "__main__":
    main()
