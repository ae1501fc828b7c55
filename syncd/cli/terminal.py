"""Keys from a terminal, one at a time and by name; a screen drawn over the one before."""

import contextlib
import os
import select
import sys
from collections.abc import Callable, Iterator, Sequence

_ESCAPES = {
    "[A": "up",
    "[B": "down",
    "[C": "right",
    "[D": "left",
    "OA": "up",
    "OB": "down",
    "OC": "right",
    "OD": "left",
    "[H": "first",
    "[F": "last",
    "[1~": "first",
    "[4~": "last",
    "[5~": "page up",
    "[6~": "page down",
}
"""What the keys of ECMA-48 terminals send after the escape character (common practice)."""

_PLAIN = {"\r": "right", "\n": "right", "\x7f": "rub out", "\b": "rub out", " ": "page down"}
_ENDS = frozenset({"", "\x03", "\x04"})
_WAIT_S = 0.05


def key_names(read: Callable[[], str], more: Callable[[], bool]) -> Iterator[str]:
    """The keys that *read* gives character by character, by name, until its end.

    *more* tells whether something follows at once: a lone escape is the key of that name, and
    goes back.
    """
    while True:
        character = read()
        if character in _ENDS:
            return
        if character != "\x1b":
            name = _PLAIN.get(character, character)
            if len(name) > 1 or name.isprintable():
                yield name
            continue
        sequence = ""
        while more() and len(sequence) < 8:
            sequence += read()
            if len(sequence) > 1 and (sequence[-1].isalpha() or sequence[-1] == "~"):
                break
        name = _ESCAPES.get(sequence, "" if sequence else "left")
        if name:
            yield name


@contextlib.contextmanager
def keys() -> Iterator[Iterator[str]]:
    """The keys pressed at the terminal on standard input, without waiting for a line's end."""
    import termios
    import tty

    file = sys.stdin.fileno()
    before = termios.tcgetattr(file)
    waiting: list[str] = []

    def read() -> str:
        if not waiting:
            raw = os.read(file, 1)
            while raw and raw[0] >= 0xC0 and len(raw) < 4:
                raw += os.read(file, 1)  # the rest of a character of UTF-8
                with contextlib.suppress(UnicodeDecodeError):
                    raw.decode()
                    break
            waiting.extend(raw.decode(errors="replace") or [""])
        return waiting.pop(0)

    def more() -> bool:
        return bool(waiting or select.select([file], [], [], _WAIT_S)[0])

    tty.setcbreak(file)
    try:
        yield key_names(read, more)
    finally:
        termios.tcsetattr(file, termios.TCSADRAIN, before)


def draw(lines: Sequence[str], width: int) -> str:
    """What shows *lines* on a cleared screen, each cut to *width* characters."""
    return "\x1b[H\x1b[2J" + "".join(f"{line[:width]}\r\n" for line in lines)
