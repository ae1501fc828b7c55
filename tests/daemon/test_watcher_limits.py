"""The kernel's limits of inotify, met for real: in a user namespace they can be set low.

user_namespaces(7), /proc/sys/user: max_inotify_instances and max_inotify_watches.
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


def _limited(setting: str, value: int, root: Path) -> list[str]:
    unshare = shutil.which("unshare")
    if unshare is None:
        pytest.skip("unshare (Debian: util-linux) is not here")
    shell = f'echo {value} > /proc/sys/user/{setting} || exit 77; exec "$@"'
    here = str(Path(__file__).resolve().parent)
    program = [sys.executable, "-c", _PROGRAM, here, str(root)]
    done = subprocess.run(
        [unshare, "-U", "-r", "sh", "-c", shell, "sh", *program],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    if done.returncode == 77 or "unshare failed" in done.stderr:
        pytest.skip("this system allows no user namespaces with limits of their own")
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
