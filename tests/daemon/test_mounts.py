"""The mount table: read as proc(5) gives it, and heard of without asking."""

import os
import subprocess
from pathlib import Path

import pytest
from daemon_kit import run_until

from syncd.daemon.loop import Loop
from syncd.daemon.mounts import AskedMounts, KernelMounts, mount_table, parse_mountinfo

# The example of proc(5), /proc/pid/mountinfo, and lines with the escapes that the kernel makes.
TABLE = r"""
36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue
61 35 8:17 / /media/me/NO\040NAME\011\134 ro,nosuid shared:5 master:2 - vfat /dev/sdb1 ro,fmask=0022
62 35 8:33 / /media/me/B rw - fuseblk /dev/sdc1 ro,user_id=0
63 35 0:5 / /proc rw - proc proc rw
torn line
"""


def test_mountinfo_is_read_as_proc_5_describes_it() -> None:
    first, card, other, proc = parse_mountinfo(TABLE)
    assert (first.place, first.kind, first.read_only) == ("/mnt2", "ext3", False)
    assert first.device == "98:0 /mnt1"
    assert card.place == "/media/me/NO NAME\t\\"
    assert card.read_only and card.looks_removable and card.may_be_a_card
    assert other.read_only  # the file system is, though this mount of it is not
    assert not proc.may_be_a_card


def test_names_that_are_no_utf_8_keep_their_bytes() -> None:
    line = b"61 35 8:17 / /media/M\xfcsik\\040\xc3\xa9 rw - vfat /dev/sdb1 rw"
    (mount,) = parse_mountinfo(line.decode("latin-1"))
    assert os.fsencode(mount.place) == b"/media/M\xfcsik \xc3\xa9"


@pytest.fixture
def loop() -> Loop:
    return Loop()


@pytest.mark.skipif(
    not Path("/proc/self/mountinfo").exists() or os.geteuid() != 0,
    reason="needs Linux and root, to mount something",
)
def test_the_kernel_tells_of_a_mount_and_of_its_end(loop: Loop, tmp_path: Path) -> None:
    heard: list[set[str]] = []
    table = KernelMounts(loop, lambda: heard.append({mount.place for mount in table.mounts()}))
    place = tmp_path / "with space"
    place.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "none", str(place)], capture_output=True)
    if done.returncode != 0:
        pytest.skip("mounting is not allowed here")
    try:
        run_until(loop, lambda: any(str(place) in each for each in heard))
    finally:
        subprocess.run(["umount", str(place)], check=True)
    run_until(loop, lambda: str(place) not in heard[-1])
    table.close()


def test_psutil_sees_the_same_places_as_the_kernel_tells(loop: Loop) -> None:
    kernel = mount_table(loop, lambda: None)
    asked = AskedMounts(loop, lambda: None)
    if isinstance(kernel, AskedMounts):
        pytest.skip("there is no mount table here to compare with")
    assert {mount.place for mount in asked.mounts()} == {mount.place for mount in kernel.mounts()}


def test_what_is_asked_from_time_to_time_is_told_when_it_differs(loop: Loop) -> None:
    told: list[int] = []
    table = AskedMounts(loop, lambda: told.append(1), every_s=0.001)
    table._known = []
    run_until(loop, lambda: bool(told))
    table.close()
