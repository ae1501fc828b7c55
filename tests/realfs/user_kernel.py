"""A user-mode Linux kernel that mounts card images with its vfat or exfat driver and works on them.

``Bench.run`` boots it, has ``guest.py`` do a list of jobs, and returns what each came to;
``Bench.cut`` kills it in the middle, which is a power cut: what that kernel had not written to the
image yet is gone. The host's files are its root, read-only; one folder is shared, writable.

Debian's package has no exfat driver: ``get_exfat.sh`` makes it, ``SYNCD_EXFAT`` names it.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
LINUX = "/usr/bin/linux.uml"
MODULES = Path("/usr/lib/uml/modules")
NEEDED = {  # what must be there, and the Debian package that brings it
    "linux.uml": "user-mode-linux",
    "insmod": "kmod",
    "mkfs.vfat": "dosfstools",
    "mdir": "mtools",
    "dmsetup": "dmsetup",
}
EXFAT = os.environ.get("SYNCD_EXFAT", "")
"""The exfat driver for that kernel."""
SECONDS = 300
"""A boot that takes longer has hung."""

Job = dict[str, Any]


def lacking(programs: dict[str, str]) -> str | None:
    """Why tests that need *programs* cannot run here; None when they can."""
    if sys.platform != "linux" or os.geteuid() != 0:
        return "needs Linux and root"
    path = os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/sbin"])
    gone = sorted(
        {package for name, package in programs.items() if not shutil.which(name, path=path)}
    )
    if gone and os.environ.get("SYNCD_CI") == "1":
        raise RuntimeError(f"These Debian packages must be there, so that tests run: {gone}")
    return f"needs the Debian package {', '.join(gone)}" if gone else None


def no_bench() -> str | None:
    """Why there is no user-mode kernel here, None when there is."""
    if reason := lacking(NEEDED):
        return reason
    amx = "amx_tile" in Path("/proc/cpuinfo").read_text()
    if amx and not (shutil.which("tcc") or shutil.which("cc")):
        return (
            "needs the Debian package tcc (the user-mode kernel wants help on processors with AMX)"
        )
    if not _may_trace():
        return "needs a machine on which a process may trace another (ptrace), as that kernel does"
    return None


def no_exfat_bench() -> str | None:
    """Why that kernel cannot mount exFAT here, None when it can."""
    if reason := no_bench() or lacking({"mkfs.exfat": "exfatprogs"}):
        return reason
    if not Path(EXFAT).is_file():
        return (
            "needs exfat.ko, which Debian's user-mode kernel lacks: tests/realfs/get_exfat.sh DIR "
            "makes it, SYNCD_EXFAT=DIR/exfat.ko names it"
        )
    return None


@cache
def _may_trace() -> bool:
    """Whether ptrace is allowed here: some containers forbid it, and the kernel cannot run then."""
    probe = (
        "import ctypes, os, signal, sys\n"
        "libc = ctypes.CDLL(None, use_errno=True)\n"
        "child = os.fork()\n"
        "if not child:\n"
        "    if libc.ptrace(0, 0, None, None): os._exit(1)\n"
        "    os.kill(os.getpid(), signal.SIGSTOP)\n"
        "    os._exit(0)\n"
        "_, status = os.waitpid(child, 0)\n"
        "stopped = os.WIFSTOPPED(status)\n"
        "if stopped: os.kill(child, signal.SIGKILL)\n"
        "sys.exit(0 if stopped else 1)\n"
    )
    return subprocess.run([sys.executable, "-c", probe], check=False).returncode == 0


def _memory(base: Path) -> dict[str, str]:
    """Where that kernel keeps its memory: in a file, and /dev/shm is small in some containers."""
    shared = os.statvfs("/dev/shm") if Path("/dev/shm").is_dir() else None
    if shared is not None and shared.f_bavail * shared.f_frsize > 1 << 30:
        return {}
    return {"TMPDIR": str(base)}


class Bench:
    """A user-mode kernel with its folder *base*: images, jobs and results are in there."""

    def __init__(self, base: Path) -> None:
        self.base = base
        base.mkdir(parents=True, exist_ok=True)
        compiler = shutil.which("tcc") or shutil.which("cc")
        self._help = _memory(base)
        if compiler is not None:
            library = base / "fp_registers.so"
            source = HERE / "fp_registers.c"
            command = [compiler, "-shared", "-fPIC", "-o", str(library), str(source)]
            subprocess.run(command, check=True, capture_output=True)
            self._help["LD_PRELOAD"] = str(library)

    def image(self, name: str, size: int = 34 << 20, *options: str) -> Path:
        """A new card image with FAT32 on it, as mkfs.vfat makes it."""
        return self._made(name, size, "mkfs.vfat", "-F", "32", "-i", "5a5a5a5a", *options)

    def exfat_image(self, name: str, size: int = 34 << 20, *options: str) -> Path:
        """A new card image with exFAT on it, as mkfs.exfat makes it."""
        return self._made(name, size, "mkfs.exfat", *options)

    def _made(self, name: str, size: int, *command: str) -> Path:
        path = self.base / name
        path.unlink(missing_ok=True)
        with path.open("wb") as file:
            file.truncate(size)
        program, *options = command
        made = [f"/usr/sbin/{program}", *options, str(path)]
        subprocess.run(made, check=True, capture_output=True)
        return path

    def run(self, jobs: Sequence[Job], devices: Sequence[Path] = ()) -> list[list[dict[str, Any]]]:
        """Do *jobs* on *devices* (ubdb, ubdc, ...); for each, what each of its deeds came to."""
        self._boot(jobs, devices, None)
        results = []
        for number in range(len(jobs)):
            path = self.base / f"result-{number}.json"
            if not path.exists():
                log = (self.base / "console").read_text(errors="replace")
                raise AssertionError(f"job {number} was not done; the console says:\n{log[-4000:]}")
            results.append(json.loads(path.read_text()))
        return results

    def cut(self, jobs: Sequence[Job], devices: Sequence[Path], after: float) -> None:
        """Start *jobs*; cut the power *after* seconds from the first one's signal, or its end."""
        self._boot(jobs, devices, after)

    def _boot(
        self,
        jobs: Sequence[Job],
        devices: Sequence[Path],
        cut: float | None,
    ) -> None:
        for old in (*self.base.glob("result-*.json"), *self.base.glob("signal-*")):
            old.unlink()
        (self.base / "jobs.json").write_text(json.dumps(jobs))
        (self.base / "init.sh").write_text(_init(self.base))
        (self.base / "init.sh").chmod(0o755)
        disks = [f"ubd{number}={path}" for number, path in enumerate(devices, 1)]
        command = [LINUX, "mem=256M", "rootfstype=hostfs", "rootflags=/", "ro", "quiet"]
        command += [*disks, f"init={self.base}/init.sh", f"uml_dir={self.base}/uml", "umid=bench"]
        command += ["con0=null,fd:1", "con=null"]
        shutil.rmtree(self.base / "uml", ignore_errors=True)
        with (self.base / "console").open("wb") as console:
            process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=console,
                stderr=console,
                env={**os.environ, **self._help},
                start_new_session=True,
            )
            alarm = threading.Timer(SECONDS, self._kill, (process.pid,))
            alarm.start()
            try:
                if cut is not None:
                    while process.poll() is None and not any(self.base.glob("signal-*")):
                        time.sleep(0.005)
                    time.sleep(cut)
                    self._kill(process.pid)
                process.wait()
            finally:
                alarm.cancel()
                self._kill(process.pid)

    @staticmethod
    def _kill(group: int) -> None:
        try:
            os.killpg(group, signal.SIGKILL)
        except ProcessLookupError:
            return


def _init(base: Path) -> str:
    return f"""#!/bin/sh
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t tmpfs tmp /mnt
mkdir /mnt/share /mnt/card1 /mnt/card2 /mnt/card3 /mnt/card4
mount -t hostfs share /mnt/share -o {base}
modules={MODULES}/$(uname -r)/kernel
for module in fs/fat/fat fs/fat/vfat fs/nls/nls_cp437 fs/nls/nls_utf8 fs/nls/nls_iso8859-1 \\
    drivers/md/dm-mod drivers/md/dm-log-writes drivers/block/loop fs/fuse/fuse
do insmod $modules/$module.ko; done
{f"insmod {Path(EXFAT).resolve()}" if EXFAT else ""}
export PYTHONDONTWRITEBYTECODE=1 PYTHONHASHSEED=0 HOME=/mnt/share TMPDIR=/mnt
export PATH=/usr/sbin:/usr/bin:/sbin:/bin
{sys.executable} {HERE}/guest.py /mnt/share
sync
poweroff -f
"""
