"""What a confined job can change, tried for real: the kernel says no (landlock(7)).

Each try is a process of its own, since nobody gets free again.
"""

import json
import shlex
import subprocess
import sys
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from daemon_kit import run_until
from update_kit import make_library

from syncd import cards
from syncd.daemon import confine
from syncd.daemon.child import Child, order_of
from syncd.daemon.loop import Loop
from syncd.daemon.process import Forked, Process, Spawned
from syncd.library.index import LibraryIndex
from syncd.refresh import refresh
from syncd.settings import find_home
from syncd.transcoder.ffmpeg_port import find_ffmpeg

pytestmark = pytest.mark.skipif(
    not confine.can_confine(), reason="needs a kernel with Landlock in force (Linux 5.19)"
)

BEGINNING = """
import json, os, shutil, subprocess, sys
from pathlib import Path
from syncd.daemon.confine import Outside, confine, no_new_privileges
top = Path(sys.argv[1])
outside = Outside()

def tried(do):
    try:
        do()
    except OSError as error:
        return type(error).__name__
    return "done"

assert confine([top / "mine", top / "not there"])
"""


def confined(top: Path, code: str) -> dict[str, str]:
    """What *code* finds, which fills ``told``, confined to the folder "mine"."""
    script = BEGINNING + "told = {}\n" + textwrap.dedent(code) + "\nprint(json.dumps(told))\n"
    done = subprocess.run(
        [sys.executable, "-c", script, str(top)],
        capture_output=True, text=True, timeout=60,
        env={"PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


@pytest.fixture
def place(tmp_path: Path) -> Path:
    for name in ("mine/sub", "other"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("mine/old", "other/old"):
        (tmp_path / name).write_text("old")
    return tmp_path


WAYS = """
def ways(folder):
    return {
        "write": tried(lambda: (folder / "new").write_text("x")),
        "change": tried(lambda: (folder / "old").open("r+").close()),
        "cut": tried(lambda: (folder / "old").open("w").close()),
        "folder": tried((folder / "made").mkdir),
        "link": tried(lambda: (folder / "link").symlink_to("x")),
        "rename": tried(lambda: (folder / "old").rename(folder / "renamed")),
        "remove": tried(lambda: (folder / "renamed").unlink()),
        "read": tried(lambda: list(folder.iterdir())),
    }
"""


def test_what_is_ones_own_can_be_changed_in_every_way(place: Path) -> None:
    told = confined(place, WAYS + "told = ways(top / 'mine')")
    assert set(told.values()) == {"done"}


def test_what_is_not_can_be_read_and_changed_in_no_way(place: Path) -> None:
    told = confined(place, WAYS + "told = ways(top / 'other')")
    assert told.pop("read") == "done"
    assert told.pop("remove") in ("PermissionError", "FileNotFoundError")
    assert set(told.values()) == {"PermissionError"}
    assert [path.name for path in (place / "other").iterdir()] == ["old"]
    assert (place / "other" / "old").read_text() == "old"


def test_a_file_moves_between_ones_own_folders_and_not_out_of_them(place: Path) -> None:
    """What an update does with each file: Landlock before its second version forbids it."""
    told = confined(
        place,
        """
        told["within"] = tried(lambda: (top / "mine/old").rename(top / "mine/sub/old"))
        told["out"] = tried(lambda: (top / "mine/sub/old").rename(top / "other/taken"))
        told["in"] = tried(lambda: (top / "other/old").rename(top / "mine/taken"))
        """,
    )
    assert told["within"] == "done"
    assert "done" not in (told["out"], told["in"])
    assert (place / "other" / "old").exists()


def test_programs_that_it_starts_are_bound_as_well(place: Path) -> None:
    told = confined(
        place,
        """
        for name in ("mine", "other"):
            done = subprocess.run(["touch", str(top / name / "new")], capture_output=True)
            told[name] = str(done.returncode)
        null = subprocess.run(["sh", "-c", "echo x > /dev/null"], capture_output=True)
        told["null"] = str(null.returncode)
        """,
    )
    assert (told["mine"], told["null"]) == ("0", "0")
    assert told["other"] != "0"


def test_the_thread_outside_stays_free_and_its_faults_come_back(place: Path) -> None:
    told = confined(
        place,
        """
        told["inside"] = tried(lambda: (top / "other/new").write_text("x"))
        told["outside"] = tried(lambda: outside.call(lambda: (top / "other/new").write_text("x")))
        told["missing"] = tried(lambda: outside.call((top / "nothing").unlink))
        told["bound"] = f"{no_new_privileges()} {outside.call(no_new_privileges)}"
        """,
    )
    assert told["inside"] == "PermissionError"
    assert told["outside"] == "done"
    assert told["missing"] == "FileNotFoundError"
    assert told["bound"] == f"True {confine.no_new_privileges()}"


def test_where_the_kernel_cannot_nothing_is_done(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(confine, "_version", lambda: 1)  # such a one would forbid all moves
    assert not confine.can_confine()
    assert confine.confine([Path("/nowhere")]) is False
    (tmp_path / "written").write_text("x")


@pytest.mark.parametrize("make", [Spawned, Forked])
def test_an_update_changes_its_card_and_what_is_ours_and_never_the_music(
    place: Path, make: Callable[[str, Sequence[int]], Process]
) -> None:
    """The whole job; what takes ffmpeg's place tries to write everywhere, from within it."""
    music, card, other = place / "music", place / "card", place / "other"
    make_library(music)
    card.mkdir()
    home = find_home(str(place / "home"), environment={}).made()
    tried = [music, music / "Popular", other, place, home.state, home.store, card]
    spy = place / "ffmpeg"
    spy.write_text(
        "#!/bin/sh\n"
        f"for place in {shlex.join(map(str, tried))}; do\n"
        'if touch "$place/written" 2>/dev/null; then echo "$place"; rm "$place/written"; fi\n'
        f"done >> {shlex.quote(str(home.state))}/tried\n"
        f"rm -rf {shlex.quote(str(music))}/* 2>/dev/null\n"
        f'exec {shlex.quote(find_ffmpeg())} "$@"\n'
    )
    spy.chmod(0o755)
    home.settings_file.write_text(f"ffmpeg = {json.dumps(str(spy))}\n")
    before = {path: path.read_bytes() for path in music.rglob("*.*")}
    with LibraryIndex(home.index_file) as index:
        index.add_root(music)
        refresh(index)
    record = cards.enrol(home, card, "mcu-mp3", "KITCHEN")
    order = order_of("update", home, card_id=record.id, name=record.name, mount=str(card))
    loop, last = Loop(), []
    Child(loop, order, lambda event: None, last.append, make=make)
    run_until(loop, lambda: bool(last))
    loop.close()
    assert last[0]["event"] == "done", last
    assert len(list((card / "Music").rglob("*.mp3"))) == 6
    lines = set((home.state / "tried").read_text().splitlines())
    assert lines == {str(home.state), str(home.store), str(card)}
    assert {path: path.read_bytes() for path in music.rglob("*.*")} == before
