"""The daemon as a service of the listener's own: a systemd user unit, or a launchd agent.

The templates are in ``config/``. What is written is marked with a hash of itself: a file that is
not ours, or was edited since, is neither replaced nor removed unless that is asked for; what was
replaced is kept beside it and put back by :func:`remove`.
"""

import contextlib
import os
import plistlib
import re
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import platformdirs
import xxhash

from syncd.errors import SetupProblem
from syncd.settings import Home

UNIT = "syncd.service"
AGENT = "local.syncd"
BEFORE = ".before-syncd"
PATIENCE_S = 60.0

_MARK = re.compile(r"^(?:# |<!-- )syncd wrote this: ([0-9a-f]{32})(?: -->)?\n", re.M)

_SAID = re.compile(r'"((?:[^"\\]|\\.)*)"|(\S+)')
"""A word of a list that systemctl shows: in double quotes if it needs them, as a shell has them."""


@dataclass(frozen=True, slots=True)
class Ran:
    """What a program of the system said."""

    status: int
    said: str


Runner = Callable[[Sequence[str]], Ran]


@dataclass(frozen=True, slots=True)
class Service:
    """A service file: where it belongs, what it says, and the commands around it."""

    path: Path
    text: str
    starting: tuple[tuple[str, ...], ...]
    ending: tuple[tuple[str, ...], ...]
    after_removal: tuple[tuple[str, ...], ...]

    @property
    def before(self) -> Path:
        """Where what was in its place is kept."""
        return self.path.with_name(self.path.name + BEFORE)


def run(command: Sequence[str]) -> Ran:
    """Run a program of the system and hear what it says."""
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, errors="replace", timeout=PATIENCE_S
        )
    except FileNotFoundError:
        return Ran(127, f"{command[0]} is not installed")
    except (OSError, subprocess.TimeoutExpired) as error:
        return Ran(126, str(error))
    return Ran(done.returncode, (done.stderr or done.stdout).strip())


def template(name: str) -> str:
    """A file of ``config/``, in a checkout or in the wheel."""
    packaged = Path(str(resources.files("syncd"))) / "config"
    folder = packaged if packaged.is_dir() else Path(__file__).parents[2] / "config"
    return (folder / name).read_text("utf-8")


def service(home: Home, platform: str = sys.platform, runner: Runner = run) -> Service:
    """The service for *home* on this platform. Raises SetupProblem where there is none."""
    if platform.startswith("linux"):
        return _unit(home, runner)
    if platform == "darwin":
        return _agent(home)
    raise SetupProblem(
        f"There is no service for {platform}: only for systemd and launchd. Have 'syncd run' "
        "started in the way that is usual there."
    )


def _command(home: Home) -> list[str]:
    # The console script rather than "python -m": that looks for modules in the working folder too.
    script = Path(sys.executable).with_name("syncd")
    program = [str(script)] if script.exists() else [sys.executable, "-m", "syncd"]
    return [
        *program, "--settings", str(home.settings_file),
        "--state", str(home.state), "--store", str(home.store), "run",
    ]  # fmt: skip


def _word(text: str) -> str:
    """*text* as one word of a unit file: systemd.syntax(7), specifiers by systemd.unit(5)."""
    if not text.isprintable():
        raise SetupProblem(
            f"{text!r} has letters that a unit file cannot hold. Choose another place with --home."
        )
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%") + '"'


def _unit(home: Home, runner: Runner) -> Service:
    first, *words = _command(home)
    text = template("syncd.service")
    text = text[text.index("[Unit]") :]
    # ":" is for "$" to be no more than a letter (systemd.service(5)).
    text = text.replace("@COMMAND@", " ".join(map(_word, [":" + first, *words])))
    ctl = ("systemctl", "--user")
    return Service(
        _unit_folder(runner) / UNIT,
        _marked(text, "# syncd wrote this: {}\n"),
        ((*ctl, "daemon-reload"), (*ctl, "enable", UNIT), (*ctl, "restart", UNIT)),
        ((*ctl, "disable", "--now", UNIT),),
        ((*ctl, "daemon-reload"),),
    )


def _unit_folder(runner: Runner) -> Path:
    """Where the listener's own units belong.

    That is what the user manager says: it may have been started with another XDG_CONFIG_HOME than
    this shell has. The first place of that name is the listener's (systemd.unit(5)).
    """
    ran = runner(("systemctl", "--user", "show", "--property=UnitPath", "--value"))
    if ran.status == 0:
        for quoted, plain in _SAID.findall(ran.said):
            place = Path(plain or re.sub(r"\\(.)", r"\1", quoted))
            if place.is_absolute() and place.parts[-2:] == ("systemd", "user"):
                return place
    return platformdirs.user_config_path("systemd") / "user"


def _agent(home: Home) -> Service:
    told = plistlib.loads(template("syncd.plist").encode())
    told["ProgramArguments"] = _command(home)
    told["StandardErrorPath"] = str(home.state / "daemon.log")
    head, _, rest = plistlib.dumps(told).decode().partition("\n")
    path = Path.home() / "Library" / "LaunchAgents" / f"{AGENT}.plist"
    domain = f"gui/{os.getuid()}"
    return Service(
        path,
        head + "\n" + _marked(rest, "<!-- syncd wrote this: {} -->\n"),
        (("launchctl", "bootstrap", domain, str(path)),),
        (("launchctl", "bootout", f"{domain}/{AGENT}"),),
        (),
    )


def _marked(text: str, mark: str) -> str:
    return mark.format(xxhash.xxh3_128_hexdigest(text.encode())) + text


def is_ours(text: str) -> bool:
    """Whether *text* is what syncd wrote, unchanged."""
    found = _MARK.search(text)
    return found is not None and found[1] == xxhash.xxh3_128_hexdigest(text[found.end() :].encode())


def read(path: Path) -> str | None:
    """What is at *path*; None where nothing is. Raises SetupProblem."""
    try:
        return path.read_text("utf-8", "surrogateescape")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise SetupProblem(
            f"{path} cannot be read: {error.strerror}. See what it is, and move it away."
        ) from error


def install(home: Home, made: Service, *, replace: bool = False, runner: Runner = run) -> list[str]:
    """Write *made* and start it; returns what went wrong with starting, empty if nothing did.

    Raises SetupProblem where another file is in the way, unless it may be replaced.
    """
    present = read(made.path)
    other = present is not None and not is_ours(present)
    if other and not replace:
        raise SetupProblem(
            f"{made.path} is there already, and is not as syncd wrote it. Look at it; with "
            "--replace it is kept beside the new one, and put back by 'syncd service remove'."
        )
    if other and made.before.exists():
        raise SetupProblem(
            f"{made.before} is there already, so {made.path} cannot be kept. Move one of them away."
        )
    home.made()
    try:
        for folder in (home.store, made.path.parent):
            folder.mkdir(parents=True, exist_ok=True)
        aside = made.path.with_name(made.path.name + ".new")
        aside.write_text(made.text, "utf-8")
        if other:
            made.path.rename(made.before)
        aside.replace(made.path)
    except OSError as error:
        raise SetupProblem(
            f"{error.filename or made.path} cannot be written: {error.strerror}. Make it writable."
        ) from error
    if present is not None and made.path.suffix == ".plist":
        _all(made.ending, runner)  # launchd takes a changed agent only after it was let go
    return _all(made.starting, runner)


def remove(made: Service, *, force: bool = False, runner: Runner = run) -> list[str]:
    """End the service and remove its file; returns what went wrong with ending it.

    What was in its place before is put back. Raises SetupProblem where there is no service, or its
    file is not as we wrote it and is not to be removed all the same.
    """
    present = read(made.path)
    if present is None:
        raise SetupProblem(f"No service is installed: there is no {made.path}.")
    if not is_ours(present) and not force:
        raise SetupProblem(
            f"{made.path} is not as syncd wrote it. Look at it; --force removes it all the same."
        )
    problems = _all(made.ending, runner)
    try:
        made.path.unlink()
        if made.before.exists():
            made.before.rename(made.path)
        elif made.path.suffix == ".service":
            with contextlib.suppress(OSError):  # folders that nothing else is in
                made.path.parent.rmdir()
                made.path.parent.parent.rmdir()
    except OSError as error:
        raise SetupProblem(
            f"{made.path} cannot be removed: {error.strerror}. Make its folder writable."
        ) from error
    return problems + _all(made.after_removal, runner)


def _all(commands: Sequence[Sequence[str]], runner: Runner) -> list[str]:
    problems = []
    for command in commands:
        ran = runner(command)
        if ran.status:
            problems.append(f"{' '.join(command)}: {ran.said or f'status {ran.status}'}")
    return problems
