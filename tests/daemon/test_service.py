"""The service file: what it says, and that only our own is written over or removed.

Its form is checked by systemd-analyze, where there is one, and by Python's plistlib.
"""

import configparser
import os
import plistlib
import shlex
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from syncd.daemon import service
from syncd.daemon.service import Ran
from syncd.errors import SetupProblem
from syncd.settings import Home, find_home


class Runner:
    """Stands for the system's programs: keeps what they were called with."""

    def __init__(self, status: int = 0) -> None:
        self.calls: list[str] = []
        self.status = status

    def __call__(self, command: Sequence[str]) -> Ran:
        self.calls.append(" ".join(command))
        return Ran(self.status, "no bus")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Home:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path / "user"))
    return find_home(str(tmp_path / "home"), environment={})


def unit(text: str) -> configparser.ConfigParser:
    parser = configparser.ConfigParser(interpolation=None, strict=False)
    parser.optionxform = str  # type: ignore[assignment, method-assign]
    parser.read_string(text)
    return parser


def command_of(text: str) -> list[str]:
    """The words of its command; ":" is a prefix of systemd.service(5)."""
    first, *words = shlex.split(unit(text)["Service"]["ExecStart"])
    return [first.removeprefix(":"), *words]


def test_the_unit_calls_this_program_for_this_home(home: Home) -> None:
    made = service.service(home, "linux")
    words = command_of(made.text)
    assert Path(words[0]).exists()
    assert words[-1] == "run"
    assert [words[words.index(flag) + 1] for flag in ("--settings", "--state", "--store")] == [
        str(home.settings_file), str(home.state), str(home.store)
    ]  # fmt: skip


def test_the_command_of_the_unit_starts_syncd(home: Home) -> None:
    words = command_of(service.service(home, "linux").text)
    done = subprocess.run([*words, "--help"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "syncd run" in done.stdout or "run [OPTIONS]" in done.stdout


def test_the_unit_takes_no_rights_and_makes_no_place_read_only(home: Home) -> None:
    """Cards may be anywhere, also before it starts: what may be written is the jobs' care."""
    told = unit(service.service(home, "linux").text)["Service"]
    assert told["NoNewPrivileges"] == told["RestrictSUIDSGID"] == "yes"
    for name in ("ProtectSystem", "ProtectHome", "PrivateTmp", "PrivateUsers", "ReadWritePaths"):
        assert name not in told


def test_dollar_signs_in_places_are_no_variables(home: Home) -> None:
    """By ":" before the program (systemd.service(5)), which is no part of its path."""
    odd = find_home(str(home.state.parent / "$HOME 5%"), environment={})
    line = unit(service.service(odd, "linux").text)["Service"]["ExecStart"]
    assert line.startswith('":/')
    assert str(odd.state).replace("%", "%%") in shlex.split(line)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("/home/l/.config/systemd/user.control /run/user/1000/systemd/transient "
         "/home/l/.config/systemd/user /etc/systemd/user", "/home/l/.config/systemd/user"),
        ('"/home/a \\"b\\" \\$c/cfg/systemd/user" /etc/systemd/user',
         '/home/a "b" $c/cfg/systemd/user'),
        ('"unfinished', None),
        ("", None),
    ],
)  # fmt: skip
def test_the_unit_goes_where_the_user_manager_looks(
    said: str, expected: str | None, home: Home
) -> None:
    """It may have been started with another XDG_CONFIG_HOME than the shell has."""
    made = service.service(home, "linux", lambda command: Ran(0, said))
    folder = home.state.parents[1] / "config" / "systemd" / "user"
    assert made.path.parent == (folder if expected is None else Path(expected))
    without = service.service(home, "linux", lambda command: Ran(1, "no bus"))
    assert without.path.parent == folder


def test_removing_takes_away_the_folders_that_it_leaves_empty(home: Home) -> None:
    made = service.service(home, "linux", Runner(1))
    service.install(home, made, runner=Runner())
    service.remove(made, runner=Runner())
    assert not made.path.parent.parent.exists()
    service.install(home, made, runner=Runner())
    (made.path.parent / "other.service").write_text("[Unit]\n")
    service.remove(made, runner=Runner())
    assert [path.name for path in made.path.parent.iterdir()] == ["other.service"]


@pytest.mark.parametrize("name", ["plain", "a b", 'q"uote', "100%", "$HOME", "back\\slash", "ü;#"])
def test_the_unit_is_well_formed_whatever_the_home_is_called(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By systemd-analyze verify, which reads a unit as systemd itself does."""
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip("systemd-analyze (Debian package systemd) is not installed")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    (tmp_path / name).mkdir()
    made = service.service(find_home(str(tmp_path / name), environment={}), "linux")
    file = tmp_path / "syncd.service"
    file.write_text(made.text)
    done = subprocess.run(
        [analyze, "verify", "--man=no", str(file)], capture_output=True, text=True, timeout=60
    )
    told = [line for line in done.stderr.splitlines() if "syncd.service" in line]
    assert (done.returncode, told) == (0, [])


def test_systemd_analyze_would_notice_a_wrong_unit(home: Home, tmp_path: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip("systemd-analyze (Debian package systemd) is not installed")
    text = service.service(home, "linux").text.replace("Type=notify", "Type=oh")
    (tmp_path / "syncd.service").write_text(text)
    done = subprocess.run(
        [analyze, "verify", "--man=no", str(tmp_path / "syncd.service")],
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert "syncd.service" in done.stderr


def test_a_home_that_a_unit_cannot_name_is_refused(tmp_path: Path) -> None:
    odd = find_home(str(tmp_path / "two\nlines"), environment={})
    with pytest.raises(SetupProblem, match="--home"):
        service.service(odd, "linux")


def test_the_agent_is_a_property_list_that_calls_this_program(home: Home) -> None:
    made = service.service(home, "darwin")
    told = plistlib.loads(made.text.encode())
    assert told["ProgramArguments"][-1] == "run"
    assert str(home.state) in told["ProgramArguments"]
    assert told["Label"] == "local.syncd"
    assert "@" not in made.text.replace(str(home.state), "")
    assert made.path.parts[-3:] == ("Library", "LaunchAgents", "local.syncd.plist")
    assert service.is_ours(made.text)


def test_elsewhere_there_is_none_and_that_is_said(home: Home) -> None:
    with pytest.raises(SetupProblem, match="only for systemd and launchd"):
        service.service(home, "win32")


@pytest.mark.parametrize("platform", ["linux", "darwin"])
def test_what_is_installed_is_started_and_removing_leaves_nothing(
    platform: str, home: Home
) -> None:
    made = service.service(home, platform)
    runner = Runner()
    assert service.install(home, made, runner=runner) == []
    assert made.path.read_text() == made.text
    assert runner.calls[-1].split()[:2] == {
        "linux": ["systemctl", "--user"], "darwin": ["launchctl", "bootstrap"]
    }[platform]  # fmt: skip
    assert service.remove(made, runner=runner) == []
    assert not made.path.exists()
    assert not any(path.is_file() for path in made.path.parents[1].rglob("*"))


def test_installing_again_changes_nothing(home: Home) -> None:
    made = service.service(home, "linux")
    for _ in range(2):
        assert service.install(home, made, runner=Runner()) == []
    assert [path.name for path in made.path.parent.iterdir()] == [service.UNIT]
    assert made.path.read_text() == made.text


def test_ours_of_another_version_is_renewed(home: Home) -> None:
    made = service.service(home, "linux")
    made.path.parent.mkdir(parents=True)
    made.path.write_text(service._marked("[Unit]\n", "# syncd wrote this: {}\n"))
    service.install(home, made, runner=Runner())
    assert made.path.read_text() == made.text
    assert not made.before.exists()


@pytest.mark.parametrize("edited", [False, True])
def test_what_is_not_ours_or_was_edited_stays_unless_asked_for_and_is_put_back(
    edited: bool, home: Home
) -> None:
    made = service.service(home, "linux")
    theirs = made.text.replace("RestartSec=30", "RestartSec=3") if edited else "[Unit]\n"
    made.path.parent.mkdir(parents=True)
    made.path.write_text(theirs)
    runner = Runner()
    with pytest.raises(SetupProblem, match="--replace"):
        service.install(home, made, runner=runner)
    with pytest.raises(SetupProblem, match="--force"):
        service.remove(made, runner=runner)
    assert (made.path.read_text(), runner.calls) == (theirs, [])
    service.install(home, made, replace=True, runner=runner)
    assert (made.path.read_text(), made.before.read_text()) == (made.text, theirs)
    service.remove(made, runner=runner)
    assert made.path.read_text() == theirs
    assert not made.before.exists()


def test_what_was_put_aside_is_never_written_over(home: Home) -> None:
    made = service.service(home, "linux")
    made.path.parent.mkdir(parents=True)
    made.path.write_text("second")
    made.before.write_text("first")
    with pytest.raises(SetupProblem, match="Move one of them"):
        service.install(home, made, replace=True, runner=Runner())
    assert (made.path.read_text(), made.before.read_text()) == ("second", "first")


def test_what_cannot_be_started_is_told_and_can_still_be_removed(home: Home) -> None:
    made = service.service(home, "linux")
    told = service.install(home, made, runner=Runner(1))
    assert "no bus" in told[0]
    assert made.path.exists()
    assert service.remove(made, runner=Runner(1))
    assert not made.path.exists()


def test_removing_what_is_not_there_is_said(home: Home) -> None:
    with pytest.raises(SetupProblem, match="No service is installed"):
        service.remove(service.service(home, "linux"), runner=Runner())


def test_a_program_that_is_missing_is_a_failure_in_words() -> None:
    assert service.run(["syncd-no-such-program"]).status == 127
    assert "not installed" in service.run(["syncd-no-such-program"]).said


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="calls systemctl")
def test_the_commands_do_it_from_end_to_end(home: Home, tmp_path: Path) -> None:
    """With a double of systemctl that keeps its arguments."""
    bin_folder = tmp_path / "bin"
    bin_folder.mkdir()
    calls = tmp_path / "calls"
    double = bin_folder / "systemctl"
    double.write_text(f'#!/bin/sh\necho "$*" >> {shlex.quote(str(calls))}\n')
    double.chmod(0o755)
    environment = {**os.environ, "PATH": f"{bin_folder}:{os.environ['PATH']}"}
    environment["SYNCD_HOME"] = str(home.state.parent)

    def syncd(*words: str) -> tuple[int, str]:
        done = subprocess.run(
            [sys.executable, "-m", "syncd", "service", *words],
            capture_output=True, text=True, timeout=60, env=environment,
        )  # fmt: skip
        return done.returncode, done.stdout

    status, printed = syncd("install", "--print")
    made = service.service(home, "linux")
    assert (status, printed) == (0, made.text)
    assert not made.path.exists()
    assert set(calls.read_text().splitlines()) == {"--user show --property=UnitPath --value"}
    assert syncd("show")[0] == 1
    assert syncd("install")[0] == 0
    assert made.path.read_text() == made.text
    assert syncd("show") == (0, made.text)
    assert syncd("remove")[0] == 0
    assert not made.path.exists()
    told = calls.read_text().splitlines()
    assert [line for line in told if not line.startswith("--user show")] == [
        "--user daemon-reload",
        "--user enable syncd.service",
        "--user restart syncd.service",
        "--user disable --now syncd.service",
        "--user daemon-reload",
    ]
