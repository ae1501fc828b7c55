"""Runs inside the machine of ``service_machine.py``, as root: uses the service as listeners would.

Each check is a function; what it found goes to the shared folder as a line of JSON. They run in the
order in which they stand here, and each leaves the service running.
"""

import contextlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

SHARE = Path(sys.argv[1])
SYNCD = Path(sys.prefix) / "bin" / "syncd"
UNIT = "syncd.service"
SECONDS = 240.0
"""What takes longer is stuck."""

Told = list[str]
CHECKS: list[tuple[str, Callable[[Told], None]]] = []


def check(name: str) -> Callable[[Callable[[Told], None]], Callable[[Told], None]]:
    """A check; what it does is told in *name*."""

    def kept(function: Callable[[Told], None]) -> Callable[[Told], None]:
        CHECKS.append((name, function))
        return function

    return kept


@dataclass
class User:
    """A listener with a user manager."""

    name: str
    uid: int
    home: Path
    more: dict[str, str] = field(default_factory=dict)
    program: Path = SYNCD

    @property
    def environment(self) -> dict[str, str]:
        runtime = f"/run/user/{self.uid}"
        return {
            "HOME": str(self.home),
            "USER": self.name,
            "PATH": "/usr/bin:/bin",
            "XDG_RUNTIME_DIR": runtime,
            "DBUS_SESSION_BUS_ADDRESS": f"unix:path={runtime}/bus",
            "PYTHONDONTWRITEBYTECODE": "1",
            "PAGER": "cat",
        } | self.more

    def run(self, *words: str | Path, status: int | None = 0) -> str:
        """What a program says that the listener calls."""
        done = subprocess.run(
            [str(word) for word in words],
            user=self.uid,
            group=self.uid,
            extra_groups=[],
            env=self.environment,
            cwd="/",
            capture_output=True,
            text=True,
            errors="replace",
            timeout=SECONDS,
        )
        said = done.stdout + done.stderr
        assert status is None or done.returncode == status, f"{words}: {done.returncode}: {said}"
        return said

    def syncd(self, *words: str | Path, status: int | None = 0) -> str:
        return self.run(self.program, *words, status=status)

    def ctl(self, *words: str, status: int | None = 0) -> str:
        return self.run("systemctl", "--user", *words, status=status)

    def prop(self, name: str) -> str:
        """A property of the unit."""
        return self.ctl("show", "--value", "-p", name, UNIT).strip()

    @property
    def pid(self) -> int:
        return int(self.prop("MainPID"))

    def status(self) -> dict[str, Any]:
        said = self.syncd("status", "--json", status=None)
        return json.loads(said[: said.rindex("}") + 1]) if "{" in said else {"daemon": said}

    def card(self, name: str) -> dict[str, Any]:
        cards = self.status().get("cards", [])
        return next((card for card in cards if card["name"] == name), {"stage": "unknown"})

    def inside(self, *words: str | Path) -> tuple[int, str]:
        """Call a program in the namespaces of the service, as its user."""
        pid = self.pid
        spaces = []
        for flag, space in (("-U", "user"), ("-m", "mnt")):
            if namespace(pid, space) != namespace("self", space):
                spaces.append(flag)
        enter = ["nsenter", "-t", str(pid), *spaces, "--preserve-credentials"] if spaces else []
        done = subprocess.run(
            [*enter, *map(str, words)],
            user=self.uid, group=self.uid, extra_groups=[], env=self.environment,
            capture_output=True, text=True, errors="replace", timeout=SECONDS,
        )  # fmt: skip
        return done.returncode, (done.stdout + done.stderr).strip()

    def journal(self) -> list[dict[str, Any]]:
        """What the service has written to the journal so far."""
        subprocess.run(["journalctl", "--sync"], check=False)
        done = subprocess.run(
            ["journalctl", "-o", "json", f"_UID={self.uid}", f"_SYSTEMD_USER_UNIT={UNIT}"],
            capture_output=True,
        )
        return [json.loads(line) for line in done.stdout.splitlines()]

    def logs(self, text: str) -> bool:
        return any(text in str(line["MESSAGE"]) for line in self.journal())

    def write(self, path: Path, text: str) -> None:
        put = 'mkdir -p "$(dirname "$1")" && printf %s "$2" > "$1"'
        self.run("sh", "-c", put, "sh", path, text)

    @contextlib.contextmanager
    def drop_in(self, text: str) -> Iterator[None]:
        """The service with these lines in its section, from its next start on."""
        folder = self.home / ".config/systemd/user/syncd.service.d"
        self.write(folder / "test.conf", f"[Service]\n{text}\n")
        self.ctl("daemon-reload")
        self.ctl("restart", UNIT)
        try:
            yield
        finally:
            shutil.rmtree(folder)
            self.ctl("daemon-reload")
            self.ctl("restart", UNIT)


LISTENER = User("listener", 1000, Path("/home/listener"))
MUSIC = LISTENER.home / "Music"
PLACES = ("/media/listener/CARD A", "/run/media/listener/CARDB", "/mnt/cardc", "/srv/odd/cardd")


def wait(holds: Callable[[], Any], what: str, seconds: float = SECONDS) -> float:
    """Wait until ``holds()``; how long that took. Raises AssertionError when it does not come."""
    begun = time.monotonic()
    while not holds():
        assert time.monotonic() - begun < seconds, f"it did not come: {what}"
        time.sleep(0.2)
    return time.monotonic() - begun


def namespace(pid: int | str, kind: str = "mnt") -> str:
    return str(Path(f"/proc/{pid}/ns/{kind}").readlink())


def mounted(place: str) -> bool:
    return os.path.ismount(place)


def mount(image: str, place: str, user: User = LISTENER, options: str = "") -> None:
    """Mount a card as desktops do: as root, for the user."""
    Path(place).mkdir(parents=True, exist_ok=True)
    told = (
        f"loop,uid={user.uid},gid={user.uid},utf8,shortname=mixed,fmask=0022,dmask=0022,{options}"
    )
    subprocess.run(["mount", "-t", "vfat", "-o", told, SHARE / image, place], check=True)


def unmount(place: str) -> None:
    """Unmount as soon as nobody looks at it."""
    command = ["umount", place]
    wait(lambda: subprocess.run(command, capture_output=True).returncode == 0, str(command), 30)


def table(user: User) -> str:
    return Path(f"/proc/{user.pid}/mountinfo").read_text().replace("\\040", " ")


def music_on(place: str, suffix: str = ".mp3") -> list[Path]:
    """Files on a card that are music: their first bytes say so."""
    found = [path for path in Path(place).rglob(f"*{suffix}") if "SYNCD" not in path.parts]
    for path in found:
        head = path.read_bytes()[:4]
        assert head.startswith((b"ID3", b"fLaC", b"\xff\xfb")), path
    return found


def album(user: User, name: str) -> None:
    """An album from the shared folder comes to the library."""
    music = user.home / "Music"
    aside = user.home / f"making-{name}"
    shutil.copytree(SHARE / "music" / name, aside)
    for path in (aside, *aside.rglob("*")):
        os.chown(path, user.uid, user.uid)
        os.utime(path)
    music.mkdir(exist_ok=True)
    os.chown(music, user.uid, user.uid)
    aside.rename(music / name)


def installed(user: User, told: Told | None = None) -> None:
    said = user.syncd("service", "install")
    if told is not None:
        told += said.splitlines()
    assert user.prop("ActiveState") == "active"


def settled(user: User) -> None:
    """Settings that make it come to rest soon, and a library with an album."""
    user.write(user.home / ".config/syncd/syncd.toml", "settle_seconds = 2\n")
    user.run("mkdir", "-p", user.home / "Music")
    album(user, "Short")


# -- the checks -------------------------------------------------------------------------------


@check("a unit of Type=notify does not count as active before it says so (control)")
def _control(told: Told) -> None:
    wait(lambda: Path("/run/user/1000/bus").exists(), "the listener's user manager")
    wait(lambda: LISTENER.ctl("is-system-running", status=None).strip() in ("running", "degraded"),
         "the user manager's start")  # fmt: skip
    told.append(LISTENER.run("systemctl", "--version").splitlines()[0])
    told.append("kernel " + os.uname().release)
    modules = Path("/sys/kernel/security/lsm")
    told.append("security modules: " + (modules.read_text() if modules.exists() else "none"))
    LISTENER.run("systemd-run", "--user", "--no-block", "--unit=mute", "-p", "Type=notify",
                 "sleep", "60")  # fmt: skip
    time.sleep(2)
    assert LISTENER.ctl("is-active", "mute", status=3).strip() == "activating"
    LISTENER.ctl("stop", "mute")


@check("install: it is active by its own word, enabled, and answers from outside")
def _install(told: Told) -> None:
    settled(LISTENER)
    installed(LISTENER, told)
    assert LISTENER.prop("Type") == "notify" and LISTENER.prop("NotifyAccess") == "main"
    told.append("says: " + LISTENER.prop("StatusText"))
    assert LISTENER.prop("StatusText")
    assert LISTENER.ctl("is-enabled", UNIT).strip() == "enabled"
    assert LISTENER.status()["daemon"] == "running"
    assert LISTENER.status()["pid"] == LISTENER.pid
    assert LISTENER.syncd("service", "show", status=0)


@check("its limits are in force: memory, system calls, no new privileges")
def _limits(told: Told) -> None:
    group = Path("/sys/fs/cgroup" + LISTENER.prop("ControlGroup"))
    told.append("memory.max " + (group / "memory.max").read_text().strip())
    assert (group / "memory.max").read_text().strip() == str(3 << 30)
    facts = Path(f"/proc/{LISTENER.pid}/status").read_text()
    assert re.search(r"^NoNewPrivs:\s+1$", facts, re.M) and re.search(
        r"^Seccomp:\s+2$", facts, re.M
    )


@check("a library that is added after install is scanned")
def _library(told: Told) -> None:
    LISTENER.syncd("library", "add", MUSIC)
    wait(lambda: LISTENER.status()["library"]["scanned"], "a scan")
    wait(lambda: str(MUSIC) in LISTENER.status()["library"]["roots"], "the root")


@check("the service lets go what is ejected outside, also what was there before it")
def _lets_go(told: Told) -> None:
    mount("card4.img", "/mnt/before")
    LISTENER.ctl("restart", UNIT)
    unmount("/mnt/before")
    wait(lambda: " /mnt/before " not in table(LISTENER), "that it left the service's mounts", 20)
    told_of = subprocess.run(["losetup", "-l"], capture_output=True, text=True).stdout
    assert "card4.img" not in told_of, "something still holds it"


@check("ProtectSystem=strict would make cards read-only that were there before (control)")
def _strict(told: Told) -> None:
    mount("card4.img", "/srv/before")
    with LISTENER.drop_in("PrivateUsers=yes\nProtectSystem=strict\nReadWritePaths=-/media -/mnt"):
        assert namespace(LISTENER.pid) != namespace("self")
        status, said = LISTENER.inside("touch", "/srv/before/written")
        told.append(said)
        assert status and "Read-only file system" in said
    with LISTENER.drop_in("ProtectSystem=strict"):
        same = namespace(LISTENER.pid) == namespace("self")
        told.append(f"without PrivateUsers it is {'silently ignored' if same else 'in force'}")
    unmount("/srv/before")


def _card(place: str, image: str, name: str, told: Told, *more: str) -> None:
    mount(image, place)
    wait(lambda: f" {place} " in table(LISTENER), f"{place} in the service's mount table", 20)
    LISTENER.syncd("enrol", place, "--profile", "mcu-mp3", "--name", name, *more)
    wait(lambda: LISTENER.card(name)["stage"] in ("may be removed", "failed"), "the update")
    card = LISTENER.card(name)
    told.append(f"{name}: {card['stage']}: {card['message']}")
    assert card["stage"] == "may be removed", card
    assert len(music_on(place)) >= 2
    told += LISTENER.syncd("verify", name).splitlines()[-1:]


for _number, _place in enumerate(PLACES):

    @check(f"a card mounted later at {_place} is seen, enrolled by command, updated by the service")
    def _arrives(told: Told, number: int = _number, place: str = _place) -> None:
        _card(place, f"card{number}.img", f"card{number}", told)


@check("an exFAT card by exfat-fuse, mounted later, is updated")
def _exfat(told: Told) -> None:
    place = "/media/listener/EX"
    Path(place).mkdir(parents=True, exist_ok=True)
    loop = subprocess.run(["losetup", "-f", "--show", SHARE / "exfat.img"], check=True,
                          capture_output=True, text=True).stdout.strip()  # fmt: skip
    subprocess.run(["mkfs.exfat", loop], check=True, capture_output=True)
    subprocess.run(["mount.exfat-fuse", "-o", "uid=1000,gid=1000,allow_other", loop, place],
                   check=True, capture_output=True)  # fmt: skip
    LISTENER.syncd("enrol", place, "--profile", "mcu-mp3", "--name", "ex")
    wait(lambda: LISTENER.card("ex")["stage"] in ("may be removed", "failed"), "the update")
    assert LISTENER.card("ex")["stage"] == "may be removed", LISTENER.card("ex")
    told.append(f"{len(music_on(place))} files of music")
    assert music_on(place)


def _more_on(name: str, place: str, before: int) -> bool:
    return len(music_on(place)) > before or LISTENER.card(name)["stage"] == "failed"


@check("after a restart, cards that were there before it are written to as well")
def _restart(told: Told) -> None:
    places = [(f"card{n}", place) for n, place in enumerate(PLACES) if mounted(place)]
    LISTENER.ctl("restart", UNIT)
    wait(lambda: all(LISTENER.card(n)["stage"] == "may be removed" for n, _ in places), "rest")
    before = {place: len(music_on(place)) for _, place in places}
    album(LISTENER, "Second")
    bad = []
    for name, place in places:
        with contextlib.suppress(AssertionError):
            wait(partial(_more_on, name, place, before[place]), "the second album", 60)
        told.append(f"{name} at {place}: {LISTENER.card(name)['message']}")
        if len(music_on(place)) <= before[place]:
            bad.append(place)
    assert not bad, f"not written: {bad}"


@check("kill -9: it is started again")
def _kill(told: Told) -> None:
    with LISTENER.drop_in("RestartSec=1"):
        before = LISTENER.pid
        os.kill(before, 9)
        wait(lambda: LISTENER.pid not in (0, before), "another process")
        wait(lambda: LISTENER.prop("ActiveState") == "active", "that it is active")
        assert LISTENER.status()["daemon"] == "running"
        told.append(f"NRestarts={LISTENER.prop('NRestarts')}")


@check("stop ends within 5 s in the middle of an update, and the next start goes on")
def _stop(told: Told) -> None:
    name = "card0"
    wait(lambda: LISTENER.card(name)["stage"] == "may be removed", "rest")
    album(LISTENER, "Long")
    wait(lambda: (LISTENER.card(name).get("doing") or {}).get("stage") in ("press", "write"),
         "an update that is pressing")  # fmt: skip
    told.append(f"stopped while: {LISTENER.card(name)['doing']['stage']}")
    begun = time.monotonic()
    LISTENER.ctl("stop", UNIT)
    seconds = time.monotonic() - begun
    told.append(f"{seconds:.1f} s; result {LISTENER.prop('Result')}")
    assert seconds < 5.5 and LISTENER.prop("Result") == "success"
    assert not re.search(
        r"ffmpeg", subprocess.run(["ps", "ax"], capture_output=True, text=True).stdout
    )
    LISTENER.ctl("start", UNIT)
    wait(lambda: LISTENER.card(name)["stage"] == "may be removed", "the end of the update")
    told.append(LISTENER.card(name)["message"])
    told += LISTENER.syncd("verify", name).splitlines()[-1:]


@check("reload has it read its settings; a broken edit is told, and the old ones stay")
def _reload(told: Told) -> None:
    settings = LISTENER.home / ".config/syncd/syncd.toml"
    LISTENER.write(settings, 'settle_seconds = 2\ncard_folders = ["/srv/folder"]\n')
    LISTENER.ctl("reload", UNIT)
    wait(lambda: LISTENER.logs("The settings changed and were read again."), "the new settings", 30)
    LISTENER.write(settings, "settle_seconds = -2\n")
    LISTENER.ctl("reload", UNIT)
    wait(lambda: any("settle_seconds" in problem for problem in LISTENER.status()["problems"]),
         "the problem", 30)  # fmt: skip
    told += LISTENER.status()["problems"]
    LISTENER.write(settings, "settle_seconds = 2\n")
    LISTENER.ctl("reload", UNIT)
    wait(lambda: not LISTENER.status()["problems"], "that it is mended", 30)
    assert LISTENER.prop("ActiveState") == "active"


@check("journal lines have their priorities, and no marks of them in the text")
def _journal(told: Told) -> None:
    ours = [line for line in LISTENER.journal() if line.get("_TRANSPORT") == "stdout"]
    priorities = {int(line["PRIORITY"]) for line in ours}
    told.append(f"{len(ours)} lines, priorities {sorted(priorities)}")
    told += sorted({line["MESSAGE"] for line in ours})[:40]
    assert 6 in priorities and 4 in priorities
    assert not [line for line in ours if re.match(r"<\d>", str(line["MESSAGE"]))]
    broken = [line for line in ours if "settle_seconds" in str(line["MESSAGE"])]
    assert broken and all(line["PRIORITY"] == "4" for line in broken)
    assert not [line for line in ours if "Traceback" in str(line["MESSAGE"])]


def _ejected(place: str, name: str, told: Told) -> None:
    wait(lambda: LISTENER.card(name)["stage"] in ("may be removed", "failed", "not plugged in")
         and LISTENER.card(name)["message"], "the update")  # fmt: skip
    time.sleep(1)
    message = LISTENER.card(name)["message"]
    told.append(f"{place}: {'still mounted' if mounted(place) else 'unmounted'}: {message}")
    if mounted(place):
        assert "could not be unmounted" in message and "eject it yourself" in message
        LISTENER.run("umount", place, status=None)
    else:
        assert "It is unmounted and may be removed." in message


@check("a card that the user may unmount himself (fstab) is unmounted, or it is told why not")
def _eject(told: Told) -> None:
    Path("/mnt/byuser").mkdir(exist_ok=True)
    LISTENER.run("mount", "/mnt/byuser")
    LISTENER.syncd("enrol", "/mnt/byuser", "--profile", "mcu-mp3", "--name", "mine", "--unmount")
    _ejected("/mnt/byuser", "mine", told)
    if mounted("/mnt/byuser"):
        unmount("/mnt/byuser")


@check("a card that UDisks mounted is unmounted by the service, or it is told why not")
def _udisks(told: Told) -> None:
    if not shutil.which("udisksctl"):
        told.append("left out: udisks2 is not installed")
        return
    loop = subprocess.run(["losetup", "-f", "--show", SHARE / "udisks.img"], check=True,
                          capture_output=True, text=True).stdout.strip()  # fmt: skip
    subprocess.run(["udevadm", "trigger", "--settle", loop], check=False)
    said = LISTENER.run("udisksctl", "mount", "--no-user-interaction", "-b", loop, status=None)
    told.append(said.strip())
    found = re.search(r"at (/\S+)", said)
    assert found, said
    place = found[1].rstrip(".")
    LISTENER.syncd("enrol", place, "--profile", "mcu-mp3", "--name", "byudisks", "--unmount")
    _ejected(place, "byudisks", told)


@check("a store that was removed meanwhile is made again")
def _gone(told: Told) -> None:
    LISTENER.ctl("stop", UNIT)
    shutil.rmtree(LISTENER.home / ".cache/syncd")
    LISTENER.ctl("start", UNIT)
    wait(lambda: LISTENER.status()["daemon"] == "running", "the daemon")
    LISTENER.syncd("service", "rescan")
    store = LISTENER.home / ".cache/syncd/store"
    wait(store.exists, "the store", 10)
    assert LISTENER.card("card0")["stage"] != "failed"


@check("hang (SIGSTOP): the watchdog ends it, and it is started again")
def _hang(told: Told) -> None:
    with LISTENER.drop_in("RestartSec=1\nWatchdogSec=20"):
        before = LISTENER.pid
        time.sleep(45)
        assert LISTENER.pid == before, "the watchdog barked at a daemon that was well"
        os.kill(before, 19)
        seconds = wait(lambda: LISTENER.pid not in (0, before), "another process")
        told.append(f"after {seconds:.0f} s, NRestarts={LISTENER.prop('NRestarts')}")
        wait(lambda: LISTENER.prop("ActiveState") == "active", "that it is active")
        assert LISTENER.status()["daemon"] == "running"


@check("install again after the program moved: the unit is renewed and the new program runs")
def _upgrade(told: Told) -> None:
    made = Path("/opt/new place")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", made], check=True)
    packages = next((made / "lib").glob("python*/site-packages"))
    (packages / "old.pth").write_text("\n".join(p for p in sys.path if "site-packages" in p) + "\n")
    for pth in Path(sys.prefix).glob("lib/python*/site-packages/_editable*.pth"):
        shutil.copy(pth, packages)
    script = made / "bin/syncd"
    script.write_text(f"#!/bin/sh\nexec '{made}/bin/python' -m syncd \"$@\"\n")
    script.chmod(0o755)
    before = LISTENER.pid
    new = User(LISTENER.name, LISTENER.uid, LISTENER.home, program=script)
    assert "renews it" in new.syncd("service", "show", status=1)
    told += new.syncd("service", "install").splitlines()
    assert LISTENER.pid not in (0, before)
    line = Path(f"/proc/{LISTENER.pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    told.append(line)
    assert str(made) in line
    LISTENER.syncd("service", "install")


@check("remove leaves nothing behind")
def _remove(told: Told) -> None:
    told += LISTENER.syncd("service", "remove").splitlines()
    left = [str(path) for path in LISTENER.home.rglob("*syncd.service*")]
    left += [str(path) for path in (LISTENER.home / ".config/systemd").rglob("*")]
    assert not left, left
    assert LISTENER.prop("LoadState") == "not-found"
    assert UNIT not in LISTENER.ctl("list-units", "--all", "--plain")
    assert "syncd" not in LISTENER.ctl("list-unit-files")
    assert LISTENER.status()["daemon"] == "not running"
    assert not (LISTENER.home / ".local/share/syncd/run/control").exists()


@check("a home with spaces, per cent, quotes and dollar; XDG_ variables only the shell knows")
def _odd(told: Told) -> None:
    home = Path('/home/other 100% "so" $HOME \'n')
    places = {"CONFIG": "my config", "DATA": 'my "data" %h', "CACHE": "my $cache"}
    more = {f"XDG_{key}_HOME": str(home / place) for key, place in places.items()}
    other = User("other", 1001, home, more)
    wait(lambda: Path("/run/user/1001/bus").exists(), "the other's user manager")
    other.write(home / "my config/syncd/syncd.toml", "settle_seconds = 2\n")
    other.run("mkdir", "-p", home / "Music")
    album(other, "Short")
    installed(other, told)
    assert (home / 'my "data" %h' / "syncd").is_dir()
    other.syncd("library", "add", home / "Music")
    wait(lambda: other.status()["library"]["scanned"], "a scan")
    assert other.status()["library"]["roots"] == [str(home / "Music")]
    mount("card5.img", "/media/other/C %d", other)
    other.syncd("enrol", "/media/other/C %d", "--profile", "mcu-mp3", "--name", "c")
    wait(lambda: other.card("c")["stage"] in ("may be removed", "failed"), "the update")
    assert other.card("c")["stage"] == "may be removed", other.card("c")
    assert music_on("/media/other/C %d")
    told += other.syncd("service", "remove").splitlines()
    assert other.prop("LoadState") == "not-found"
    assert not list(home.rglob("*syncd.service*"))


def main() -> None:
    """Run the checks that were asked for."""
    words = json.loads((SHARE / "words").read_text())
    for name, function in CHECKS:
        needed = function in (_control, _install, _library)
        if words and not needed and not any(word in name for word in words):
            continue
        told: Told = []
        begun = time.monotonic()
        try:
            function(told)
            ok = True
        except Exception as problem:
            ok = False
            told += [
                f"{type(problem).__name__}: {problem}",
                *traceback.format_exc().splitlines()[-6:],
            ]
            told += [str(line["MESSAGE"]) for line in LISTENER.journal()[-12:]]
            told.append(json.dumps(LISTENER.status()))
        took = time.monotonic() - begun
        with (SHARE / "results").open("a") as results:
            results.write(json.dumps({"check": name, "ok": ok, "told": told, "took": took}) + "\n")
        if needed and not ok:
            break
    with (SHARE / "results").open("a") as results:
        results.write(json.dumps({"check": "the end"}) + "\n")


if __name__ == "__main__":
    main()
