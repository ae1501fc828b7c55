"""Unmounting, by whichever program is here."""

from collections.abc import Sequence
from pathlib import Path

import pytest

from syncd.daemon.eject import unmount, ways_to_unmount
from syncd.errors import CardProblem

CARD = Path("/media/me/MY CARD")


class System:
    """A system with some programs, of which some work."""

    def __init__(self, here: Sequence[str], work: Sequence[str]) -> None:
        self.here, self.work = here, work
        self.called: list[list[str]] = []
        self.mounted = True
        self.bound = False

    def which(self, program: str) -> str | None:
        return f"/usr/bin/{program}" if program in self.here else None

    def run(self, command: Sequence[str]) -> tuple[int, str]:
        self.called.append(list(command))
        if set(command) & set(self.work):
            self.mounted = False
            return 0, ""
        return 1, f"{command[0]}: target is busy.\nmore words"

    def unmount(self) -> None:
        unmount(
            CARD, "KITCHEN", run=self.run, which=self.which, is_mount=lambda path: self.mounted,
            device=lambda path: "/dev/sdb1", bound=lambda: self.bound,
        )  # fmt: skip


def test_the_desktop_s_way_comes_first_and_is_enough() -> None:
    system = System(["udisksctl", "umount"], ["udisksctl"])
    system.unmount()
    assert system.called == [
        ["udisksctl", "unmount", "--no-user-interaction", "--block-device", "/dev/sdb1"]
    ]


def test_the_next_way_is_tried_when_one_fails() -> None:
    system = System(["udisksctl", "umount", "fusermount3"], ["fusermount3"])
    system.unmount()
    assert [command[0] for command in system.called] == ["udisksctl", "umount", "fusermount3"]


def test_without_new_privileges_the_user_manager_is_asked_to_start_umount() -> None:
    """In a service umount(8) has no rights of root's, so fstab's "user" would not help."""
    system = System(["systemd-run", "umount", "udisksctl"], ["umount"])
    system.bound = True
    system.unmount()
    assert [command[0] for command in system.called] == ["udisksctl", "systemd-run"]
    assert system.called[1][-3:] == ["umount", "--", str(CARD)]


def test_what_stands_in_the_way_is_told_by_the_program_that_said_it() -> None:
    system = System(["systemd-run", "umount"], [])
    system.bound = True
    with pytest.raises(CardProblem, match=r"\(umount: systemd-run: target is busy\.\)"):
        system.unmount()


def test_only_what_is_here_is_called() -> None:
    system = System(["umount"], ["umount"])
    system.unmount()
    assert system.called == [["umount", "--", str(CARD)]]


def test_what_cannot_be_unmounted_is_told_with_each_cause_and_the_remedy() -> None:
    system = System(["udisksctl", "umount"], [])
    with pytest.raises(CardProblem) as told:
        system.unmount()
    text = str(told.value)
    assert "KITCHEN is written and flushed" in text
    assert text.count("target is busy") == 2 and "more words" not in text
    assert "eject it yourself" in text


def test_without_any_program_that_is_said() -> None:
    with pytest.raises(CardProblem, match="neither udisksctl, umount nor diskutil is here"):
        System([], []).unmount()


def test_a_program_that_says_it_worked_is_not_believed_while_it_is_still_mounted() -> None:
    system = System(["umount"], ["umount"])
    with pytest.raises(CardProblem):
        unmount(CARD, "KITCHEN", run=system.run, which=system.which, is_mount=lambda path: True,
                device=lambda path: None)  # fmt: skip


def test_a_folder_that_stands_in_for_a_card_is_left_alone() -> None:
    system = System(["umount"], ["umount"])
    system.mounted = False
    system.unmount()
    assert system.called == []


def test_diskutil_is_asked_where_it_is() -> None:
    ways = ways_to_unmount(CARD, None, lambda name: name if name == "diskutil" else None)
    assert ways == [["diskutil", "unmount", str(CARD)]]
