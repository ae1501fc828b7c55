"""A whole machine for the service: a user-mode Linux kernel with systemd as its first process.

    python tests/daemon/service_machine.py [WORD ...]

boots it, has ``service_guest.py`` check the service as a listener would use it, and prints what was
checked; with words, only the checks whose names have one of them. Needs Linux, root and the Debian
packages in ``NEEDED``. ``Machine`` is also what the short form in the tests uses.

The root is a file system in memory; /usr, Python and this checkout are the host's, read-only, by
hostfs. /etc is made here, so that none of the host's services start. Nothing is built or fetched.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
if __name__ == "__main__":
    sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent / "realfs")]

import numpy as np  # noqa: E402
import soundfile  # noqa: E402
import user_kernel  # noqa: E402
from update_kit import RATE, tag  # noqa: E402
from user_kernel import LINUX, MODULES, Bench, lacking  # noqa: E402

NEEDED = {  # what must be there, and the Debian package that brings it
    "linux.uml": "user-mode-linux",
    "insmod": "kmod",
    "mkfs.vfat": "dosfstools",
    "systemd-run": "systemd",
    "dbus-daemon": "dbus",
    "runuser": "util-linux",
}
FILES = {  # the same for what is no program
    "/usr/lib/systemd/user/dbus.socket": "dbus-user-session",
    "/usr/lib/x86_64-linux-gnu/security/pam_systemd.so": "libpam-systemd",
}
SECONDS = 1500
"""A run that takes longer has hung."""

LONG_S = 60
"""Seconds of each track of the long album."""

_NO_CODE = shutil.ignore_patterns("__pycache__", ".hypothesis")

USERS = {"listener": (1000, "/home/listener"), "other": (1001, '/home/other 100% "so" $HOME \'n')}
SETTINGS = (
    "alternatives",
    "dbus-1",
    "login.defs",
    "nsswitch.conf",
    "pam.d",
    "polkit-1",
    "security",
)
SETTINGS += ("ld.so.cache", "ld.so.conf", "ld.so.conf.d", "udisks2", "udev", "mke2fs.conf")
MASKED = ("getty.target", "proc-sys-fs-binfmt_misc.automount", "systemd-binfmt.service")
MASKED += ("systemd-udev-trigger.service", "systemd-tmpfiles-clean.timer")


def no_machine() -> str | None:
    """Why there is no such machine here, None when there is."""
    if reason := lacking(NEEDED) or user_kernel.no_bench():
        return reason
    gone = sorted(package for path, package in FILES.items() if not Path(path).exists())
    if gone and os.environ.get("SYNCD_CI") == "1":
        raise RuntimeError(f"These Debian packages must be there, so that tests run: {gone}")
    return f"needs the Debian package {', '.join(gone)}" if gone else None


class Machine:
    """The machine; *base* is shared with it, writable: what it finds and tells is in there."""

    def __init__(self, base: Path) -> None:
        self.base = base
        self._bench = Bench(base)
        self._make_etc()
        for number in range(6):
            self.card(f"card{number}.img", 64)
        for name in ("byuser.img", "udisks.img"):
            self.card(name, 64)
        with (base / "exfat.img").open("wb") as file:
            file.truncate(64 << 20)
        self._make_music()
        self._checkout = base / "checkout"
        shutil.rmtree(self._checkout, ignore_errors=True)
        for name in ("syncd", "config", "sample_profiles", "tests/daemon"):
            # A copy: what is edited meanwhile does not get between.
            shutil.copytree(ROOT / name, self._checkout / name, ignore=_NO_CODE)

    def card(self, name: str, megabytes: int) -> Path:
        """A new image of a card in the shared folder."""
        return self._bench.image(name, megabytes << 20)

    def _make_music(self) -> None:
        """Albums of invented songs: two short ones, and one that takes long to encode."""
        shutil.rmtree(self.base / "music", ignore_errors=True)
        noise = np.random.default_rng(7).normal(0, 0.05, (RATE * LONG_S, 2))
        for name, tracks, seconds in (("Short", 2, 1), ("Second", 2, 1), ("Long", 4, LONG_S)):
            for number in range(1, tracks + 1):
                path = self.base / "music" / name / f"{number:02}.flac"
                path.parent.mkdir(parents=True, exist_ok=True)
                samples = np.roll(noise, number * RATE + len(name), axis=0)[: seconds * RATE]
                soundfile.write(path, samples, RATE, format="FLAC")
                tag(path, artist="Marnesund Five", album=name, title=f"{name} {number}",
                    genre="Pop", tracknumber=str(number))  # fmt: skip

    def run(self, words: Sequence[str] = ()) -> list[dict[str, Any]]:
        """Boot, check what has one of *words* in its name, end; what each check came to."""
        results = self.base / "results"
        results.write_text("")
        (self.base / "words").write_text(json.dumps(list(words)))
        (self.base / "init.sh").write_text(self._init())
        (self.base / "init.sh").chmod(0o755)
        command = [LINUX, "mem=1536M", "rootfstype=hostfs", "rootflags=/", "ro", "quiet"]
        command += [f"init={self.base}/init.sh", f"uml_dir={self.base}/uml", "umid=machine"]
        command += ["con0=null,fd:1", "con=null", "systemd.show_status=0"]
        shutil.rmtree(self.base / "uml", ignore_errors=True)
        with (self.base / "console").open("wb") as console:
            process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=console,
                stderr=console,
                env={**os.environ, **self._bench._help},
                start_new_session=True,
            )
            alarm = threading.Timer(SECONDS, Bench._kill, (process.pid,))
            alarm.start()
            try:
                process.wait()
            finally:
                alarm.cancel()
                Bench._kill(process.pid)
        told = [json.loads(line) for line in results.read_text().splitlines()]
        if not told or told[-1].get("check") != "the end":
            console = (self.base / "console").read_text(errors="replace")
            raise AssertionError(f"the machine did not come to its end:\n{console[-4000:]}")
        return told[:-1]

    def _make_etc(self) -> None:
        etc = self.base / "etc"
        shutil.rmtree(etc, ignore_errors=True)
        (etc / "systemd/system/multi-user.target.wants").mkdir(parents=True)
        for name in SETTINGS:
            there = Path("/etc") / name
            if there.is_dir():
                shutil.copytree(there, etc / name, symlinks=True)
            elif there.exists():
                shutil.copy(there, etc / name)
        users, groups = Path("/etc/passwd").read_text(), Path("/etc/group").read_text()
        shadow = "".join(f"{line.split(':')[0]}:*:19000::::::\n" for line in users.splitlines())
        taken = {str(uid) for uid, _ in USERS.values()}
        users = _without(users, 2, taken)
        groups = _without(groups, 2, taken)
        for name, (uid, home) in USERS.items():
            users += f"{name}:x:{uid}:{uid}::{home}:/bin/bash\n"
            groups += f"{name}:x:{uid}:\n"
            shadow += f"{name}:*:19000::::::\n"
        (etc / "passwd").write_text(users)
        (etc / "group").write_text(groups)
        (etc / "shadow").write_text(shadow)
        (etc / "shadow").chmod(0o600)
        (etc / "machine-id").write_text("5a" * 16 + "\n")  # else all is enabled as at a first boot
        (etc / "hostname").write_text("machine\n")
        (etc / "fuse.conf").write_text("user_allow_other\n")
        (etc / "fstab").write_text(
            "/share/byuser.img /mnt/byuser vfat noauto,user,loop,uid=1000,utf8 0 0\n"
        )
        rules = etc / "polkit-1/rules.d"
        rules.mkdir(parents=True, exist_ok=True)
        # What a session at the computer itself may do: nobody sits at this one.
        (rules / "10-at-the-computer.rules").write_text(
            "polkit.addRule(function(action, subject) {\n"
            '  if (action.id.indexOf("org.freedesktop.udisks2.") == 0 &&'
            ' subject.user == "listener") return polkit.Result.YES;\n});\n'
        )
        for path in (rules.parent, rules, *rules.iterdir()):
            path.chmod(0o755)
        system = etc / "systemd/system"
        (system / "default.target").symlink_to("/usr/lib/systemd/system/multi-user.target")
        for name in MASKED:
            (system / name).symlink_to("/dev/null")
        generators = etc / "systemd/user-environment-generators"
        generators.mkdir()
        for there in Path("/usr/lib/systemd/user-environment-generators").glob("*"):
            (generators / there.name).symlink_to("/dev/null")
        (system / "checks.service").write_text(
            "[Unit]\nAfter=dbus.service systemd-logind.service user@1000.service\n"
            "[Service]\nType=oneshot\nTimeoutStartSec=infinity\n"
            f"ExecStart={sys.executable} {HERE}/service_guest.py /share\n"
            "Environment=PYTHONDONTWRITEBYTECODE=1 PATH=/usr/sbin:/usr/bin:/sbin:/bin\n"
            "StandardOutput=file:/share/log\nStandardError=file:/share/log\n"
            "ExecStopPost=/usr/bin/systemctl poweroff --force --force\n"
        )
        (system / "multi-user.target.wants/checks.service").symlink_to("../checks.service")

    def _init(self) -> str:
        shown = {ROOT: self._checkout}
        for path in (Path(sys.base_prefix), Path(sys.prefix)):
            if not path.is_relative_to("/usr"):
                shown[path] = path
            if path.is_relative_to(ROOT):  # a place to mount it at, within what is read-only
                (self._checkout / path.relative_to(ROOT)).mkdir(parents=True, exist_ok=True)
        mounts = "".join(
            f'[ -d "/mnt{path}" ] || mkdir -p "/mnt{path}"\n'
            f'mount -t hostfs -o "ro,{shown[path]}" host "/mnt{path}"\n'
            for path in sorted(shown)
        )
        people = "".join(
            f"mkdir -p '{_quoted(home)}'; chown -R {uid}:{uid} '{_quoted(home)}'\n"
            for uid, home in ((uid, "/mnt" + home) for uid, home in USERS.values())
        )
        lingering = " ".join(f"/mnt/var/lib/systemd/linger/{name}" for name in USERS)
        return f"""#!/bin/sh
mount -t proc proc /proc
mount -t sysfs sys /sys
modules={MODULES}/$(uname -r)/kernel
for module in fs/fat/fat fs/fat/vfat fs/nls/nls_cp437 fs/nls/nls_utf8 fs/nls/nls_iso8859-1 \\
    drivers/block/loop fs/fuse/fuse fs/autofs/autofs4
do insmod $modules/$module.ko; done
mount -t tmpfs -o mode=755 root /mnt
cd /mnt
mkdir usr share dev proc sys run tmp var media mnt srv root home old
ln -s usr/bin usr/sbin usr/lib usr/lib64 .
mount -t devtmpfs dev dev
mount -t hostfs -o ro,/usr host usr
mount -t hostfs -o {self.base} share share
{mounts}cp -a share/etc etc
mkdir -p var/lib/systemd/linger var/log var/tmp home/listener
chmod 1777 tmp var/tmp
{people}touch {lingering}
umount /sys; mount -t proc proc proc
pivot_root . old
exec chroot . sh -c 'umount -l /old; exec /usr/lib/systemd/systemd'
"""


def _without(table: str, field: int, taken: set[str]) -> str:
    lines = table.splitlines(keepends=True)
    return "".join(line for line in lines if line.split(":")[field].strip() not in taken)


def _quoted(text: str) -> str:
    return text.replace("'", "'\\''")


@contextmanager
def _folder() -> Iterator[Path]:
    if given := os.environ.get("SYNCD_MACHINE"):
        Path(given).mkdir(parents=True, exist_ok=True)
        yield Path(given)
    else:
        with tempfile.TemporaryDirectory(prefix="syncd-machine-") as made:
            yield Path(made)


def main(words: Sequence[str]) -> int:
    """Run the checks and print them; 1 if one failed."""
    if reason := no_machine():
        print(f"This cannot run here: it {reason}.")
        return 2
    begun = time.monotonic()
    with _folder() as base:
        results = Machine(base).run(words)
        for result in results:
            state = "ok      " if result["ok"] else "FAILED  "
            print(f"{state}{result['check']}  ({result['took']:.0f} s)")
            for line in result["told"]:
                print(f"            {line}")
    failed = sum(not result["ok"] for result in results)
    print(f"{len(results)} checks, {failed} failed, {time.monotonic() - begun:.0f} s")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
