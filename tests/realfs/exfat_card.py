"""A card with exFAT by exfat-fuse on a loop device, which can be pulled while it is mounted."""

import os
import signal
import subprocess
import time
from pathlib import Path

import psutil

NEEDED = {  # what must be there, and the Debian package that brings it
    "mount.exfat-fuse": "exfat-fuse",
    "mkfs.exfat": "exfatprogs",
    "losetup": "mount",
    "fusermount3": "fuse3",
}


def no_exfat() -> str | None:
    """Why no exFAT can be mounted here, None when it can."""
    from user_kernel import lacking

    if reason := lacking(NEEDED):
        return reason
    if not Path("/dev/fuse").exists() or not Path("/dev/loop-control").exists():
        return "needs the kernel's fuse and loop (/dev/fuse, /dev/loop-control)"
    return None


class ExfatCard:
    """An image with exFAT on it, mounted at *point* while it is plugged in."""

    def __init__(self, image: Path, point: Path, size: int = 48 << 20, *options: str) -> None:
        self.image = image
        self.point = point
        point.mkdir(parents=True, exist_ok=True)
        with image.open("wb") as file:
            file.truncate(size)
        command = ["/usr/sbin/mkfs.exfat", *options, str(image)]
        subprocess.run(command, check=True, capture_output=True)
        self.device = self._told("losetup", "--find", "--show", str(image))
        self.plug_in()

    def plug_in(self) -> None:
        self._told("/usr/sbin/mount.exfat-fuse", self.device, str(self.point))

    def pull(self, *, unmounted: bool = True) -> None:
        """Kill the process behind the mount; *unmounted*: as the system does, unmount it, too."""
        for process in self._processes():
            os.kill(process.pid, signal.SIGKILL)
            while psutil.pid_exists(process.pid) and process.status() != psutil.STATUS_ZOMBIE:
                time.sleep(0.005)
        if unmounted:
            self._told("umount", "--lazy", str(self.point))

    def take_out(self) -> None:
        """Unmount it in an orderly way, once nobody looks at it: every syncd looks for cards.

        A mount namespace that another process made meanwhile has the card, too, until it ends; to
        mount it again would show the same process's memory of it then, not the card.
        """
        for _ in range(200):
            if subprocess.run(["umount", str(self.point)], capture_output=True).returncode == 0:
                break
            time.sleep(0.05)
        else:
            self._told("umount", str(self.point))
        until = time.monotonic() + 60
        while self._processes():
            assert time.monotonic() < until, f"another mount namespace still has {self.point}"
            time.sleep(0.02)

    def fsck(self) -> str:
        """What fsck.exfat says; raises AssertionError if it found a fault."""
        done = subprocess.run(
            ["/usr/sbin/fsck.exfat", "-n", self.device], capture_output=True, text=True, timeout=60
        )
        assert "clean" in done.stdout and done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def close(self) -> None:
        while os.path.ismount(self.point) or self._dead():
            subprocess.run(["umount", "--lazy", str(self.point)], check=True, capture_output=True)
        subprocess.run(["losetup", "--detach", self.device], check=True, capture_output=True)

    def _processes(self) -> list[psutil.Process]:
        """Those that serve the card."""
        return [
            process
            for process in psutil.process_iter(["name", "cmdline", "status"])
            if "exfat" in (process.info["name"] or "")
            and self.device in (process.info["cmdline"] or [])
            and process.info["status"] != psutil.STATUS_ZOMBIE
        ]

    def _dead(self) -> bool:
        return f" {self.point} " in Path("/proc/mounts").read_text()

    @staticmethod
    def _told(*command: str) -> str:
        done = subprocess.run(command, capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, f"{' '.join(command)}: {done.stdout}{done.stderr}"
        return done.stdout.strip()
