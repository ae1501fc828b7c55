"""What only a kernel of its own could do, in namespaces: limits of inotify, disks that come and go.

user_namespaces(7), /proc/sys/user: max_inotify_instances and max_inotify_watches; in a mount
namespace of a user namespace tmpfs may be mounted (mount_namespaces(7)).
"""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

_PROGRAM = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from watch_kit import Scene
root = Path(sys.argv[2])
scene = Scene()
scene.watching(root)
def show():
    print(scene.watch.problems() or "none", flush=True)
show()
for number in range(20):
    (root / str(number)).mkdir()
scene.pump()
show()
(root / "3" / "1.flac").write_bytes(b"x")
print(sorted(scene.settled_in(600, stop=False)))
scene.close()
"""


_UNMOUNTING = """
import subprocess, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from watch_kit import Scene
from syncd.daemon.watcher import mounted_now
root = Path(sys.argv[2])
def mount(*what):
    subprocess.run(what, check=True)
def show(what):
    scene.pump()
    hints = scene.watch.settled()
    print(what, "scan" if hints else "quiet", len(scene.watch.problems()), flush=True)
mount("mount", "-t", "tmpfs", "disk", root)
(root / "album").mkdir()
scene = Scene(mounts=mounted_now)
scene.watch.watch([root])
show("begun")
mount("umount", root)
show("unmounted")
scene.watch.look_round()
show("looked")
mount("mount", "-t", "tmpfs", "disk", root)
(root / "album").mkdir()
scene.watch.look_round()
show("mounted")
(root / "album" / "1.flac").write_bytes(b"x")
print(sorted(scene.settled_in(200)))
mount("mount", "-t", "tmpfs", "disk", root / "album")
scene.watch.look_round()
show("within")
(root / "album" / "2.flac").write_bytes(b"x")
print(sorted(scene.settled_in(200)))
scene.close()
"""


def _limited(setting: str, value: int, root: Path) -> list[str]:
    shell = f'echo {value} > /proc/sys/user/{setting} || exit 77; exec "$@"'
    return _apart(shell, _PROGRAM, root)


def _apart(shell: str, source: str, root: Path) -> list[str]:
    """What *source* prints in namespaces of its own, begun by *shell*."""
    unshare = shutil.which("unshare")
    if unshare is None:
        pytest.skip("unshare (Debian: util-linux) is not here")
    here = str(Path(__file__).resolve().parent)
    program = [sys.executable, "-c", source, here, str(root)]
    done = subprocess.run(
        [unshare, "-U", "-r", "-m", "sh", "-c", shell, "sh", *program],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    if done.returncode == 77 or "unshare failed" in done.stderr:
        pytest.skip("this system allows no such namespaces")
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    made = tmp_path / "music"
    made.mkdir()
    return made


def test_folders_that_come_later_than_the_last_watch_have_the_root_polled(root: Path) -> None:
    before, after, found = _limited("max_inotify_watches", 10, root)
    assert before == "none"
    assert "sudo sysctl fs.inotify.max_user_watches=" in after
    assert f"'{root / '3'}'" in found


def test_no_inotify_instance_left_has_the_root_polled(root: Path) -> None:
    before, after, found = _limited("max_inotify_instances", 0, root)
    assert "sudo sysctl fs.inotify.max_user_instances=" in before
    assert after == before
    assert f"'{root / '3'}'" in found


def test_a_root_with_more_folders_than_watches_is_polled_from_the_start(root: Path) -> None:
    for number in range(30):
        (root / f"album {number}").mkdir()
    before, after, found = _limited("max_inotify_watches", 10, root)
    assert "fs.inotify.max_user_watches" in before
    assert after == before
    assert f"'{root / '3'}'" in found


def test_a_disk_that_is_unmounted_and_mounted_again_is_watched_again(root: Path) -> None:
    begun, *rest = _apart(
        f"mount -t tmpfs try '{root}' && umount '{root}' || exit 77; exec \"$@\"",
        _UNMOUNTING,
        root,
    )
    assert begun == "begun scan 0"
    assert rest == [
        "unmounted scan 0",  # the kernel tells: IN_UNMOUNT; what is left is an empty folder
        "looked quiet 0",
        "mounted scan 0",
        f"['{root / 'album'}']",
        "within scan 0",
        f"['{root / 'album'}']",
    ]
