"""exFAT by exfat-fuse: whole updates, and cards that are pulled while they are written."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from card_world import (
    assert_foreign_stays,
    assert_same_end,
    assert_whole_or_absent,
    end_of,
    make,
    named_by_catalogue,
    update,
)
from exfat_card import ExfatCard, no_exfat
from real_scenes import SCENES
from update_kit import make_library

from syncd.applier.folder_volume import FolderVolume
from syncd.errors import CardGone
from syncd.planner.plan import Step

DEEP = os.environ.get("SYNCD_DEEP") == "1"
PULLED = ("all at once", "remove all", "in the way later", "tight", "large") if DEEP else (
    "all at once",
    "remove all",
)  # fmt: skip
SECONDS = 120
"""A command that takes longer is stuck."""

pytestmark = pytest.mark.skipif(bool(no_exfat()), reason=no_exfat() or "")


@pytest.fixture
def card(tmp_path: Path) -> Iterator[ExfatCard]:
    made = ExfatCard(tmp_path / "card.img", tmp_path / "card")
    try:
        yield made
    finally:
        made.close()


class ReadVolume(FolderVolume):
    """A card's folder with what ``end_of`` asks of a card in memory."""

    def content(self) -> dict[str, bytes]:
        return {file.path: self.read(file.path) or b"" for file in self.listing().files}

    def folders(self) -> set[str]:
        return {
            Path(folder).relative_to(self.root).as_posix() for folder, _, _ in os.walk(self.root)
        } - {"."}


class Pulling:
    """Pulls the card after so many steps."""

    def __init__(self, card: ExfatCard, after: int) -> None:
        self.card = card
        self.left = after

    def __call__(self, step: Step, size: int) -> None:
        self.left -= 1
        if self.left == -1:
            self.card.pull(unmounted=step.action != "rename")


def begin(card: ExfatCard, name: str) -> None:
    """The card as it is before the update of a scene."""
    scene = SCENES[name]
    with FolderVolume(card.point) as volume:
        for path in ("Music", "SYNCD", "DCIM", "Sound"):
            if (card.point / path).exists():
                for file in [each.path for each in volume.listing().files]:
                    volume.remove(file)
        for folder, _, _ in sorted(os.walk(card.point), reverse=True):
            if folder != str(card.point):
                Path(folder).rmdir()
        volume.write("SYNCD/card.json", [b"{}"])
        for path, data in scene.foreign.items():
            volume.write(path, [data])
        if scene.before is not None:
            update(volume, scene.before, scene.profile_before)


@pytest.mark.parametrize("name", PULLED)
def test_a_card_pulled_after_any_step_is_told_and_ends_alike_when_it_is_back(
    card: ExfatCard, name: str
) -> None:
    scene = SCENES[name]
    begin(card, name)
    with ReadVolume(card.point) as volume:
        plan, _ = update(volume, scene.after, scene.profile_after)
        wanted = end_of(volume)  # type: ignore[arg-type]
    card.take_out()
    card.fsck()
    card.plug_in()
    steps = len(plan.steps)
    moments = range(steps) if DEEP else sorted({0, steps // 3, steps * 2 // 3, steps - 2})
    for after in moments:
        begin(card, name)
        with (
            FolderVolume(card.point, "KITCHEN") as volume,
            pytest.raises(CardGone, match="KITCHEN went away"),
        ):
            update(volume, scene.after, scene.profile_after, Pulling(card, after))
        with suppress(AssertionError):
            card._told("umount", "--lazy", str(card.point))
        assert list(card.point.iterdir()) == []  # nothing was written where it had been
        card.plug_in()
        with ReadVolume(card.point) as volume:
            assert_whole_or_absent(volume)
            assert_foreign_stays(volume, scene.foreign)
            update(volume, scene.after, scene.profile_after)
            assert_same_end(end_of(volume), wanted)  # type: ignore[arg-type]
            assert make(volume, scene.after, scene.profile_after)[0].steps == ()
        card.take_out()
        card.fsck()
        card.plug_in()


def test_a_command_whose_card_is_pulled_says_so_with_status_3_and_the_next_card_goes_on(
    card: ExfatCard, tmp_path: Path
) -> None:
    """The whole program, with audio: pulled in the middle, another card, back again, emptied."""
    other = ExfatCard(tmp_path / "other.img", tmp_path / "other")
    music = tmp_path / "music"
    make_library(music)
    environment = {**os.environ, "SYNCD_HOME": str(tmp_path / "home")}

    def run(*arguments: str, status: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "syncd", *arguments],
            env=environment,
            capture_output=True,
            text=True,
            timeout=SECONDS,
        )
        assert done.returncode == status, done.stdout + done.stderr
        return done.stdout

    try:
        run("library", "add", str(music))
        run("scan")
        for point, name in ((card.point, "KITCHEN"), (other.point, "SHED")):
            run("enrol", str(point), "--profile", "mcu-mp3", "--name", name)
        with subprocess.Popen(
            [sys.executable, "-m", "syncd", "update", "KITCHEN", "--json"],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as updating:
            while updating.poll() is None and not (card.point / "SYNCD" / "journal").exists():
                pass  # from its first write to its last there is a journal
            updating.send_signal(signal.SIGSTOP)
            card.pull()
            updating.send_signal(signal.SIGCONT)
            out, err = updating.communicate(timeout=SECONDS)
        assert updating.returncode == 3, out + err
        assert "KITCHEN went away" in err
        assert "Traceback" not in err
        assert list(card.point.iterdir()) == []
        run("update", "SHED")
        run("verify", "SHED")
        other_files = on_card(other.point)
        assert len([path for path in other_files if path.endswith(".mp3")]) == 6
        card.plug_in()
        run("update", "KITCHEN")
        run("verify", "KITCHEN")
        assert on_card(card.point) == other_files
        assert json.loads(run("plan", "KITCHEN", "--json"))["steps"] == []
        for path in music.rglob("*.flac"):
            path.unlink()
        run("scan")
        run("update", "KITCHEN")
        run("verify", "KITCHEN")
        assert len([path for path in on_card(card.point) if path.endswith(".mp3")]) == 1
        card.take_out()
        card.fsck()
        card.plug_in()
    finally:
        other.close()


def on_card(point: Path) -> dict[str, bytes]:
    """Every file but for the identity and the slot's letter and record."""
    found = {}
    for path in point.rglob("*"):
        shown = path.relative_to(point).as_posix()
        if path.is_file() and shown != "SYNCD/card.json" and not shown.endswith(".rec"):
            found[shown.replace("cat-b.db", "cat-a.db")] = path.read_bytes()
    return found


def test_a_full_update_of_an_exfat_card_is_clean_and_whole(card: ExfatCard) -> None:
    scene = SCENES["large"]
    begin(card, "large")
    with FolderVolume(card.point) as volume:
        update(volume, scene.after, scene.profile_after)
    card.take_out()
    card.fsck()
    card.plug_in()
    with FolderVolume(card.point) as volume:
        assert_whole_or_absent(volume)
        assert_foreign_stays(volume, scene.foreign)
        named = named_by_catalogue(volume)
        assert named is not None and len(named) == 68
