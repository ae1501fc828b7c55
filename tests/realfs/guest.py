"""Runs inside the user-mode kernel: mounts card images and does to them what the jobs say.

A job is a device or an image file, its driver (vfat, exfat or exfat-fuse), mount options, and deeds
done one after the other, each with the card mounted for it and unmounted after it:

``plain SCENE``    the card's identity and the listener's own files of a scene
``before SCENE``   the update that the scene starts from
``after SCENE``    the update that the tests are about
``brim EDGE BYTES``   the card that an edge starts from, with BYTES free
``over EDGE``      the update of an edge, chosen and reckoned as ``updating`` does
``mark TEXT``      a mark in the record of block writes
``update PLACE``   a whole update (``syncd.updating``) of a prepared home in the shared folder
``call MODULE:NAME``  a function of a module beside this one, with the volume
``check PLACE``    what ``syncd plan`` would say of it after that, which must be nothing
"""

import importlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS / "realfs"), str(TESTS / "applier"), str(TESTS), str(TESTS.parent)]

from card_world import Scene, update  # noqa: E402
from edge_world import EDGES, Edge, whole_update  # noqa: E402
from real_scenes import SCENES  # noqa: E402
from reckoned_world import reckoned_update  # noqa: E402

from syncd.applier.folder_volume import FolderVolume  # noqa: E402
from syncd.applier.reckoning import Reckoned  # noqa: E402
from syncd.errors import SyncdError  # noqa: E402
from syncd.planner.costing import RESERVE_BYTES  # noqa: E402
from syncd.planner.plan import Plan, Step  # noqa: E402

OPTIONS = {"vfat": "iocharset=utf8,shortname=mixed", "exfat": "iocharset=utf8", "exfat-fuse": "rw"}


def main(share: Path) -> None:
    jobs = json.loads((share / "jobs.json").read_text())
    children = []
    for number, job in enumerate(jobs):
        if not job.get("beside"):
            _job(share, number, job)
        elif (child := os.fork()) == 0:
            _job(share, number, job)
            os._exit(0)
        else:
            children.append(child)
    for child in children:
        os.waitpid(child, 0)


def _job(share: Path, number: int, job: dict[str, Any]) -> None:
    results = []
    device = job.get("device") or str(share / job["image"])
    card = Path(job.get("mount") or f"/mnt/card{number % 4 + 1}")
    system = job.get("system", "vfat")
    options = job.get("options", OPTIONS[system])
    if "device" not in job:
        options += ",loop"
    mapped = None
    if job.get("log"):
        sectors = int(_told("blockdev", "--getsz", device))
        _told(
            "dmsetup",
            "create",
            "logged",
            "--table",
            f"0 {sectors} log-writes {device} {job['log']}",
        )
        device = mapped = "/dev/mapper/logged"
        if not Path(mapped).exists():
            _told("dmsetup", "mknodes")
    for deed in job["deeds"]:
        doing, _, about = deed.partition(" ")
        if doing == "mark":
            descriptor = os.open(device, os.O_RDWR)
            os.fsync(descriptor)
            os.close(descriptor)
            _told("dmsetup", "message", "logged", "0", "mark", about)
            continue
        _mount(system, options, device, card)
        try:
            result = _done(share, card, doing, about, _Signal(share, number, job.get("signal")))
        finally:
            _unmount(system, card)
        results.append({"deed": deed, **result})
    if mapped is not None:
        _told("dmsetup", "remove", "logged")
    (share / f"result-{number}.json").write_text(json.dumps(results))


def _mount(system: str, options: str, device: str, card: Path) -> None:
    if system == "exfat-fuse":
        _told("mount.exfat-fuse", device, str(card))
    else:
        _told("mount", "-t", system, "-o", options, device, str(card))


def _unmount(system: str, card: Path) -> None:
    """Unmount *card*; with FUSE also wait for the process, which still writes then."""
    _told("umount", str(card))
    if system == "exfat-fuse":
        for _ in range(500):
            if subprocess.run(["pidof", "mount.exfat-fuse"], capture_output=True).returncode:
                return
            time.sleep(0.02)
        raise OSError("exfat-fuse does not end")


class _Signal:
    """Tells the host that so many steps of an update are done: time to cut the power."""

    def __init__(self, share: Path, number: int, steps: int | None) -> None:
        self.path = share / f"signal-{number}"
        self.left = steps
        self.reported = 0

    def __call__(self, step: Step | None = None, size: int = 0) -> None:
        self.reported += 1
        if self.left is None:
            return
        self.left -= 1
        if self.left == 0:
            self.path.touch()


def _done(share: Path, card: Path, doing: str, about: str, signal: _Signal) -> dict[str, Any]:
    started = time.monotonic()
    problem = None
    value: object = None
    plan: Plan | None = None
    told: Reckoned | None = None
    with FolderVolume(card, "CARD") as volume:
        free = volume.space().free
        try:
            if doing == "plain":
                _plain(volume, SCENES[about])
            elif doing == "before":
                scene = SCENES[about]
                if scene.before is not None:
                    plan, _ = update(volume, scene.before, scene.profile_before)
            elif doing == "after":
                scene = SCENES[about]
                told = reckoned_update(volume, scene.after, scene.profile_after, signal)
            elif doing == "brim":
                name, _, left = about.rpartition(" ")
                _brim(volume, EDGES[name], int(left))
            elif doing == "over":
                plan = whole_update(volume, EDGES[about].after, EDGES[about], signal)
            elif doing == "call":
                module, _, name = about.partition(":")
                value = getattr(importlib.import_module(module), name)(volume)
            else:
                plan = _whole(share / about, volume, signal if doing == "update" else None)
        except SyncdError as error:
            problem = f"{type(error).__name__}: {error}"
        left = os.statvfs(card)
    return {
        "problem": problem,
        "value": value,
        "steps": None if plan is None else len(plan.steps),
        "reported": signal.reported,
        "not_fitting": [] if plan is None else [item.title for item in plan.not_fitting],
        "free_before": free,
        "free_told": plan.bytes_free_after if plan else told.free_after if told else None,
        "free_is_exact": plan.free_is_exact if plan else told is not None and told.exact,
        "free_after": left.f_bfree * left.f_frsize,
        "read_only": bool(left.f_flag & os.ST_RDONLY),
        "seconds": time.monotonic() - started,
    }


def _plain(volume: FolderVolume, scene: Scene) -> None:
    volume.write("SYNCD/card.json", [b"{}"])
    for path, data in scene.foreign.items():
        volume.write(path, [data])
    if scene.tight:  # room for either library, but not for what is new beside what is old
        wanted = [scene.after] if scene.before is None else [scene.before, scene.after]
        most = max(sum(one.track.size_bytes + 1024 for one in lib.tracks) for lib in wanted)
        room = most + RESERVE_BYTES + (64 << 10)
        volume.write("FILLER.BIN", [bytes(volume.space().free - room)])


def _brim(volume: FolderVolume, edge: Edge, left: int) -> None:
    volume.write("SYNCD/card.json", [b"{}"])
    whole_update(volume, edge.before, edge)
    volume.write("PHOTOS.BIN", [bytes(volume.space().free - left)])
    volume.barrier()


def _whole(home: Path, volume: FolderVolume, signal: _Signal | None) -> Plan:
    """A whole update of the card from the prepared *home*; only its plan without a *signal*."""
    from update_kit import Place

    from syncd.library.index import LibraryIndex
    from syncd.transcoder.store import Store
    from syncd.updating.values import Target

    place = Place(home)
    with LibraryIndex(home / "library.db") as index, Store(place.store) as store:
        target = Target(volume, place.profile)
        if signal is None:
            return place.updater(index, store).plan(target)[0]
        return place.updater(index, store, lambda progress: signal()).update(target).plan


def _told(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode != 0:
        raise OSError(f"{' '.join(command)}: {done.stderr.strip()}")
    return done.stdout


if __name__ == "__main__":
    main(Path(sys.argv[1]))
