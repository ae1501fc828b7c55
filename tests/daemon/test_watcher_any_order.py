"""Whatever happens to a library in whatever order, the watch ends up with exactly its folders."""

import os
import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from watch_kit import Scene

from syncd.daemon.trees import PolledTree

NAMES = st.sampled_from("aabc")
PLACES = st.lists(NAMES, min_size=1, max_size=2).map("/".join)
ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("make"), PLACES, PLACES),
        st.tuples(st.just("write"), PLACES, PLACES),
        st.tuples(st.just("move"), PLACES, PLACES),
        st.tuples(st.just("out"), PLACES, PLACES),
        st.tuples(st.just("in"), PLACES, PLACES),
        st.tuples(st.just("remove"), PLACES, PLACES),
        st.tuples(st.just("read"), PLACES, PLACES),
    ),
    max_size=25,
)


def act(what: str, here: Path, there: Path, outside: Path) -> None:
    if what == "make":
        here.mkdir(parents=True, exist_ok=True)
    elif what == "write" and here.is_dir():
        (here / "1.flac").write_bytes(b"x")
    elif what == "move" and here.is_dir() and there.parent.is_dir() and not there.exists():
        if here not in there.parents:
            here.rename(there)
    elif what == "out" and here.is_dir():
        number = next(n for n in range(100) if not (outside / str(n)).exists())
        here.rename(outside / str(number))
    elif what == "in" and here.parent.is_dir() and not here.exists():
        made = sorted(path for path in outside.iterdir() if path.is_dir())
        if made:
            made[0].rename(here)
    elif what == "remove":
        shutil.rmtree(here, ignore_errors=True)


def folders_and_files(root: Path) -> dict[bytes, tuple[str, ...]]:
    return {os.fsencode(at): tuple(sorted(files)) for at, _, files in os.walk(root)}


@pytest.mark.skipif(sys.platform != "linux", reason="inotify is Linux's")
@given(acts=ACTS)
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_each_folder_is_watched_under_its_name_and_each_change_is_told(
    acts: list[tuple[str, str, str]],
) -> None:
    with TemporaryDirectory() as made:
        root, outside = Path(made) / "music", Path(made) / "outside"
        for place in ("a/a", "a/b", "b/a/b"):
            (root / place).mkdir(parents=True)
            (root / place / "0.flac").touch()
        outside.mkdir()
        scene = Scene()
        try:
            scene.watching(root)
            before = folders_and_files(root)
            told: set[str] = set()
            for what, here, there in acts:
                if what == "read":
                    scene.pump()
                else:
                    act(what, root / here, root / there, outside)
            told |= scene.settled_in(500, stop=False).keys()
            after = folders_and_files(root)
            tree = scene.watch._roots[os.fsencode(root)]._tree
            assert tree is not None
            assert sorted(tree._paths.values()) == sorted(after)
            assert set(scene.readers[0]._watch_for_wd) == set(tree._paths)
            changed = {at for at in {*before, *after} if before.get(at) != after.get(at)}
            assert changed <= set(map(os.fsencode, told))
            assert scene.watch.restless() == ()
        finally:
            scene.close()


class _Ears:
    def __init__(self) -> None:
        self.heard: set[bytes] = set()

    def stirred(self, folder: bytes, *, telling: bool = True) -> None:
        self.heard.add(folder)

    def lost(self) -> None:
        raise AssertionError

    def moved(self) -> None:
        raise AssertionError

    def work(self) -> None:
        raise AssertionError


@given(acts=ACTS)
@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
def test_polling_knows_each_folder_and_tells_each_that_came_or_changed(
    acts: list[tuple[str, str, str]],
) -> None:
    with TemporaryDirectory() as made:
        root, outside = Path(made) / "music", Path(made) / "outside"
        for place in ("a/a", "a/b", "b/a/b"):
            (root / place).mkdir(parents=True)
            (root / place / "0.flac").touch()
        outside.mkdir()
        ears = _Ears()
        tree = PolledTree(os.fsencode(root), ears)
        tree.survey()
        before = folders_and_files(root)
        for what, here, there in acts:
            if what == "read":
                tree.work()
            else:
                act(what, root / here, root / there, outside)
        tree.work()
        after = folders_and_files(root)
        assert set(tree._times) == set(after)
        changed = {at for at in {*before, *after} if before.get(at) != after.get(at)}
        assert changed <= ears.heard
